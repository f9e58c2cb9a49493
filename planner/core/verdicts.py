"""From findings to verdicts: what must be done with each segment of a campus.

Counting, lengths and voltages are array work over all segments at once; one case a segment and option is then judged
by the rules, and the cheapest option that converts gives the report.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from inventory.core.catalogue import Part
from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.campus import Campus
from planner.core.doubting import resolved
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict
from planner.core.rules.case import Case, Neighbour
from planner.core.rules.cases import CaseMaker, Surroundings, measure
from planner.core.rules.columns import feeds, known, may_feed
from planner.core.rules.doubts import lost_nearby
from planner.core.rules.price import price_of
from planner.core.rules.readings import readings_of
from planner.core.rules.reports import leave_report, no_option_report, report_of
from planner.core.rules.settle import Settled, settle, with_gateway_taken, with_neighbours
from planner.core.rules.table import RULES, About
from planner.core.segments import Segments, find_segments
from planner.core.staying import drawn_w, missing_of

__all__ = ["Campus", "Judged", "assess", "assess_segments", "cases_of", "judge_options", "reports_of"]
_ABOUT = {rule.code: rule.about for rule in RULES}
_RANK = {  # which of several options to report where none converts: the one that is nearest to it
    Verdict.IN_PLACE: 0,
    Verdict.TOGETHER: 0,
    Verdict.SURVEY_FIRST: 1,
    Verdict.CLEAR_FIRST: 2,
    Verdict.OTHER_METHOD: 3,
    Verdict.NEW_CABLE: 4,
    Verdict.LEAVE: 5,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One option of one segment, judged: verdict, the rule that decides, and what the option costs."""

    label: int
    settled: Settled
    verdict: Verdict
    decided_by: str | None
    parts: Mapping[str, Part]

    @property
    def price(self) -> tuple[bool, float]:
        """Return whether a price is not known, and the sum of those that are."""
        return price_of(self.settled.case, self.parts)

    @property
    def signature(self) -> tuple[str, str]:
        """Return what the segments of one gateway must agree on."""
        return self.settled.case.option.signature


def assess(snapshot: Snapshot, brief: Brief) -> tuple[SegmentReport, ...]:
    """Return one report a segment, sorted by segment key.

    Parameters
    ----------
    snapshot : Snapshot
        A campus at one moment.
    brief : Brief
        Conductor temperature, reserves, doubt reach, forbidden and preferred methods.

    Returns
    -------
    tuple of SegmentReport
        The verdict follows the first that holds: leave; survey first (membership doubtful); clear first; new cable;
        other method; survey first (a fact is missing that could change the answer); in place or together.

    """
    segments = find_segments(snapshot)
    return assess_segments(snapshot, segments, brief)


def assess_segments(snapshot: Snapshot, segments: Segments, brief: Brief) -> tuple[SegmentReport, ...]:
    """Return one report a segment for segments that were found before."""
    return reports_of(Campus(snapshot, segments, brief), range(len(segments)))


def reports_of(campus: Campus, labels: Iterable[int]) -> tuple[SegmentReport, ...]:
    """Return the reports on some segments, in the order asked for; only what bears on these is judged."""
    wanted = tuple(labels)
    final = _final(campus, wanted)
    return tuple(_report(campus, label, final.get(label)) for label in wanted)


def verdicts_of(campus: Campus, labels: Iterable[int]) -> dict[int, tuple[Verdict, str | None]]:
    """Return verdict and deciding rule of those of some segments that have options."""
    return {label: (one.verdict, one.decided_by) for label, one in _final(campus, tuple(labels)).items()}


def _final(campus: Campus, wanted: Collection[int]) -> dict[int, Judged]:
    """Return the option to report of some segments; only what bears on these is judged."""
    return _choose_all(campus, judge_options(campus, campus.with_neighbours(wanted)), wanted)


def judge_options(campus: Campus, labels: Iterable[int] | None = None) -> dict[int, list[Judged]]:
    """Return every option of some segments (or all), judged with what its gateway's change does to its other segments."""
    wanted = set(campus.models_of) if labels is None else set(labels) & campus.models_of.keys()
    return _with_gateways(campus, _judge_all(campus, campus.with_neighbours(wanted)), wanted)


def _judge_all(campus: Campus, labels: set[int]) -> dict[int, list[Judged]]:
    """Return every option of some segments, judged apart from its gateway's other segments."""
    parts = {part.key: part for part in campus.snapshot.catalogue.parts}
    found: dict[int, list[Judged]] = defaultdict(list)
    settled = [(label, settle(case)) for label, case in cases_of(campus, labels)]
    cases = partial(_cases_by_key, brief=campus.brief)
    for label, one in resolved(campus.snapshot, campus.segments, settled, cases):
        found[label].append(_judged(label, one, parts))
    return dict(found)


def _cases_by_key(snapshot: Snapshot, brief: Brief) -> Iterator[tuple[str, Case]]:
    """Yield every case of another campus with the name of its segment."""
    campus = Campus(snapshot, find_segments(snapshot), brief)
    return ((campus.segments.key[label], case) for label, case in cases_of(campus))


def cases_of(campus: Campus, labels: Collection[int] | None = None) -> Iterator[tuple[int, Case]]:
    """Yield every option of some segments (or all) as a case with all its figures, not judged yet."""
    tries = campus.tries if labels is None else campus.tries_of(labels)
    measured = measure(campus.snapshot, campus.segments, campus.brief, tries, campus.options)
    wanted = {label: campus.protocols[label] for label in tries[:, 0].tolist()}
    around = Surroundings(
        protocols=wanted,
        open_points=campus.open_points(wanted),
        lost=lost_nearby(campus.snapshot, campus.segments, wanted, campus.brief.doubt_reach),
    )
    maker = CaseMaker(campus.snapshot, campus.segments, campus.brief, campus.options, measured, around)
    readings = readings_of(campus.snapshot, campus.segments)
    for trial, label in enumerate(tries[:, 0].tolist()):
        yield label, readings.against(label, maker.case(trial))


def _judged(label: int, settled: Settled, parts: Mapping[str, Part]) -> Judged:
    verdict, decided_by = verdict_of(settled)
    return Judged(label=label, settled=settled, verdict=verdict, decided_by=decided_by, parts=parts)


def verdict_of(settled: Settled) -> tuple[Verdict, str | None]:
    """Return the verdict on a segment with old stations and the rule that decides; the first that holds."""
    failing = settled.failing
    if settled.case.doubtful:
        return Verdict.SURVEY_FIRST, "records"
    for about, verdict in (
        (About.SHARERS, Verdict.CLEAR_FIRST),
        (About.WIRES, Verdict.NEW_CABLE),
        (About.FIT, Verdict.OTHER_METHOD),
    ):
        rules = [one.rule for one in failing if _ABOUT[one.rule] is about]
        if rules:
            return verdict, rules[0]
    if settled.unknown:
        return Verdict.SURVEY_FIRST, settled.unknown[0].rule
    return (Verdict.IN_PLACE if len(settled.case.old) == 1 else Verdict.TOGETHER), None


def _with_gateways(campus: Campus, judged: dict[int, list[Judged]], wanted: Collection[int]) -> dict[int, list[Judged]]:
    """Judge the options wanted again with what its gateway's change does to the gateway's other segments."""
    final: dict[int, list[Judged]] = {}
    for label, options in judged.items():
        if label not in wanted:
            continue
        others = campus.neighbours(label)
        final[label] = [
            _judged(label, with_neighbours(one.settled, tuple(fates_of(campus, one, others, judged))), one.parts)
            for one in options
        ]
    return final


def fates_of(
    campus: Campus, one: Judged, others: Sequence[int], judged: dict[int, list[Judged]]
) -> Iterator[Neighbour]:
    """Yield what becomes of the other segments of an option's gateway."""
    case = one.settled.case
    gateways = case.gateways
    if case.option.like_for_like or len(gateways) != 1 or gateways[0].model is None:
        return
    after = gateways[0].model
    for other in others:
        protocol = campus.protocols[other]
        set_over = case.option.new_gateway is None
        name = campus.segments.key[other]
        if protocol is None:
            yield Neighbour(segment=name, fate="not known", why=f"Protocol of segment {name}")
        elif after.speaks(protocol) or (set_over and protocol != case.protocol):
            yield _staying(campus, one, other, f"speaks {protocol}")
        else:
            yield _fate_by_verdict(
                name, protocol, [two for two in judged.get(other, ()) if two.signature == one.signature]
            )


def _staying(campus: Campus, one: Judged, other: int, why: str) -> Neighbour:
    """Return a segment that stays as it is, with what it draws from the gateway that is changed beside it."""
    case, name = one.settled.case, campus.segments.key[other]
    after = case.gateways[0].model
    if after is None or not (feeds(after) or may_feed(after)):
        return Neighbour(segment=name, fate="stays", why=why)
    least, most = drawn_w(campus, np.array([other]), np.array([known(after.supply_v) or np.nan]))
    missing = missing_of(campus, other) if most[0] > least[0] else ()
    return Neighbour(segment=name, fate="stays", why=why, watt=float(least[0]), most_w=float(most[0]), missing=missing)


def _fate_by_verdict(name: str, protocol: str, options: list[Judged]) -> Neighbour:
    """Return what becomes of a segment that the changed gateway no longer serves as it is."""
    verdicts = {option.verdict for option in options}
    if verdicts & set(CONVERTIBLE):
        watt = max(one.settled.case.from_gateway_w for one in options if one.verdict in CONVERTIBLE)
        return Neighbour(segment=name, fate="converts", why="converts too", watt=watt)
    if Verdict.SURVEY_FIRST in verdicts:
        return Neighbour(segment=name, fate="not known", why=f"Can segment {name} convert in the same outage")
    why = f"stays {protocol}, itself {min(verdicts, key=_RANK.__getitem__)}" if verdicts else f"stays {protocol}"
    return Neighbour(segment=name, fate="cut off", why=why)


def _choose_all(campus: Campus, judged: dict[int, list[Judged]], wanted: Iterable[int]) -> dict[int, Judged]:
    """Return the option to report of each segment; segments of one gateway take one that suits them all."""
    agreed = _agreed(campus, judged, {gateway for label in wanted for gateway in campus.gateways.of(label)})
    preferred = frozenset(campus.brief.preferred_methods)
    final: dict[int, Judged] = {}
    for label in wanted:
        options = judged.get(label)
        if not options:
            continue
        ways = [agreed[gateway] for gateway in campus.gateways.of(label) if gateway in agreed]
        signatures = {way.signature for way in ways}
        fitting = [one for one in options if one.verdict in CONVERTIBLE and one.signature in signatures]
        final[label] = _first(fitting or [_overruled(one, ways) for one in options], preferred)
    return final


def _overruled(one: Judged, ways: list[Judged]) -> Judged:
    """Return an option as it stands where its gateway is changed in another way for other segments."""
    changed = [way.settled.case.option for way in ways if not way.settled.case.option.like_for_like]
    if one.verdict not in CONVERTIBLE or one.settled.case.option.like_for_like or not changed:
        return one
    return _judged(one.label, with_gateway_taken(one.settled, changed[0]), one.parts)


def _first(options: list[Judged], preferred: frozenset[str]) -> Judged:
    return options[0] if len(options) == 1 else min(options, key=lambda one: _order(one, preferred))


def _agreed(campus: Campus, judged: dict[int, list[Judged]], gateways: Iterable[int]) -> dict[int, Judged]:
    """Return for each gateway an option with the protocol and gateway that convert most of its segments, cheapest."""
    preferred = frozenset(campus.brief.preferred_methods)
    found: dict[int, Judged] = {}
    for gateway in gateways:
        labels = campus.gateways.labels(gateway)
        ways: dict[tuple[str, str], list[Judged]] = defaultdict(list)
        for label in labels:
            for signature, one in _best_by_signature(judged.get(label, ()), preferred).items():
                ways[signature].append(one)
        if len(ways) == 1:
            found[gateway] = next(iter(ways.values()))[0]
        elif ways:
            found[gateway] = ways[min(ways, key=lambda signature: _way_order(ways[signature], signature, preferred))][0]
    return found


def _best_by_signature(options: Iterable[Judged], preferred: frozenset[str]) -> dict[tuple[str, str], Judged]:
    best: dict[tuple[str, str], Judged] = {}
    for one in options:
        held = best.get(one.signature)
        if one.verdict in CONVERTIBLE and (held is None or _order(one, preferred) < _order(held, preferred)):
            best[one.signature] = one
    return best


def _way_order(
    ways: list[Judged], signature: tuple[str, str], preferred: frozenset[str]
) -> tuple[int, int, bool, float, tuple[str, str]]:
    liked = sum(_is_preferred(one, preferred) for one in ways)
    return -len(ways), -liked, any(one.price[0] for one in ways), sum(one.price[1] for one in ways), signature


def _is_preferred(one: Judged, preferred: frozenset[str]) -> bool:
    return any(method.key in preferred for method in one.settled.case.option.methods)


def _order(one: Judged, preferred: frozenset[str]) -> tuple[int, bool, bool, float, tuple[str, ...]]:
    """Return the order in which options are taken: what converts, what the brief prefers, what is cheap."""
    names = tuple(method.key for method in one.settled.case.option.methods)
    return (_RANK[one.verdict], not _is_preferred(one, preferred), *one.price, names)


def _report(campus: Campus, label: int, one: Judged | None) -> SegmentReport:
    neighbours = tuple(sorted(campus.segments.key[other] for other in campus.neighbours(label)))
    if label not in campus.models_of:
        return leave_report(campus.snapshot, campus.segments, label, neighbours)
    if one is None:
        left_open = campus.open_points((label,)).get(label)
        facts = tuple(left_open.facts) if left_open is not None and left_open.doubtful else ()
        models = campus.models_of[label]
        return no_option_report(campus.snapshot, campus.segments, label, neighbours, models, facts)
    return report_of(campus.snapshot, campus.segments, label, neighbours, one.settled, (one.verdict, one.decided_by))
