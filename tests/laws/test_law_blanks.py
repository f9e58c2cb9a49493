"""The law of blanks on small lines whose catalogue and records are odd in every way at once.

Blanking a cell of a node, a run, a model or a cable never turns a verdict into in place or together, whatever the
cell said before.
"""

from dataclasses import fields, replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from inventory.core.catalogue import Cable, EndsBus, Layout, Method, Model, ProtocolRow
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Outcome
from planner.core.verdicts import assess
from tests.campuses import Draft, NodeRow, RunRow
from tests.laws.settings import LAW
from tests.unit.planner.lines import line

SPOKEN = st.sampled_from((None, "PAIRBUS", "OPENPAIR", "CAMPUSNET"))
VOLTS = st.sampled_from((None, 0.0, 12.0, 24.0, 48.0))
WATTS = st.sampled_from((None, 0.0, 0.5, 3.0, 40.0))
COUNTS = st.sampled_from((None, 0, 1, 2, 8, 12))
MODEL_FACTS: dict[str, st.SearchStrategy[Any]] = {
    "protocol": SPOKEN,
    "protocol_2": SPOKEN,
    "draw_w": WATTS,
    "lowest_supply_v": VOLTS,
    "supply_v": VOLTS,
    "supply_rating_w": WATTS,
    "unit_loads": st.sampled_from((None, 0.0, 1.0, 40.0)),
    "ends_bus": st.sampled_from((None, EndsBus.NO, EndsBus.YES, EndsBus.SWITCH)),
    "zones": COUNTS,
    "scenes": COUNTS,
    "box_gangs": st.sampled_from((None, 1, 2, 3)),
}
CABLE_FACTS: dict[str, st.SearchStrategy[Any]] = {
    "power_conductor": st.sampled_from(
        (None, "18 AWG", "22 AWG", "23 AWG", "24 AWG", "28 AWG", "0.25 mm2", "1.5 mm2", "thin")
    ),
    "power_pairs": st.sampled_from((None, -1, 0, 1, 2, 4)),
    "conductor_class": st.sampled_from((None, "solid", "stranded", "class 5", "woven")),
    "data_pairs": st.sampled_from((None, 0, 1, 3)),
    "data_conductor": st.sampled_from((None, "18 AWG", "26 AWG", "1.5 mm2", "thin")),
    "impedance_ohm": st.sampled_from((None, 62.0, 100.0, 120.0)),
    "category": st.sampled_from((None, "6")),
}
ROW_FACTS: dict[str, st.SearchStrategy[Any]] = {
    "layout": st.sampled_from((None, *Layout)),
    "longest_bus_m": st.sampled_from((None, 30.0, 500.0)),
    "total_wire_m": st.sampled_from((None, 30.0, 500.0)),
    "longest_stub_m": st.sampled_from((None, 2.0, 22.0)),
    "most_nodes": st.sampled_from((None, 2, 64)),
    "ends": st.sampled_from((None, 0, 1, 2)),
    "lowest_impedance_ohm": st.sampled_from((None, 95.0)),
    "data_conductor": st.sampled_from((None, "18 AWG", "0.25 mm2", "thin")),
    "power_on_bus": st.sampled_from((None, True, False)),
}
METHOD_FACTS: dict[str, st.SearchStrategy[Any]] = {
    "new_gateway_model": st.sampled_from((None, "GW-7")),
    "old_gateway_model": st.sampled_from((None, "GW-2")),
    "bit_rate_kbit_s": st.sampled_from((None, 125.0, 250.0)),
    "patch_cable": st.sampled_from((None, "Cat 6 patch", "2x2 24AWG")),
    "patch_lead_m": st.sampled_from((None, 0.0, 1.0)),
    "new_protocol": st.sampled_from(("OPENPAIR", "PAIRBUS")),
}
NODE_FACTS: dict[str, st.SearchStrategy[Any]] = {
    "model": st.sampled_from((None, "WS-20", "WS-21", "SN-5", "PN-1", "JB-1", "SU-3", "GW-2")),
    "ends_bus": MODEL_FACTS["ends_bus"],
    "box_gangs": MODEL_FACTS["box_gangs"],
    "zones_used": COUNTS,
    "scenes_used": COUNTS,
    "building": st.sampled_from(("B1", "B2")),
    "buses": st.sampled_from(((), ("L1",), ("L1", "B1-N0"), ("L1", "L1"))),
}
RUN_FACTS: dict[str, st.SearchStrategy[Any]] = {
    "bus": st.sampled_from((None, "L1")),
    "cable": st.sampled_from((None, "2x2 18AWG", "2x2 24AWG", "Cat 6 patch", "bell wire")),
    "length_m": st.sampled_from((None, -1.0, 0.0, 5.0, 40.0, 700.0)),
}
SHAPES = ("none", "row", "behind junction", "twin", "stub", "supply", "sensor")


def odd(draw: st.DrawFn, rows: Any, facts: dict[str, st.SearchStrategy[Any]], most: int = 2) -> list[Any]:
    """Return rows of which a few have a few cells changed."""
    found = list(rows)
    for _ in range(draw(st.integers(0, most))):
        at, cell = draw(st.integers(0, len(found) - 1)), draw(st.sampled_from(sorted(facts)))
        found[at] = replace(found[at], **{cell: draw(facts[cell])})
    return found


@st.composite
def lines(draw: st.DrawFn) -> Draft:
    """Draw one line with odd records, odd catalogue, or both."""
    draft = line()
    draft.building("B2")
    extend(draft, draw(st.sampled_from(SHAPES)))
    draft.nodes = odd(draw, draft.nodes, NODE_FACTS)
    draft.runs = odd(draw, draft.runs, RUN_FACTS)
    catalogue = draft.catalogue
    draft.catalogue = replace(
        catalogue,
        models=tuple(odd(draw, catalogue.models, MODEL_FACTS)),
        cables=tuple(odd(draw, catalogue.cables, CABLE_FACTS)),
        protocols=tuple(odd(draw, catalogue.protocols, ROW_FACTS)),
        methods=tuple(odd(draw, catalogue.methods, METHOD_FACTS)),
    )
    return draft


def extend(draft: Draft, shape: str) -> None:
    """Put something beside the station."""
    more = {"row": "WS-21", "behind junction": "WS-20", "stub": "WS-20", "supply": "SU-3", "sensor": "SN-5"}
    if shape in more:
        draft.node("X", more[shape], "L1", box_gangs=2, zones_used=4, scenes_used=4, ends_bus=EndsBus.SWITCH)
        origin = {"row": "B1-S101", "sensor": "B1-S101"}.get(shape, "L1-G")
        if shape in ("behind junction", "stub"):
            draft.node("J", "JB-1", "L1")
            draft.run(
                "R-J", "L1", ("B1-S101" if shape == "behind junction" else "L1-G", "J"), cable="2x2 18AWG", length_m=4.0
            )
            origin = "J"
        draft.run("R-X", "L1", (origin, "X"), cable="2x2 18AWG", length_m=6.0)
    if shape == "twin":
        draft.run("R-T", "L1", ("L1-G", "B1-S101"), cable="2x2 18AWG", length_m=40.0)


def cells(record: Any, keep: tuple[str, ...]) -> list[str]:
    return [one.name for one in fields(record) if one.name not in keep]


BLANKABLE: dict[str, list[str]] = {
    "models": cells(Model, ("key", "kind")),
    "cables": cells(Cable, ("key",)),
    "nodes": cells(NodeRow, ("key", "building", "failures")),
    "runs": cells(RunRow, ("key",)),
}


def blanked(draw: Any, draft: Draft) -> Draft:
    """Return the line with one cell blank."""
    table = draw(st.sampled_from(sorted(BLANKABLE)))
    cell = draw(st.sampled_from(BLANKABLE[table]))
    home: Any = draft if table in ("nodes", "runs") else draft.catalogue
    rows = list(getattr(home, table))
    at = draw(st.integers(0, len(rows) - 1))
    rows[at] = replace(rows[at], **{cell: rows[at].buses[1:] if cell == "buses" else None})
    less = replace(draft)
    if table in ("nodes", "runs"):
        setattr(less, table, rows)
    else:
        tables: dict[str, Any] = {table: tuple(rows)}
        less.catalogue = replace(draft.catalogue, **tables)
    return less


def converted(draft: Draft) -> set[str]:
    reports = assess(draft.snapshot(), Brief())
    return {name for one in reports if one.verdict in CONVERTIBLE for name in one.old_stations}


@LAW
@given(lines(), st.data())
def test_a_blank_cell_never_makes_an_odd_line_convertible(draft: Draft, data: st.DataObject) -> None:
    assert converted(blanked(data.draw, draft)) <= converted(draft)


@LAW
@given(lines())
def test_what_converts_has_every_fact_that_its_rules_need(draft: Draft) -> None:
    snapshot = draft.snapshot()
    rows = {(row.protocol, row.bit_rate_kbit_s): row for row in draft.catalogue.protocols}
    models = {model.key: model for model in draft.catalogue.models}
    methods = {method.key: method for method in draft.catalogue.methods}
    for one in assess(snapshot, Brief()):
        if one.verdict not in CONVERTIBLE:
            continue
        used = [methods[key] for _, key in one.methods]
        assert used
        assert all(finding.outcome is not Outcome.UNKNOWN for finding in one.findings)
        for method in used:
            row = rows[method.new_protocol, one.bit_rate_kbit_s]
            assert _stands(method, models, row), method
            assert row.layout is not None or f"Layout of protocol {row.protocol}" in one.not_asked
        assert one.wire_m is not None or not one.runs
        assert len(one.gateways) == 1 or one.new_protocol == "PAIRBUS"


def _stands(method: Method, models: dict[str, Model], row: ProtocolRow) -> bool:
    """Tell, by the catalogue alone, whether nothing forbids the method."""
    new = models[method.new_model]
    limits = (row.longest_bus_m, row.total_wire_m, row.farthest_pair_m)
    is_limited = row.ends is not None and any(limits)
    is_loaded = new.unit_loads is not None or row.most_unit_loads is None
    return new.speaks(method.new_protocol) and is_limited and is_loaded
