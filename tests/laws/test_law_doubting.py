"""Laws of what is not asked for: whatever the answers would have been, they make no difference.

The answers are written into the records by name and cell, apart from the table of ranges that the verdicts go by.
"""

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from hypothesis import assume, event, given
from hypothesis import strategies as st

from inventory.core.catalogue import ProtocolRow
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict
from planner.core.verdicts import assess
from tests.campuses import Draft
from tests.laws.settings import LAW
from tests.laws.test_law_blanks import (
    CABLE_FACTS,
    METHOD_FACTS,
    MODEL_FACTS,
    NODE_FACTS,
    ROW_FACTS,
    RUN_FACTS,
    SHAPES,
    blanked,
    extend,
)
from tests.unit.planner.lines import line, with_method, with_model, with_node

# How a report names a fact, the table that it stands in, and its cell there.
FACTS: tuple[tuple[str, str, str], ...] = (
    (r"Length of run (.+?) \(.*\)", "runs", "length_m"),
    (r"Cable of run (.+?) \(.*\)", "runs", "cable"),
    (r"Power pairs of cable (.+)", "cables", "power_pairs"),
    (r"Power conductor of cable (.+)", "cables", "power_conductor"),
    (r"Conductor and class of cable (.+)", "cables", "power_conductor"),
    (r"Data pairs of cable (.+)", "cables", "data_pairs"),
    (r"Data conductor of cable (.+)", "cables", "data_conductor"),
    (r"Impedance of cable (.+)", "cables", "impedance_ohm"),
    (r"Draw of model (.+)", "models", "draw_w"),
    (r"Lowest supply of model (.+)", "models", "lowest_supply_v"),
    (r"Supply of model (.+)", "models", "supply_v"),
    (r"Supply rating of model (.+)", "models", "supply_rating_w"),
    (r"Unit loads of model (.+)", "models", "unit_loads"),
    (r"Box gangs of model (.+)", "models", "box_gangs"),
    (r"Zones of model (.+)", "models", "zones"),
    (r"Scenes of model (.+)", "models", "scenes"),
    (r"Box gangs at (.+)", "nodes", "box_gangs"),
    (r"Zones used at (.+)", "nodes", "zones_used"),
    (r"Scenes used at (.+)", "nodes", "scenes_used"),
    (r"Patch lead of method (.+)", "methods", "patch_lead_m"),
    (r"Patch cable of (M-2[01])", "methods", "patch_cable"),
    (r"Layout of protocol (.+)", "protocols", "layout"),
)
VALUES: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "runs": RUN_FACTS,
    "cables": CABLE_FACTS,
    "models": MODEL_FACTS,
    "nodes": NODE_FACTS,
    "methods": METHOD_FACTS,
    "protocols": ROW_FACTS,
}


BLANKS: tuple[tuple[str, str, str], ...] = (  # cells whose blank may make no difference, or all of it
    *(
        ("models", "WS-70", cell)
        for cell in ("zones", "scenes", "draw_w", "lowest_supply_v", "box_gangs", "unit_loads")
    ),
    *(("models", "GW-7", cell) for cell in ("supply_v", "supply_rating_w", "ends_bus")),
    *(("cables", "2x2 18AWG", cell) for cell in ("power_conductor", "power_pairs", "data_pairs", "impedance_ohm")),
    *(("nodes", "B1-S101", cell) for cell in ("box_gangs", "zones_used", "scenes_used")),
    *(("runs", "R-B1-S101", cell) for cell in ("length_m", "cable")),
    ("methods", "M-20", "patch_lead_m"),
    ("methods", "M-20", "patch_cable"),
    ("protocols", "OPENPAIR", "layout"),
)


@st.composite
def waiting(draw: st.DrawFn) -> Draft:
    """Draw a line that most likely waits for an answer, with another blank that makes no difference."""
    draft = line(length_m=draw(st.sampled_from((5.0, 40.0, 480.0))))
    extend(draft, draw(st.sampled_from(("none", "row", "sensor"))))
    draft = with_node(draft, "B1-S101", zones_used=0, scenes_used=0)
    needless = draw(st.sampled_from((("protocols", "OPENPAIR", "layout"), ("models", "WS-70", "scenes"))))
    asked = draw(st.lists(st.sampled_from(BLANKS), min_size=1, max_size=3, unique=True))
    for table, key, cell in (needless, *asked):
        draft = changed(draft, table, key, cell, None)
    return draft


@st.composite
def gaps(draw: st.DrawFn) -> Draft:
    """Draw a line, often with nothing in use and a station hard to please, with a few cells blank."""
    draft = line(length_m=draw(st.sampled_from((0.0, 5.0, 40.0, 480.0))))
    extend(draft, draw(st.sampled_from(SHAPES)))
    used = draw(st.sampled_from((0, 0, 4)))
    draft = with_node(draft, "B1-S101", zones_used=used, scenes_used=used)
    draft = with_model(draft, "WS-70", lowest_supply_v=draw(st.sampled_from((12.0, 12.0, 23.9, 130.0))))
    if draw(st.booleans()):
        draft = with_method(draft, "M-20", parts=())
    for table, key, cell in draw(st.lists(st.sampled_from(BLANKS), min_size=1, max_size=4, unique=True)):
        draft = changed(draft, table, key, cell, None)
    return blanked(draw, draft) if draw(st.integers(0, 3)) == 0 else draft


def changed(draft: Draft, table: str, key: str, cell: str, value: Any) -> Draft:
    """Return a line with a cell of a row changed; limits that are on record are not answered anew."""
    draft = replace(draft)
    home: Any = draft if table in ("nodes", "runs") else draft.catalogue
    rows = [
        replace(row, **{cell: value})
        if name_of(row) == key and (value is None or table != "protocols" or getattr(row, cell) is None)
        else row
        for row in getattr(home, table)
    ]
    if table in ("nodes", "runs"):
        setattr(draft, table, rows)
    else:
        tables: dict[str, Any] = {table: tuple(rows)}
        draft.catalogue = replace(draft.catalogue, **tables)
    return draft


def name_of(row: Any) -> str:
    return str(row.protocol if isinstance(row, ProtocolRow) else row.key)


def answered(draw: Any, draft: Draft, facts: Iterable[str]) -> Draft:
    """Return the line with an answer, any that a cell can hold, to each of some facts."""
    for words in facts:
        for pattern, table, cell in FACTS:
            if found := re.fullmatch(pattern, words):
                value = draw(VALUES[table][cell].filter(lambda one: one is not None))
                draft = changed(draft, table, found[1], cell, value)
    return draft


def judged(draft: Draft) -> SegmentReport:
    return next(one for one in assess(draft.snapshot(), Brief()) if "B1-S101" in one.old_stations)


def has_it(draft: Draft) -> bool:
    return any(row.key == "B1-S101" and row.model in ("WS-20", "WS-21") for row in draft.nodes)


@LAW
@given(gaps(), st.data())
def test_whatever_is_not_asked_for_the_verdict_stays(draft: Draft, data: st.DataObject) -> None:
    assume(has_it(draft))
    before = judged(draft)
    assume(before.not_asked)
    event(str(before.verdict))
    after = judged(answered(data.draw, draft, before.not_asked))
    assert (after.verdict in CONVERTIBLE) == (before.verdict in CONVERTIBLE)
    if before.verdict in CONVERTIBLE:
        assert (after.extras, after.bit_rate_kbit_s) == (before.extras, before.bit_rate_kbit_s)
    if before.verdict is Verdict.SURVEY_FIRST:
        assert after.verdict is Verdict.SURVEY_FIRST


@LAW
@given(waiting(), st.data())
def test_what_was_not_asked_for_is_not_asked_for_once_the_rest_is_answered(draft: Draft, data: st.DataObject) -> None:
    assume(has_it(draft))
    before = judged(draft)
    assume(before.verdict is Verdict.SURVEY_FIRST and before.not_asked)
    after = judged(answered(data.draw, draft, (one.removesuffix("?") for one in before.questions)))
    assert not {f"{one}?" for one in before.not_asked} & set(after.questions)
