"""From a judged option to the report that every later stage, page and file uses."""

import math
from collections.abc import Iterable
from typing import Any

from inventory.core.snapshot import Snapshot
from planner.core.findings import CONVERTIBLE, Finding, LoadVoltage, SegmentReport, Verdict
from planner.core.power import PowerState
from planner.core.rules.answers import fails, listed, names
from planner.core.rules.case import Case, Member
from planner.core.rules.doubts import questions
from planner.core.rules.membership import QUIET, other_members
from planner.core.rules.settle import Settled
from planner.core.segments import Segments

Verdicted = tuple[Verdict, str | None]
_WHATEVER = "That holds whatever is not known"
_IDLE = {
    Verdict.IN_PLACE: _WHATEVER,
    Verdict.TOGETHER: _WHATEVER,
    Verdict.SURVEY_FIRST: "Not asked, since no answer changes the verdict",
}
_FAILING_ANYWAY = "Not known, and no answer would make it convertible"


def _span(segments: Segments, label: int) -> tuple[list[int], list[int], list[int]]:
    """Return the nodes, buses and runs of a segment."""
    sides = slice(segments.first_side[label], segments.first_side[label + 1])
    wires = slice(segments.first_wire[label], segments.first_wire[label + 1])
    buses = sorted(set(segments.side_bus[sides].tolist()) - {-1})
    return segments.side_node[sides].tolist(), buses, segments.run[wires].tolist()


def _identity(snapshot: Snapshot, segments: Segments, label: int) -> dict[str, Any]:
    """Return what a report says of any segment: names, building, runs and their length."""
    nodes, buses, runs = _span(segments, label)
    places = [snapshot.buses[bus].building for bus in buses] or [int(snapshot.nodes.building[node]) for node in nodes]
    known = sorted(place for place in places if place >= 0)
    lengths = [float(snapshot.runs.length_m[run]) for run in runs]
    whole = all(0 <= length < math.inf for length in lengths)  # NaN is not
    return {
        "segment": segments.key[label],
        "building": snapshot.buildings[known[0]].key if known else None,
        "buses": tuple(sorted(snapshot.buses[bus].key for bus in buses)),
        "nodes": tuple(sorted({snapshot.nodes.key[node] for node in nodes})),
        "runs": tuple(sorted(snapshot.runs.key[run] for run in runs)),
        "wire_m": round(sum(lengths), 6) if whole else None,
    }


def _by_kind(snapshot: Snapshot, segments: Segments, label: int, old: frozenset[str]) -> dict[str, Any]:
    """Return the names of gateways, old stations and others of a segment."""
    found: dict[str, list[str]] = {"gateways": [], "old_stations": [], "others": []}
    for node in sorted(set(_span(segments, label)[0])):
        place = int(snapshot.nodes.model[node])
        model = snapshot.catalogue.models[place] if place >= 0 else None
        if model is not None and model.key in old:
            found["old_stations"].append(snapshot.nodes.key[node])
        elif model is not None and model.kind == "gateway":
            found["gateways"].append(snapshot.nodes.key[node])
        elif model is None or model.kind not in QUIET:
            found["others"].append(snapshot.nodes.key[node])
    return {kind: tuple(sorted(keys)) for kind, keys in found.items()}


def leave_report(snapshot: Snapshot, segments: Segments, label: int, neighbours: tuple[str, ...]) -> SegmentReport:
    """Return the report on a segment without old stations."""
    return SegmentReport(
        **_identity(snapshot, segments, label),
        **_by_kind(snapshot, segments, label, frozenset()),
        verdict=Verdict.LEAVE,
        why="No old station here.",
        decided_by=None,
        gateway_neighbours=neighbours,
    )


def no_option_report(  # noqa: PLR0917 - what is known of a segment
    snapshot: Snapshot,
    segments: Segments,
    label: int,
    neighbours: tuple[str, ...],
    models: frozenset[str],
    doubts: tuple[str, ...],
) -> SegmentReport:
    """Return the report on a segment for whose old stations no allowed methods agree."""
    listed = names(sorted(models))
    why = f"No methods that the brief allows replace {listed} and agree on protocol, bit rate and gateway."
    verdict, decided = (Verdict.SURVEY_FIRST, "records") if doubts else (Verdict.OTHER_METHOD, "gateway")
    kinds = _by_kind(snapshot, segments, label, models)
    return SegmentReport(
        **_identity(snapshot, segments, label),
        **kinds,
        verdict=verdict,
        why="The records disagree about which wires join." if doubts else why,
        decided_by=decided,
        findings=(fails("gateway", why, "methods, brief"),),
        questions=questions(doubts),
        places=_places(snapshot, kinds["old_stations"], _span(segments, label)[0]),
        gateway_neighbours=neighbours,
    )


def _places(snapshot: Snapshot, stations: Iterable[str], nodes: Iterable[int]) -> tuple[tuple[str, str], ...]:
    """Return building and room of each station whose room is known."""
    wanted, found = set(stations), set()
    for node in nodes:
        room = int(snapshot.nodes.room[node])
        if snapshot.nodes.key[node] in wanted and room >= 0:
            where = snapshot.rooms[room]
            found.add((snapshot.buildings[where.building].key, where.key))
    return tuple(sorted(found))


def report_of(  # noqa: PLR0917 - what is known of a segment
    snapshot: Snapshot,
    segments: Segments,
    label: int,
    neighbours: tuple[str, ...],
    settled: Settled,
    verdicted: Verdicted,
) -> SegmentReport:
    """Return the report on a segment by the option that was chosen for it."""
    case = settled.case
    verdict, decided_by = verdicted
    asking = verdict is Verdict.SURVEY_FIRST
    old = tuple(sorted(member.key for member in case.old))
    return SegmentReport(
        **_identity(snapshot, segments, label),
        verdict=verdict,
        why=_why(settled, verdict, decided_by),
        decided_by=decided_by,
        old_stations=old,
        gateways=tuple(sorted({member.key for member in case.gateways})),
        others=tuple(sorted(member.key for member in other_members(case))),
        extras=tuple(sorted(case.extras)),
        questions=questions(_lacking(settled)) if asking else (),
        not_asked=_not_asked(settled, verdict),
        findings=settled.findings,
        methods=tuple(sorted((one.key, one.method.key) for one in case.old if one.method is not None)),
        new_protocol=case.option.new_protocol,
        bit_rate_kbit_s=case.row.bit_rate_kbit_s if case.row is not None else None,
        places=_places(snapshot, old, _span(segments, label)[0]),
        gateway_neighbours=neighbours,
        cable_ends=sum(wire.cable_ends for wire in case.wires),
        voltages=tuple(voltages_of(case)),
    )


def _lacking(settled: Settled) -> set[str]:
    return {fact for one in settled.unknown for fact in one.missing}


def _not_asked(settled: Settled, verdict: Verdict) -> tuple[str, ...]:
    """Return what nobody recorded and need not be asked: no answer makes it convertible, or keeps it from being so."""
    asked = _lacking(settled) if verdict is Verdict.SURVEY_FIRST else set[str]()
    return tuple(sorted(set(settled.not_asked) - asked))


def _why(settled: Settled, verdict: Verdict, decided_by: str | None) -> str:
    """Return the verdict's reason in one sentence, and in another what is not known and makes no difference."""
    needless = _not_asked(settled, verdict)
    more = f" {_IDLE.get(verdict, _FAILING_ANYWAY)}: {listed(needless)}." if needless else ""
    return f"{_reason(settled, verdict, decided_by)}{more}"


def _reason(settled: Settled, verdict: Verdict, decided_by: str | None) -> str:
    if verdict in CONVERTIBLE:
        return _convertible_why(settled.case)
    if verdict is Verdict.SURVEY_FIRST and decided_by != "records":
        return f"Everything that is known passes; to settle on site: {listed(_lacking(settled))}."
    found: Finding | None = next((one for one in settled.findings if one.rule == decided_by), None)
    return found.why if found is not None else ""


def _convertible_why(case: Case) -> str:
    count = len(case.old)
    who = "One old station" if count == 1 else f"{count} old stations"
    others = other_members(case)
    beside = f", {names(one.key for one in others)} may stay" if others else " and nothing that must move"
    with_extras = f", with {names(sorted(case.extras))}" if case.extras else ""
    return f"{who}{beside}; every rule passes{with_extras}."


def voltages_of(case: Case) -> list[LoadVoltage]:
    """Return voltage and current at each load, by name; no numbers where a fact is missing or nothing stands."""
    feed = case.feeding
    settled = feed.known and feed.state is PowerState.SOLVED
    return [_load(case, one, settled) for one in sorted(case.members, key=lambda one: one.key) if case.loads(one) != 0]


def _load(case: Case, member: Member, settled: bool) -> LoadVoltage:  # noqa: FBT001 - a fact of the case
    volts, load = case.volts_at(member), case.loads(member)
    if not settled or not volts or load is None:
        return LoadVoltage(node=member.key, voltage_v=None, current_a=None)
    return LoadVoltage(node=member.key, voltage_v=volts, current_a=load / volts)
