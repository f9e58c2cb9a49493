"""What `settle` does to one case, done to all trials at once: extras that cure what fails, then the verdict's codes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.core.rules.answers import SLACK
from planner.core.rules.asking import CLOSE, FAIL, UNKNOWN
from planner.core.rules.options import Option
from planner.core.rules.screen import BIT, NONE, SCREENS, Codes, Flags, Longs, Screen, State
from planner.core.rules.table import LOCAL, RATE, RULES, Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """What is open to each trial: extras (bits), rows at lower bit rates, and whether the rate must be asked for."""

    extras: Longs
    rows: Longs  # int64[t, m], NONE behind the last
    rate_named: Flags
    rate_open: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcomes:
    """Of each trial the outcome of each rule, int8[rules, t], which of them an extra cures, and its row and extras."""

    code: Codes
    cured: Flags
    state: State


def open_to(screen: Screen, options: Sequence[Option]) -> Open:
    """Return what is open to each trial."""
    option = screen.tally.option
    bits = [sum(BIT[extra] for extra in one.extras & BIT.keys()) for one in options]
    return Open(
        extras=np.array(bits, dtype=np.int64)[option],
        rows=screen.limits.rows_of[option],
        rate_named=np.array([one.rate_named for one in options])[option],
        rate_open=np.array([one.rate_open for one in options])[option],
    )


def judge_all(screen: Screen, state: State) -> Codes:
    """Return the outcome of every rule for some trials, int8[rules, t]."""
    return np.array([SCREENS[rule.code](screen, state) for rule in RULES], dtype=np.int8).reshape(len(RULES), -1)


def bare(open_: Open) -> State:
    """Return every trial at the first row of its protocol and without extras."""
    count = len(open_.extras)
    return State(at=np.arange(count), row=open_.rows[:, 0].copy(), extras=np.zeros(count, dtype=np.int64))


def may_need_local(code: Codes, open_: Open) -> Longs:
    """Return the trials that fail a rule which local supplies may cure."""
    rules = [place for place, rule in enumerate(RULES) if LOCAL in rule.cures]
    return np.flatnonzero((code[rules] == FAIL).any(axis=0) & ((open_.extras & BIT[LOCAL]) > 0))


def settle_all(screen: Screen, open_: Open, code: Codes) -> Outcomes:
    """Return the outcome of every rule on every trial, with the extras that cure what fails put in.

    `code` : the outcomes of the bare trials.
    """
    state, cured = bare(open_), np.zeros(code.shape, dtype=bool)
    _ask_for_rate(screen, open_, state, code, cured)
    at = np.flatnonzero(_curable(code, open_))
    after = _pruned(screen, _with_cures(screen, open_, _some(state, at), code[:, at]))
    changed = after.extras > 0
    after, at = _some(after, np.flatnonzero(changed)), at[changed]
    again = judge_all(screen, after)
    fixed = (code[:, at] == FAIL) & (again <= CLOSE)
    again[fixed] = FAIL
    _ask_for_rate(screen, open_, after, again, fixed)
    code[:, at], cured[:, at] = again, fixed
    state.row[at], state.extras[at] = after.row, after.extras
    return Outcomes(code=code, cured=cured, state=state)


def _some(state: State, places: Longs) -> State:
    return State(at=state.at[places], row=state.row[places], extras=state.extras[places])


def _curable(code: Codes, open_: Open) -> Flags:
    """Tell which trials fail a rule that something open to them may cure."""
    slower = ~open_.rate_named & (open_.rows.shape[1] > 1)
    found = np.zeros(code.shape[1], dtype=bool)
    for place, rule in enumerate(RULES):
        for extra in rule.cures:
            is_open = slower if extra == RATE else (open_.extras & BIT[extra]) > 0
            found |= (code[place] == FAIL) & is_open
    return found


def _ask_for_rate(screen: Screen, open_: Open, state: State, code: Codes, cured: Flags) -> None:
    """Call unknown what fails at the highest bit rate and not at the lowest, where the rate is not known."""
    at = np.flatnonzero(open_.rate_open[state.at])
    if not len(at):
        return
    rows = open_.rows[state.at[at]]
    last = rows[np.arange(len(at)), np.count_nonzero(rows != NONE, axis=1) - 1]
    slow = judge_all(screen, replace(_some(state, at), row=last))
    part = code[:, at]
    part[(part == FAIL) & ~cured[:, at] & (slow != FAIL)] = UNKNOWN
    code[:, at] = part


def _with_cures(screen: Screen, open_: Open, state: State, before: Codes) -> State:
    """Return the state with one cure for each failing rule that has one."""
    for place, rule in enumerate(RULES):
        failing = np.flatnonzero(before[place] == FAIL) if rule.cures else np.empty(0, dtype=np.int64)
        failing = failing[SCREENS[rule.code](screen, _some(state, failing)) == FAIL]
        for extra, step in _ways(rule, open_):
            if not len(failing):
                break
            failing = failing[~_cure(screen, rule, state, failing, _better(screen, open_, state, failing, extra, step))]
    return state


def _ways(rule: Rule, open_: Open) -> Iterator[tuple[str, int]]:
    """Yield the cures of a rule in the order in which they are tried, a lower bit rate once for each row behind the first."""
    for extra in rule.cures:
        yield from ((extra, step) for step in (range(1, open_.rows.shape[1]) if extra == RATE else (0,)))


def _better(  # noqa: PLR0917 - a way and what it is open to
    screen: Screen, open_: Open, state: State, failing: Longs, extra: str, step: int
) -> tuple[Longs, State]:
    """Return to which of the failing a way is open, and their state with it."""
    at, row = state.at[failing], state.row[failing]
    if extra == RATE:
        lower, rate = open_.rows[at, step], screen.limits.rate
        is_open = (lower != NONE) & (row != NONE) & ~open_.rate_named[at] & np.isfinite(rate[lower])
        is_open &= rate[lower] < rate[row] - SLACK
        row = lower
    else:
        is_open = (open_.extras[at] & BIT[extra]) > 0
    chosen = np.flatnonzero(is_open)
    extras = state.extras[failing[chosen]] | BIT[extra]
    return chosen, State(at=at[chosen], row=row[chosen], extras=extras)


def _cure(screen: Screen, rule: Rule, state: State, failing: Longs, way: tuple[Longs, State]) -> Flags:
    """Put a way in where a rule does not fail any more with it, and tell where that is."""
    chosen, better = way
    cured = np.zeros(len(failing), dtype=bool)
    good = SCREENS[rule.code](screen, better) != FAIL
    cured[chosen[good]] = True
    state.row[failing[cured]], state.extras[failing[cured]] = better.row[good], better.extras[good]
    return cured


def _pruned(screen: Screen, state: State) -> State:
    """Leave out extras that the others make needless."""
    wrong = judge_all(screen, state) == FAIL
    for extra in sorted(BIT.keys() - {RATE}):
        at = np.flatnonzero(state.has(extra) & (state.extras != BIT[extra]))
        part = _some(state, at)
        without = replace(part, extras=part.extras & ~BIT[extra])
        needless = ~((judge_all(screen, without) == FAIL) & ~wrong[:, at]).any(axis=0)
        state.extras[at[needless]] = without.extras[needless]
    return state
