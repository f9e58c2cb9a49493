"""Laws that verdicts obey on any campus: a false "in place" takes a working room down."""

from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from inventory.core.catalogue import Model
from inventory.core.snapshot import Nodes, Runs, Snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Outcome, SegmentReport
from planner.core.rules.answers import weight
from planner.core.verdicts import assess
from tests.campuses import NodeRow, RunRow, random_campus
from tests.laws.settings import LAW

BRIEF = Brief()
QUANTITIES = ("layout", "length", "stubs", "voltage", "supply", "current")


@st.composite
def campuses(draw: st.DrawFn, *, sides: int = 60, rogue: bool | None = None) -> Snapshot:
    muddled = draw(st.booleans()) if rogue is None else rogue
    return random_campus(draw(st.integers(0, 10**6)), draw(st.integers(4, sides)), rogue=muddled)


def by_node(reports: tuple[SegmentReport, ...]) -> dict[str, SegmentReport]:
    """Return the report that each old station is in."""
    return {station: report for report in reports for station in report.old_stations}


def converted(reports: tuple[SegmentReport, ...]) -> set[str]:
    return {station for station, report in by_node(reports).items() if report.verdict in CONVERTIBLE}


def blanked(column: Any, place: int) -> Any:
    column = column.copy()
    column[place] = np.nan if column.dtype.kind == "f" else np.datetime64("NaT") if column.dtype.kind == "M" else -1
    return column


NODE_CELLS = ("model", "room", "ends_bus", "condition", "zones_used", "scenes_used", "box_gangs", "installed")
RUN_CELLS = ("bus", "from_node", "to_node", "cable", "length_m")
REQUIRED = {"key", "kind"}
MODEL_CELLS = tuple(field.name for field in fields(Model) if field.name not in REQUIRED)
CABLE_CELLS = ("power_conductor", "power_pairs", "conductor_class", "data_pairs", "impedance_ohm", "screened")


@LAW
@given(campuses(), st.data())
def test_blanking_a_cell_of_a_node_never_makes_a_segment_convertible(snapshot: Snapshot, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(snapshot.nodes) - 1))
    cell = data.draw(st.sampled_from((*NODE_CELLS, "bus")))
    nodes: Nodes = snapshot.nodes
    if cell == "bus":
        bus = nodes.bus.copy()
        bus[place, data.draw(st.integers(0, 1))] = -1
        blank = replace(nodes, bus=bus)
    else:
        blank = replace(nodes, **{cell: blanked(getattr(nodes, cell), place)})
    assert converted(assess(replace(snapshot, nodes=blank), BRIEF)) <= converted(assess(snapshot, BRIEF))


@LAW
@given(campuses(), st.data())
def test_blanking_a_cell_of_a_run_never_makes_a_segment_convertible(snapshot: Snapshot, data: st.DataObject) -> None:
    runs: Runs = snapshot.runs
    assume(len(runs) > 0)
    place, cell = data.draw(st.integers(0, len(runs) - 1)), data.draw(st.sampled_from(RUN_CELLS))
    blank = replace(runs, **{cell: blanked(getattr(runs, cell), place)})
    assert converted(assess(replace(snapshot, runs=blank), BRIEF)) <= converted(assess(snapshot, BRIEF))


@LAW
@given(campuses(), st.data())
def test_blanking_a_cell_of_a_model_or_cable_never_makes_a_segment_convertible(
    snapshot: Snapshot, data: st.DataObject
) -> None:
    catalogue = snapshot.catalogue
    table, cells = data.draw(st.sampled_from((("models", MODEL_CELLS), ("cables", CABLE_CELLS))))
    rows: list[Any] = list(getattr(catalogue, table))
    place, cell = data.draw(st.integers(0, len(rows) - 1)), data.draw(st.sampled_from(cells))
    rows[place] = replace(rows[place], **{cell: None})
    facts: dict[str, Any] = {table: tuple(rows)}
    blank = replace(catalogue, **facts)
    assert converted(assess(replace(snapshot, catalogue=blank), BRIEF)) <= converted(assess(snapshot, BRIEF))


def with_node(snapshot: Snapshot, row: NodeRow, run: RunRow) -> Snapshot:
    """Add a node behind the highest name, and the run that reaches it."""
    nodes, runs, catalogue = snapshot.nodes, snapshot.runs, snapshot.catalogue
    bus = [bus.key for bus in snapshot.buses].index(row.buses[0])
    model = [model.key for model in catalogue.models].index(row.model or "")
    cable = [cable.key for cable in catalogue.cables].index(run.cable or "")
    origin = list(nodes.key).index(run.from_node or "")

    def plus(column: Any, value: Any) -> Any:
        return np.append(column, np.array([value], dtype=column.dtype), axis=0)

    more = Nodes(
        key=(*nodes.key, row.key),
        building=plus(nodes.building, nodes.building[origin]),
        bus=plus(nodes.bus, [bus, -1, -1, -1]),
        model=plus(nodes.model, model),
        installed=plus(nodes.installed, np.datetime64("NaT")),
        failures=plus(nodes.failures, 0),
        zones_used=plus(nodes.zones_used, 1),
        scenes_used=plus(nodes.scenes_used, 1),
        box_gangs=plus(nodes.box_gangs, 2),
        **{cell: plus(getattr(nodes, cell), -1) for cell in ("room", "ends_bus", "condition")},
    )
    wired = Runs(
        key=(*runs.key, run.key),
        bus=plus(runs.bus, bus),
        from_node=plus(runs.from_node, origin),
        to_node=plus(runs.to_node, len(nodes)),
        cable=plus(runs.cable, cable),
        length_m=plus(runs.length_m, run.length_m),
    )
    return replace(snapshot, nodes=more, runs=wired)


@LAW
@given(campuses(), st.data())
def test_adding_a_node_never_turns_a_verdict_into_in_place(snapshot: Snapshot, data: st.DataObject) -> None:
    # what was missing may be added (a gateway, a supply, an end resistor at a bare end): such nodes are left out
    reports = [report for report in assess(snapshot, BRIEF) if report.old_stations and report.buses]
    assume(reports)
    report = data.draw(st.sampled_from(reports))
    model = data.draw(st.sampled_from(("WS-20", "WS-21", "PN-1", "SN-5", "JB-1", "WS-70", "CT-1")))
    row = NodeRow(key="~new", model=model, buses=(report.buses[0],))
    run = RunRow(
        key="~run",
        bus=report.buses[0],
        from_node=data.draw(st.sampled_from(report.nodes)),
        to_node="~new",
        cable="2x2 18AWG",
        length_m=data.draw(st.floats(0.0, 50.0)),
    )
    after = by_node(assess(with_node(snapshot, row, run), BRIEF))
    for station in report.old_stations:
        if after[station].verdict == "in place":
            assert report.verdict == "in place"


def compared(before: tuple[SegmentReport, ...], after: tuple[SegmentReport, ...]) -> Iterator[tuple[Any, Any]]:
    """Yield findings of the same rule, segment and option before and after."""
    later = {report.segment: report for report in after}
    for one in before:
        two = later[one.segment]
        if one.methods == two.methods and one.bit_rate_kbit_s == two.bit_rate_kbit_s and one.extras == two.extras:
            yield from zip(one.findings, two.findings, strict=True)


def never_better(before: tuple[SegmentReport, ...], after: tuple[SegmentReport, ...]) -> None:
    for one, two in compared(before, after):
        if one.rule in QUANTITIES:
            assert weight(two.outcome) >= weight(one.outcome) or two.outcome is Outcome.UNKNOWN, (one, two)
            if one.margin is not None and two.margin is not None and one.unit == two.unit and one.limit == two.limit:
                assert two.margin <= one.margin + 1e-5, (one, two)


@LAW
@given(campuses(rogue=False), st.data())
def test_a_longer_run_never_improves_a_finding(snapshot: Snapshot, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(snapshot.runs) - 1))
    length = snapshot.runs.length_m.copy()
    length[place] += data.draw(st.floats(0.0, 500.0))
    longer = replace(snapshot, runs=replace(snapshot.runs, length_m=length))
    never_better(assess(snapshot, BRIEF), assess(longer, BRIEF))


@LAW
@given(campuses(rogue=False), st.floats(0.0, 40.0))
def test_a_hotter_cable_never_improves_a_finding(snapshot: Snapshot, hotter_k: float) -> None:
    hot = replace(BRIEF, conductor_c=BRIEF.conductor_c + hotter_k)
    never_better(assess(snapshot, BRIEF), assess(snapshot, hot))


@LAW
@given(campuses(rogue=False), st.floats(0.0, 30.0))
def test_a_hungrier_station_never_improves_a_finding(snapshot: Snapshot, more_w: float) -> None:
    models = tuple(
        replace(model, draw_w=(model.draw_w or 0.0) + more_w) if model.key == "WS-70" else model
        for model in snapshot.catalogue.models
    )
    hungrier = replace(snapshot, catalogue=replace(snapshot.catalogue, models=models))
    never_better(assess(snapshot, BRIEF), assess(hungrier, BRIEF))


@LAW
@given(campuses(rogue=False), st.sampled_from((20, 22, 24, 26)))
def test_a_thinner_conductor_never_improves_a_finding(snapshot: Snapshot, gauge: int) -> None:
    cables = tuple(
        replace(cable, power_conductor=f"{gauge} AWG") if cable.key == "2x2 18AWG" else cable
        for cable in snapshot.catalogue.cables
    )
    thinner = replace(snapshot, catalogue=replace(snapshot.catalogue, cables=cables))
    never_better(assess(snapshot, BRIEF), assess(thinner, BRIEF))


def renamed(snapshot: Snapshot, prefix: str) -> Snapshot:
    """Give every bus, node and run another name that sorts the other way round, rows staying where they are."""
    nodes, runs = snapshot.nodes, snapshot.runs
    return replace(
        snapshot,
        buses=tuple(
            replace(bus, key=f"{prefix}{len(snapshot.buses) - place:06d}") for place, bus in enumerate(snapshot.buses)
        ),
        nodes=replace(nodes, key=tuple(f"{prefix}{len(nodes) - place:06d}" for place in range(len(nodes)))),
        runs=replace(runs, key=tuple(f"{prefix}{len(runs) - place:06d}" for place in range(len(runs)))),
    )


def essence(report: SegmentReport) -> tuple[Any, ...]:
    findings = tuple(
        (one.rule, one.outcome, one.measured, one.limit, one.cured_by, len(one.missing)) for one in report.findings
    )
    return report.verdict, report.decided_by, report.extras, report.wire_m, report.cable_ends, findings


@LAW
@given(campuses(), st.sampled_from(("x", "Ω", " ", "=1")))
def test_names_and_the_order_of_rows_change_nothing(snapshot: Snapshot, prefix: str) -> None:
    one, two = assess(snapshot, BRIEF), assess(renamed(snapshot, prefix), BRIEF)
    assert sorted(map(repr, map(essence, one))) == sorted(map(repr, map(essence, two)))


@LAW
@given(campuses(rogue=False, sides=120), st.data())
def test_a_verdict_depends_on_its_own_part_of_the_campus_only(snapshot: Snapshot, data: st.DataObject) -> None:
    before = {report.segment: report for report in assess(snapshot, BRIEF)}
    place = data.draw(st.integers(0, len(snapshot.runs) - 1))
    length = snapshot.runs.length_m.copy()
    length[place] = data.draw(st.floats(0.0, 2000.0))
    edited = replace(snapshot, runs=replace(snapshot.runs, length_m=length))
    touched = snapshot.runs.key[place]
    for report in assess(edited, BRIEF):
        near = {report.segment, *report.gateway_neighbours}
        if not any(touched in before[segment].runs for segment in near):
            assert report == before[report.segment]
