"""Laws of ways out: what is found really passes, nothing cheaper does, and the same campus gives the same answer."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from itertools import chain, combinations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from inventory.core.snapshot import Snapshot
from planner.core.bill import SegmentWork, bill
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Change, SegmentReport, WayOut
from planner.core.reliefs import ways_out
from planner.core.verdicts import assess
from tests.campuses import random_campus
from tests.laws.settings import LAW
from tests.reliefs import built, changed, priced

BRIEF = Brief()
METRE = Decimal("26.85")


@st.composite
def campuses(draw: st.DrawFn, sides: int = 60) -> Snapshot:
    """Return a campus with thin cable in its walls, long runs, lengths that hold from a conductor on, and no local supply."""
    snapshot = random_campus(draw(st.integers(0, 10**6)), draw(st.integers(4, sides)), rogue=draw(st.booleans()))
    longer = snapshot.runs.length_m * draw(st.sampled_from((1.0, 2.0, 3.0)))
    methods = tuple(
        replace(method, parts=tuple(part for part in method.parts if part.when != "local supply"))
        if draw(st.booleans())
        else method
        for method in snapshot.catalogue.methods
    )
    holds_from = draw(st.sampled_from((None, "0.3 mm2", "1 mm2")))
    protocols = tuple(replace(row, data_conductor=holds_from) for row in snapshot.catalogue.protocols)
    catalogue = replace(priced(snapshot.catalogue), methods=methods, protocols=protocols)
    return replace(snapshot, runs=replace(snapshot.runs, length_m=longer), catalogue=catalogue)


def judged(snapshot: Snapshot) -> dict[str, SegmentReport]:
    return {report.segment: report for report in assess(snapshot, BRIEF)}


def found(snapshot: Snapshot) -> dict[str, WayOut]:
    return ways_out(snapshot, assess(snapshot, BRIEF), BRIEF)


@LAW
@given(campuses())
def test_a_segment_changed_as_its_way_out_says_converts(snapshot: Snapshot) -> None:
    ways = found(snapshot)
    for segment, way in ways.items():
        if not way.passes or any(change.what == "new line" for change in way.changes):
            continue
        after = snapshot
        for one in (segment, *way.along):
            after = changed(after, ways[one]) if one in ways else after
        assert judged(after)[segment].verdict in CONVERTIBLE, (segment, way)


@LAW
@given(campuses())
def test_the_wiring_on_record_once_a_way_out_is_done_is_the_one_that_was_judged(snapshot: Snapshot) -> None:
    reports, ways = judged(snapshot), found(snapshot)
    for segment, way in ways.items():
        if not way.passes:
            continue
        after = snapshot
        for one in (segment, *way.along):
            after = built(after, reports[one], ways[one]) if one in ways else after
        assert judged(after)[segment].verdict in CONVERTIBLE, (segment, way)


@LAW
@given(campuses())
def test_every_segment_with_old_stations_that_does_not_convert_has_a_way_out_and_prices_add_up(
    snapshot: Snapshot,
) -> None:
    ways = found(snapshot)
    for segment, report in judged(snapshot).items():
        assert (segment in ways) == (report.verdict not in (*CONVERTIBLE, "leave"))
    for way in ways.values():
        prices = [change.price for change in way.changes]
        assert way.passes == (not way.still)
        assert (way.price is None) == (None in prices)
        if way.price is not None:
            assert way.price == way.priced == sum((price for price in prices if price is not None), Decimal(0))


def parts_price(snapshot: Snapshot, report: SegmentReport) -> Decimal:
    """Return what the parts of a segment cost by its report, extras included, reckoned apart from the search."""
    models = {
        key: snapshot.catalogue.models[place].key if place >= 0 else None
        for key, place in zip(snapshot.nodes.key, snapshot.nodes.model.tolist(), strict=True)
    }
    methods = {method.key: method for method in snapshot.catalogue.methods}
    work = SegmentWork(
        segment=report.segment,
        stations=tuple((models[key] or "", methods[method]) for key, method in report.methods),
        gateways=tuple((key, models[key]) for key in report.gateways),
        supplies=(),
        cable_ends=report.cable_ends,
        extras=report.extras,
    )
    prices = {part.key: part.price or Decimal(0) for part in snapshot.catalogue.parts}
    needs = bill((work,), {model.key: model.part for model in snapshot.catalogue.models})
    return sum((prices[need.part] * need.quantity for need in needs), Decimal(0))


def sets_of_changes(snapshot: Snapshot, report: SegmentReport, way: WayOut) -> Iterator[tuple[Change, ...]]:
    """Yield every set of runs to pull anew, each with and without the moves of the way out."""
    length_m = dict(zip(snapshot.runs.key, snapshot.runs.length_m.tolist(), strict=True))
    pulls = [
        Change(
            what="pull anew",
            about=run,
            words=f"{run} of 2x2 18AWG",
            price=METRE * Decimal(repr(round(length_m[run], 6))),
        )
        for run in report.runs
        if np.isfinite(length_m[run])
    ]
    moves = tuple(change for change in way.changes if change.what == "move")
    for chosen in chain.from_iterable(combinations(pulls, size) for size in range(len(pulls) + 1)):
        yield chosen
        if moves:
            yield (*moves, *chosen)


@LAW
@given(campuses(sides=30))
def test_no_cheaper_set_of_runs_and_moves_passes(snapshot: Snapshot) -> None:
    reports, ways = judged(snapshot), found(snapshot)
    for segment, way in ways.items():
        report = reports[segment]
        if way.parts is None or way.along or way.price is None or len(report.runs) > 6:
            continue
        for changes in sets_of_changes(snapshot, report, way):
            price = sum((change.price or Decimal(0) for change in changes), Decimal(0))
            after = judged(changed(snapshot, replace(way, changes=changes)))[segment]
            if after.verdict in CONVERTIBLE:
                assert way.passes, (segment, way, changes)
                total = parts_price(snapshot, after) + price
                assert way.price + way.parts <= total + Decimal("0.05"), (segment, way, changes)


@LAW
@given(campuses(sides=40))
def test_the_same_campus_gives_the_same_ways_out_one_by_one_and_all_at_once(snapshot: Snapshot) -> None:
    reports = assess(snapshot, BRIEF)
    every = ways_out(snapshot, reports, BRIEF)
    assert every == ways_out(snapshot, reports, BRIEF)
    for segment in every:
        assert ways_out(snapshot, reports, BRIEF, only=(segment,)) == {segment: every[segment]}
