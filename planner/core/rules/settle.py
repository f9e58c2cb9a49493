"""One case, judged by all rules, with the extras that cure what fails."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from planner.core.findings import Finding, Outcome
from planner.core.rules.answers import SLACK, asks
from planner.core.rules.case import Case, Neighbour
from planner.core.rules.membership import judge_gateway_among, judge_taken_gateway
from planner.core.rules.options import Option
from planner.core.rules.table import RATE, RULES, Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A case with its extras and lower bit rate put in, and one finding a rule in the order of RULES.

    A finding that failed before the extras keeps saying so, with the extra that cures it. `not_asked` are facts that
    nobody recorded and that cannot change the verdict.
    """

    case: Case
    findings: tuple[Finding, ...]
    not_asked: tuple[str, ...] = ()

    @property
    def failing(self) -> tuple[Finding, ...]:
        """Return the findings that fail and that nothing cures."""
        return tuple(one for one in self.findings if one.outcome is Outcome.FAIL and one.cured_by is None)

    @property
    def unknown(self) -> tuple[Finding, ...]:
        """Return the findings that lack a fact."""
        return tuple(one for one in self.findings if one.outcome is Outcome.UNKNOWN)

    @property
    def stands(self) -> bool:
        """Tell whether nothing fails and nothing is unknown."""
        return not self.failing and not self.unknown


def settle(case: Case) -> Settled:
    """Judge a case by every rule; put in what cures what fails."""
    before = _with_open_rate(case, [rule.judge(case) for rule in RULES])
    failing = [rule for rule, one in zip(RULES, before, strict=True) if one.outcome is Outcome.FAIL]
    cured = _cured(case, [rule for rule in failing if rule.cures])
    if cured is case:
        return Settled(case=case, findings=before)
    cured = _pruned(cured)
    return Settled(case=cured, findings=_with_open_rate(cured, _after_cure(case, cured, before)))


def _with_open_rate(case: Case, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Ask for the bit rate where it is not known and a rule fails at the highest but not at the lowest."""
    if not case.option.rate_open:
        return tuple(findings)
    slow, fact = replace(case, row=case.option.rows[-1]), f"Bit rate of {case.segment}"
    return tuple(
        asks(one.rule, f"At the highest bit rate: {one.why}", (fact,), one.source)
        if one.outcome is Outcome.FAIL and one.cured_by is None and rule.judge(slow).outcome is not Outcome.FAIL
        else one
        for rule, one in zip(RULES, findings, strict=True)
    )


def _cured(case: Case, failing: list[Rule]) -> Case:
    """Return the case with one cure for each failing rule that has one; the same case where none has."""
    for rule in failing:
        if rule.judge(case).outcome is not Outcome.FAIL:
            continue
        better = (one for one in _with_cures(case, rule) if rule.judge(one).outcome is not Outcome.FAIL)
        case = next(better, case)
    return case


def _with_cures(case: Case, rule: Rule) -> Iterator[Case]:
    for extra in rule.cures:
        if extra == RATE:
            for row in () if case.option.rate_named else case.option.rows[1:]:
                if _slower(case, row.bit_rate_kbit_s):
                    yield replace(case, row=row, extras=case.extras | {RATE})
        elif extra in case.option.extras:
            yield replace(case, extras=case.extras | {extra})


def _slower(case: Case, rate: float | None) -> bool:
    if case.row is None or rate is None:
        return False
    return case.row.bit_rate_kbit_s is None or rate < case.row.bit_rate_kbit_s - SLACK


def _pruned(cured: Case) -> Case:
    """Leave out extras that the others make needless."""
    wrong = _failures(cured)
    for extra in sorted(cured.extras - {RATE}):
        without = replace(cured, extras=cured.extras - {extra})
        if len(cured.extras) > 1 and _failures(without) <= wrong:
            cured = without
    return cured


def _failures(case: Case) -> frozenset[str]:
    return frozenset(rule.code for rule in RULES if rule.judge(case).outcome is Outcome.FAIL)


def _after_cure(case: Case, cured: Case, before: tuple[Finding, ...]) -> Iterator[Finding]:
    for rule, old in zip(RULES, before, strict=True):
        new = rule.judge(cured)
        if old.outcome is Outcome.FAIL and new.outcome in (Outcome.PASS, Outcome.CLOSE):
            yield replace(old, cured_by=_cure(rule, case, cured))
        else:
            yield new


def _cure(rule: Rule, case: Case, cured: Case) -> str:
    put_in = [extra for extra in rule.cures if extra in cured.extras - case.extras]
    return put_in[0] if put_in else min(cured.extras - case.extras)


def with_neighbours(settled: Settled, neighbours: tuple[Neighbour, ...]) -> Settled:
    """Return the same with the rule about the gateway judged by what becomes of its other segments."""
    return _with(settled, judge_gateway_among(settled.case, neighbours))


def with_gateway_taken(settled: Settled, other: Option) -> Settled:
    """Return the same with the rule about the gateway failing: the gateway is changed by another option."""
    return _with(settled, judge_taken_gateway(settled.case, other))


def _with(settled: Settled, again: Finding) -> Settled:
    findings = tuple(again if one.rule == again.rule else one for one in settled.findings)
    return replace(settled, findings=findings)
