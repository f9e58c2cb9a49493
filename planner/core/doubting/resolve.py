"""Which facts that nobody recorded can change a verdict, and what the verdict is where none of them can.

A case that lacks facts is judged with all of them at their best: what fails even there, fails. Then those that may
pass at their worst are put there, with the others at their best and as they usually are: where everything still
passes, with the same extras as at their best, they need not be asked for; where nothing else is lacking the verdict is
settled. An extra that is needed at the worst and not at the best is a reason to ask, since it costs money.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from inventory.core.snapshot import Snapshot
from planner.core.doubting.facts import Fact, facts_of, lacking
from planner.core.doubting.ranges import End
from planner.core.doubting.variants import CasesOf, Variant, Variants
from planner.core.doubting.words import failing_at_best, without_asking
from planner.core.findings import Finding, Outcome
from planner.core.rules.settle import Settled, settle
from planner.core.rules.table import RULES
from planner.core.segments import Segments

MOST_NODES = 400  # a larger segment asks for all that it lacks
MOST_FACTS = 24  # and so does one that lacks more than this


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """One case that lacks facts: its place among all cases, its segment, the case as it stands, and the facts."""

    place: int
    label: int
    settled: Settled
    facts: tuple[Fact, ...]

    @property
    def cannot_tell(self) -> frozenset[str]:
        """Return what is lacking and has no range."""
        return lacking(self.settled) - {fact.words for fact in self.facts}

    def supposing(self, group: frozenset[Fact], end: End, others: End) -> Variant:
        """Return the case with a group of facts at one end and all others at another."""
        supposed = {fact: end if fact in group else others for fact in self.facts}
        return Variant(label=self.label, case=self.settled.case, supposed=supposed)


def resolved(
    snapshot: Snapshot, segments: Segments, settled: Sequence[tuple[int, Settled]], cases_of: CasesOf
) -> list[tuple[int, Settled]]:
    """Return judged cases with what their missing facts cannot change settled.

    Parameters
    ----------
    snapshot, segments
        The campus that the cases are of.
    settled : sequence of (segment, Settled)
        Cases as their rules judge them; those that lack nothing come back as they are.
    cases_of : callable
        Returns every case of a campus with the name of its segment.

    Returns
    -------
    list of (segment, Settled)
        In the same order.

    """
    variants = Variants(snapshot, segments, cases_of)
    subjects = [one for place, (label, case) in enumerate(settled) if (one := _subject(variants, place, label, case))]
    found = dict(enumerate(case for _, case in settled)) | dict(_resolved(variants, subjects))
    return [(label, _idle(found[place])) for place, (label, _) in enumerate(settled)]


def _idle(settled: Settled) -> Settled:
    """Return a case that fails anyway with the facts that it need not ask for.

    Who is wired to whom is not among them: what fails may hang on a node that is not there at all.
    """
    if not settled.failing or not settled.unknown:
        return settled
    return replace(settled, not_asked=tuple(fact.words for fact in facts_of(settled)))


def _subject(variants: Variants, place: int, label: int, settled: Settled) -> Subject | None:
    """Return a case to look into, None where no range can tell anything about it."""
    case = settled.case
    if settled.failing or not settled.unknown or case.doubtful:
        return None
    facts = facts_of(settled)
    tells = any(fact.range.is_tight or fact.has_worst for fact in facts)
    if not tells or len(facts) > MOST_FACTS or len(case.members) > MOST_NODES or variants.piece(label) is None:
        return None
    return Subject(place=place, label=label, settled=settled, facts=facts)


def _resolved(variants: Variants, subjects: Sequence[Subject]) -> Iterator[tuple[int, Settled]]:
    """Yield place and outcome of each case about which the ranges tell something."""
    at_best = _settled(variants, [one.supposing(frozenset(), End.BEST, End.BEST) for one in subjects])
    left = []
    for one, best in zip(subjects, at_best, strict=True):
        if best.failing:
            yield one.place, failing_at_best(one.settled, best)
        else:
            left.append(one)
    needless = _needless(variants, left)
    told = [one for one in left if needless[one.place]]
    at_worst = _settled(variants, [one.supposing(needless[one.place], End.WORST, End.BEST) for one in told])
    for one, worst in zip(told, at_worst, strict=True):
        again = without_asking(one.settled, worst, frozenset(fact.words for fact in needless[one.place]))
        if again.unknown or _holds(again):
            yield one.place, again


def _settled(variants: Variants, wanted: Sequence[Variant]) -> list[Settled]:
    return [settle(case) for case in variants.cases(wanted)]


def _holds(settled: Settled) -> bool:
    """Tell whether nothing fails where the facts are at their best, with the extras that they need at their worst."""
    cured = {one.rule for one in settled.findings if one.cured_by is not None}
    found: list[Finding] = [rule.judge(settled.case) for rule in RULES]
    return not any(one.outcome is Outcome.FAIL and one.rule not in cured for one in found)


def _needless(variants: Variants, subjects: Sequence[Subject]) -> dict[int, frozenset[Fact]]:
    """Return the facts of each case that change nothing, whatever they and the others are.

    All that may pass at their worst are tried together, then one by one, then those that passed alone together again.
    """
    found = {one.place: frozenset[Fact]() for one in subjects}
    open_ = [one for one in subjects if any(fact.has_worst for fact in one.facts)]
    groups = [(one, frozenset(fact for fact in one.facts if fact.has_worst)) for one in open_]
    passed = _harmless(variants, groups)
    found |= {one.place: group for (one, group), is_so in zip(groups, passed, strict=True) if is_so}
    rest = [(one, group) for (one, group), is_so in zip(groups, passed, strict=True) if not is_so and len(group) > 1]
    singles = [(one, frozenset({fact})) for one, group in rest for fact in sorted(group, key=lambda fact: fact.words)]
    alone: dict[int, frozenset[Fact]] = {one.place: frozenset() for one, _ in rest}
    for (one, group), is_so in zip(singles, _harmless(variants, singles), strict=True):
        if is_so:
            alone[one.place] |= group
    again = [(one, alone[one.place]) for one, _ in rest if alone[one.place]]
    found |= {one.place: group for (one, group), is_so in zip(again, _harmless(variants, again), strict=True) if is_so}
    return found


def _harmless(variants: Variants, groups: Sequence[tuple[Subject, frozenset[Fact]]]) -> list[bool]:
    """Tell for each case whether a group of its facts changes nothing, the others at their best or as usual."""
    corners = ((End.BEST, End.BEST), (End.WORST, End.BEST), (End.WORST, End.USUAL))
    found = iter(_settled(variants, [one.supposing(group, *corner) for one, group in groups for corner in corners]))
    each = zip(groups, zip(found, found, found, strict=True), strict=True)
    return [_is_harmless(one, group, *three) for (one, group), three in each]


def _is_harmless(subject: Subject, group: frozenset[Fact], best: Settled, worst: Settled, worst_usual: Settled) -> bool:
    """Tell whether nothing fails, nothing more is lacking and no other extra is needed at the worst of a group.

    What is usual of the others must not call for an extra either: it may hide what the group would.
    """
    may_lack = lacking(subject.settled) - {fact.words for fact in group}
    return all(
        not one.failing and lacking(one) <= may_lack and _means(one) == _means(best) for one in (worst, worst_usual)
    )


def _means(settled: Settled) -> tuple[frozenset[str], float | None]:
    """Return what a case needs to pass: its extras and its bit rate."""
    row = settled.case.row
    return settled.case.extras, None if row is None else row.bit_rate_kbit_s
