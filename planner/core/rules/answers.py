"""How a rule answers: figures against a limit, in one way for all rules."""

from collections.abc import Iterable

from planner.core.findings import Finding, Outcome

SLACK = 1e-6  # figures that differ by less are the same: rounding of sums of lengths and of iterations
SHOWN = 8  # names in one sentence; the rest is counted


def names(items: Iterable[str]) -> str:
    """Return names as part of a sentence, the first few of many.

    Examples
    --------
    >>> names(["a", "b", "c"])
    'a, b and c'

    """
    items = list(items)
    if len(items) > SHOWN:
        items = [*items[:SHOWN], f"{len(items) - SHOWN} more"]
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)


def listed(facts: Iterable[str]) -> str:
    """Return facts to settle as part of a sentence, each once, in order of their words.

    Facts are set apart by semicolons, since they may hold commas and verbs of their own.

    Examples
    --------
    >>> listed(["Which run reaches S1 (Bus L1)", "Cable of run R1", "Cable of run R1"])
    'Cable of run R1; Which run reaches S1 (Bus L1)'

    """
    ordered = sorted(set(facts))
    if len(ordered) > SHOWN:
        ordered = [*ordered[:SHOWN], f"{len(ordered) - SHOWN} more"]
    return "; ".join(ordered)


def say(value: float, unit: str = "") -> str:
    """Return a figure for a sentence.

    Examples
    --------
    >>> say(12.3456, "V"), say(500.0, "m"), say(0.0412, "A")
    ('12.35 V', '500 m', '0.041 A')

    """
    digits = 2 if abs(value) >= 1 else 3
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return f"{text} {unit}".strip()


def facts_open(missing: Iterable[str]) -> str:
    """Say how many facts are not known.

    Examples
    --------
    >>> facts_open(["Draw of model A", "Draw of model A"])
    '1 fact is not known'

    """
    count = len(set(missing))
    return "1 fact is not known" if count == 1 else f"{count} facts are not known"


def passes(rule: str, why: str, source: str | None = None) -> Finding:
    """Return a pass without figures."""
    return Finding(rule=rule, outcome=Outcome.PASS, why=why, source=source)


def fails(rule: str, why: str, source: str | None = None) -> Finding:
    """Return a fail without figures."""
    return Finding(rule=rule, outcome=Outcome.FAIL, why=why, source=source)


def asks(rule: str, why: str, missing: Iterable[str], source: str | None = None) -> Finding:
    """Return an unknown with the facts to ask for, each once, in order of their words."""
    return Finding(rule=rule, outcome=Outcome.UNKNOWN, why=why, source=source, missing=tuple(sorted(set(missing))))


def at_most(  # noqa: PLR0917 - one argument a fact of the limit
    rule: str,
    what: str,
    figures: tuple[float, float],
    unit: str,
    reserve_pct: float,
    source: str | None,
    missing: Iterable[str] = (),
) -> Finding:
    """Judge a measured figure against the most it may be.

    `what` is named in the sentence. With facts missing the measured figure is the least it can be: past the limit it
    fails whatever they are, and within it nothing is settled.
    """
    measured, limit = figures
    margin = limit - measured
    missing = tuple(sorted(set(missing)))
    said = f"{what} {say(measured, unit)}, {say(limit, unit)} allowed"
    if measured > limit + SLACK:
        outcome = Outcome.FAIL
        said = f"{said}: {say(-margin, unit)} too much" + (", whatever is not known" if missing else "")
    elif missing:
        outcome = Outcome.UNKNOWN
        said = f"{what} at least {say(measured, unit)}, {say(limit, unit)} allowed; {facts_open(missing)}"
    elif margin < limit * reserve_pct / 100 - SLACK:
        outcome = Outcome.CLOSE
    else:
        outcome = Outcome.PASS
    return Finding(
        rule=rule,
        outcome=outcome,
        why=f"{said}.",
        measured=measured,
        limit=limit,
        unit=unit,
        margin=margin,
        source=source,
        missing=missing if outcome is Outcome.UNKNOWN else (),
    )


_WEIGHT = {Outcome.FAIL: 3, Outcome.UNKNOWN: 2, Outcome.CLOSE: 1, Outcome.PASS: 0}


def weight(outcome: Outcome) -> int:
    """Return how bad an outcome is, 0 for a pass."""
    return _WEIGHT[outcome]


def worst(findings: Iterable[Finding]) -> Finding:
    """Return the finding that decides: the worst outcome, of equals the one with the least left of its limit."""
    return max(findings, key=lambda one: (_WEIGHT[one.outcome], _used(one)))


def _used(finding: Finding) -> float:
    if finding.measured is None or not finding.limit:
        return 0.0
    return finding.measured / finding.limit
