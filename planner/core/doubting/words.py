"""What findings say where facts that are not known cannot change them."""

from dataclasses import replace

from inventory.core.catalogue import ProtocolRow
from planner.core.doubting.facts import lacking
from planner.core.findings import Finding, Outcome
from planner.core.rules.answers import listed
from planner.core.rules.settle import Settled
from planner.core.rules.table import BY_CODE


def failing_at_best(standing: Settled, best: Settled) -> Settled:
    """Return a case that fails even with everything that is not known at its best."""
    lacks = listed(lacking(standing))
    failing = {one.rule: one for one in best.failing}
    findings = tuple(
        replace(failing[one.rule], why=f"{failing[one.rule].why} That is at the best that may be of: {lacks}.")
        if one.rule in failing
        else one
        for one in standing.findings
    )
    return replace(standing, findings=findings)


def without_asking(standing: Settled, worst: Settled, needless: frozenset[str]) -> Settled:
    """Return a case with some facts taken at their worst, in words that say so; `worst` is it with them there."""
    case = replace(standing.case, extras=worst.case.extras, row=_row(standing, worst))
    at_worst = {one.rule: one for one in worst.findings}
    findings = tuple(
        _told(Settled(case=case, findings=()), one, at_worst[one.rule], needless) for one in standing.findings
    )
    return Settled(case=case, findings=findings, not_asked=tuple(sorted(needless)))


def _row(standing: Settled, worst: Settled) -> ProtocolRow | None:
    """Return the limits on record that belong to the bit rate of the case at its worst."""
    rate = None if worst.case.row is None else worst.case.row.bit_rate_kbit_s
    return next((row for row in standing.case.option.rows if row.bit_rate_kbit_s == rate), standing.case.row)


def _told(settled: Settled, before: Finding, worst: Finding, needless: frozenset[str]) -> Finding:
    if before.outcome is Outcome.FAIL:
        return before
    if before.outcome is not Outcome.UNKNOWN:
        return BY_CODE[before.rule].judge(settled.case)
    left = tuple(fact for fact in before.missing if fact not in needless)
    gone = listed(fact for fact in before.missing if fact in needless)
    if not gone:
        return before
    if left:
        return replace(before, missing=left, why=f"{before.why} No answer changes the verdict of: {gone}.")
    return _settled_finding(before, worst, gone)


def _settled_finding(before: Finding, worst: Finding, gone: str) -> Finding:
    """Return a pass whatever is not known, by an extra where it takes one; without figures, which nobody knows."""
    by = f" with the {worst.cured_by}" if worst.cured_by else ""
    return Finding(
        rule=before.rule,
        outcome=worst.outcome,
        why=f"Passes{by}, whatever is not known: {gone}.",
        source=before.source,
        cured_by=worst.cured_by,
    )
