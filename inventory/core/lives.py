"""From a log of failures to lives: how old each unit was when it came under watch, and when it failed or was last seen.

Convention: a day begins at midnight and a failure is at noon, so that nothing fails at age zero. The log watches from the
midnight of its first day; a unit that was older then comes under watch late, at the age it had (late entry). Outcomes:

- replaced: another unit hangs there from then on, new; its clock starts at nought;
- repaired, or not recorded: the same unit goes on at the age it had (as bad as old), the cautious reading of a blank;
- removed: nothing hangs there from then on.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import IntEnum
from typing import cast

import numpy as np
from numpy.typing import NDArray

from inventory.core.ageing import DAYS_PER_YEAR
from inventory.core.snapshot import Floats, Ints, Small

Flags = NDArray[np.bool_]
Days = NDArray[np.datetime64]
NOON = 0.5  # of a day


class Outcome(IntEnum):
    """What became of a unit that failed, as a code in columns."""

    NOT_KNOWN = -1
    REPAIRED = 0
    REPLACED = 1
    REMOVED = 2


STILL_THERE = 3  # in the column of outcomes: the day on which everything is seen for the last time
EVERY_FAILURE = frozenset(Outcome)
TAKES_A_SPARE = frozenset(Outcome) - {Outcome.REPAIRED}


@dataclass(frozen=True, slots=True, kw_only=True)
class FormerUnits:
    """What hung in a place before an order put something else there, u rows: it was taken down in working order.

    node, model : int32[u], positions. installed : datetime64[D][u], NaT not known. removed : datetime64[D][u], the day on
    which the next one was put in.
    """

    node: Ints
    model: Ints
    installed: Days
    removed: Days

    def __len__(self) -> int:
        return int(self.node.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureLog:
    """All failures on record, f rows, in any order.

    node : int32[f], positions in the nodes. day : datetime64[D][f]. outcome : int8[f], codes of Outcome. starts : the first
    day from which every failure is on record; None: the day of the earliest row. former : what hung in the places before;
    failures from before it was taken down are its own.
    """

    node: Ints
    day: Days
    outcome: Small
    starts: date | None = None
    former: FormerUnits | None = None

    def __len__(self) -> int:
        return int(self.node.size)

    def take(self, rows: Flags | Ints | NDArray[np.intp]) -> "FailureLog":
        """Return the log with these rows only."""
        return replace(self, node=self.node[rows], day=self.day[rows], outcome=self.outcome[rows])


@dataclass(frozen=True, slots=True, kw_only=True)
class Lives:
    """Spells under watch, m rows sorted by node and time, and how the n nodes stand.

    node : int32[m], positions. entry_years, exit_years : float64[m], age [a] at the begin and end of the spell. failed :
    bool[m], whether it ended in a failure. age_years : float64[n], age [a] of what hangs there, NaN not known or nothing
    there. on_wall : bool[n].
    """

    node: Ints
    entry_years: Floats
    exit_years: Floats
    failed: Flags
    age_years: Floats
    on_wall: Flags

    def __len__(self) -> int:
        return int(self.node.size)


class BadLog(ValueError):  # noqa: N818 - says what is the matter
    """A log that contradicts itself or the installations; the message names node and day."""


class FailedBeforeInstalled(BadLog):
    """A failure is dated before its node was installed."""


class TwoFailuresInADay(BadLog):
    """A node has two failures on one day."""


class FailedAfterRemoved(BadLog):
    """A node failed after it was removed."""


class FailedInFuture(BadLog):
    """A failure is dated after the day to which ages are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogProblem:
    """One row of the log that cannot be taken as it stands."""

    kind: type[BadLog]
    row: int  # position in the log as given
    node: int
    message: str


SAYING: tuple[tuple[type[BadLog], str], ...] = (
    (FailedInFuture, "{node} failed on {day}, which is after {as_of}: correct the date of the failure"),
    (
        FailedBeforeInstalled,
        "{node} failed on {day}, before it was installed on {installed}: correct one of the two dates",
    ),
    (
        FailedAfterRemoved,
        "{node} failed on {day}, after a failure with outcome removed: correct the outcome or the node",
    ),
    (TwoFailuresInADay, "{node} has two failures on {day}: one visit counts once; put both into one row"),
)


def log_problems(names: Sequence[str], installed: Days, log: FailureLog, as_of: date) -> tuple[LogProblem, ...]:
    """Return every row that contradicts the installations or the rest of the log, by node, day and kind.

    Of several rows of one node and day, the one with the weightiest outcome stands and the others are problems.

    Examples
    --------
    >>> log = FailureLog(node=np.array([0], np.int32), day=np.array(["2010-05-01"], "datetime64[D]"), outcome=np.zeros(1, np.int8))
    >>> log_problems(["S1"], np.array(["2012-01-01"], "datetime64[D]"), log, date(2027, 1, 1))[0].message
    'S1 failed on 2010-05-01, before it was installed on 2012-01-01: correct one of the two dates'

    """
    rows = np.lexsort((-log.outcome.astype(np.int64), log.day, log.node))
    node, day = log.node[rows], log.day[rows]
    wrong = dict(zip((kind for kind, _ in SAYING), _wrong_rows(installed, log.take(rows), as_of), strict=True))
    found = []
    for kind, saying in SAYING:
        for at in np.flatnonzero(wrong[kind]):
            who = int(node[at])
            words = saying.format(node=names[who], day=day[at], installed=installed[who], as_of=as_of)
            found.append(LogProblem(kind=kind, row=int(rows[at]), node=who, message=words))
    return tuple(sorted(found, key=lambda one: (one.node, one.message)))


def _wrong_rows(installed: Days, log: FailureLog, as_of: date) -> tuple[Flags, Flags, Flags, Flags]:
    """Return which rows of a sorted log are in the future, before installation, after removal, second on a day."""
    same = np.zeros(len(log), dtype=np.bool_)
    same[1:] = log.node[1:] == log.node[:-1]
    twice = same.copy()
    twice[1:] &= log.day[1:] == log.day[:-1]
    gone = np.cumsum((log.outcome == Outcome.REMOVED) & ~twice)
    before = np.concatenate(([0], gone[:-1]))
    first = np.maximum.accumulate(np.where(same, 0, np.arange(len(log))))
    after_removal = same & ~twice & (before > before[first]) if len(log) else same
    return log.day > np.datetime64(as_of), log.day < installed[log.node], after_removal, twice


def first_failures(log: FailureLog, count: int) -> Days:
    """Return the day of the first failure of each of so many nodes, NaT where it has none.

    Examples
    --------
    >>> log = FailureLog(node=np.array([0, 0], np.int32), day=np.array(["2012-05-01", "2010-05-01"], "datetime64[D]"), outcome=np.zeros(2, np.int8))
    >>> first_failures(log, 2)
    array(['2010-05-01',        'NaT'], dtype='datetime64[D]')

    """
    order = np.argsort(log.day, kind="stable")[::-1]
    found = np.full(count, np.datetime64("NaT"), dtype="datetime64[D]")
    found[log.node[order]] = log.day[order]
    return found


def sound_log(log: FailureLog, problems: tuple[LogProblem, ...]) -> FailureLog:
    """Return the log without the rows that have problems."""
    keep = np.ones(len(log), dtype=np.bool_)
    keep[[problem.row for problem in problems]] = False
    return log.take(keep)


def lives_of(
    names: Sequence[str],
    installed: Days,
    log: FailureLog,
    as_of: date,
    *,
    counting: frozenset[Outcome] = EVERY_FAILURE,
    until: Days | None = None,
) -> Lives:
    """Return the spells under watch of all nodes.

    Parameters
    ----------
    names : sequence of str, length n
        Names of the nodes, for messages.
    installed : datetime64[D], shape (n,)
        Days of installation; NaT not known: such a node is under watch from its first replacement only.
    log : FailureLog
        Failures; sound, see `log_problems` and `sound_log`.
    as_of : date
        The day on which all is seen for the last time.
    counting : set of Outcome
        Which failures end a spell: every one, or those that take a spare.
    until : datetime64[D], shape (n,), optional
        Days on which each was seen for the last time, where some were taken down before `as_of`.

    Returns
    -------
    Lives

    Raises
    ------
    FailedBeforeInstalled, TwoFailuresInADay, FailedAfterRemoved, FailedInFuture
        If a row of the log contradicts the rest.

    Examples
    --------
    >>> log = FailureLog(node=np.array([0], np.int32), day=np.array(["2020-01-01"], "datetime64[D]"),
    ...                  outcome=np.array([Outcome.REPLACED], np.int8), starts=date(2015, 1, 1))
    >>> lives = lives_of(["S1"], np.array(["2010-01-01"], "datetime64[D]"), log, date(2025, 1, 1))
    >>> lives.entry_years.round(1), lives.exit_years.round(1), lives.failed, lives.age_years.round(1)
    (array([5., 0.]), array([10.,  5.]), array([ True, False]), array([5.]))

    """
    for problem in log_problems(names, installed, log, as_of)[:1]:
        raise problem.kind(problem.message)
    ends = np.full(installed.size, np.datetime64(as_of, "D")) if until is None else until
    return _lives(installed, log, ends, counting, _watched_from(log, as_of))


def _lives(installed: Days, log: FailureLog, until: Days, counting: frozenset[Outcome], starts: float) -> Lives:
    node, day, outcome = _rows_with_end(log, _day_number(until))
    birth, opened = _births(node, day, outcome, _day_number(installed), counting)
    entry = np.maximum(opened, starts) - birth
    ends = np.isin(outcome, [int(one) for one in counting])
    keep = (ends | (outcome == STILL_THERE)) & (day - birth > entry)
    last = outcome == STILL_THERE
    age = np.full(installed.size, np.nan)
    age[node[last]] = np.maximum(day[last] - birth[last], 0.0) / DAYS_PER_YEAR
    on_wall = np.zeros(installed.size, dtype=np.bool_)
    on_wall[node[last]] = True
    return Lives(
        node=node[keep],
        entry_years=entry[keep] / DAYS_PER_YEAR,
        exit_years=(day - birth)[keep] / DAYS_PER_YEAR,
        failed=ends[keep],
        age_years=age,
        on_wall=on_wall,
    )


def _day_number(days: Days) -> Floats:
    number = days.astype("datetime64[D]").astype(np.int64).astype(np.float64)
    return np.where(np.isnat(days), np.nan, number)


def _watched_from(log: FailureLog, as_of: date) -> float:
    first = log.starts or (cast("date", log.day.min().item()) if len(log) else as_of)
    return float(np.datetime64(first, "D").astype(np.int64))


def _rows_with_end(log: FailureLog, end: Floats) -> tuple[Ints, Floats, Small]:
    """Return node, day and outcome, sorted, with one more row for each node that is still there."""
    there = np.ones(end.size, dtype=np.bool_)
    there[log.node[log.outcome == Outcome.REMOVED]] = False
    still = np.flatnonzero(there).astype(np.int32)
    node = np.concatenate((log.node, still))
    day = np.concatenate((_day_number(log.day) + NOON, end[still]))
    outcome = np.concatenate((log.outcome, np.full(still.size, STILL_THERE, dtype=np.int8)))
    rows = np.lexsort((day, outcome == STILL_THERE, node))
    return node[rows], day[rows], outcome[rows]


def _births(
    node: Ints, day: Floats, outcome: Small, installed: Floats, counting: frozenset[Outcome]
) -> tuple[Floats, Floats]:
    """Return for each row when its unit was new, and since when it has gone without a counted failure."""
    rows = np.arange(node.size)
    first = np.ones(node.size, dtype=np.bool_)
    first[1:] = node[1:] != node[:-1]
    before = np.concatenate(([-1], outcome[:-1]))
    day_before = np.concatenate(([np.nan], day[:-1]))
    new_unit = ~first & (before == Outcome.REPLACED)
    after_event = ~first & (np.isin(before, [int(one) for one in counting]) | new_unit)
    start = np.where(first, installed[node], day_before)
    birth_row = np.maximum.accumulate(np.where(first | new_unit, rows, 0))
    open_row = np.maximum.accumulate(np.where(first | after_event, rows, 0))
    return start[birth_row], start[open_row]
