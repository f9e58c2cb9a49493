"""Dates and times of many lines at once, for `ics_plain`; what is odd in any way is only flagged as not good."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.core.clocks import DAY_MIN, Minutes
from planner.core.ics_lines import CalendarError, parse_line
from planner.core.ics_rows import QUOTE, Flags, Positions, Rows
from planner.core.ics_times import HIGHEST_HOUR, HIGHEST_MINUTE, HIGHEST_SECOND, UTC_NAME, Clocks, Moment

DATE, TIME, UTC_TIME = len("20270302"), len("20270302T180000"), len("20270302T180000Z")
HIGHEST_MONTH = 12
NAMES = ("DTSTART", "DTEND")
FLOATING = 0  # number of the zone of times that are local to the building
TENS = np.array([10, 1])
Digits = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """Times as written, one a line: wall minute, second, number of its zone in `zones`, UTC minute `at`.

    `there` tells whether there is such a line at all, `good` whether it could be read.
    """

    wall: Minutes
    second: Minutes
    zone: NDArray[np.int64]
    zones: tuple[str | None, ...]
    is_date: Flags
    there: Flags
    good: Flags
    at: Minutes

    @property
    def zone_names(self) -> NDArray[np.object_]:
        """The zone of each line by name."""
        return np.array(self.zones, dtype=object)[self.zone]

    def utc(self, wall: Minutes, clocks: Clocks) -> Minutes:
        """Return the UTC minutes of other wall minutes, each told by the zone of its line."""
        return _utc(wall, self.zone, self.zones, self.good, clocks)


def read_moments(rows: Rows, at: Positions, clocks: Clocks) -> Written:
    """Return the moments of some rows, -1 standing for no row; of those not `good` nothing else counts."""
    there = at >= 0
    row = np.where(there, at, 0)
    colon = np.minimum(rows.colon[row], rows.end[row])
    width = rows.end[row] - colon - 1
    figures = rows.window(np.minimum(colon + 1, len(rows.content)), UTC_TIME) - ord("0")
    is_date = width == DATE
    good = there & np.isin(width, (DATE, TIME, UTC_TIME)) & _all_digits(figures, is_date, width)
    day, real_day = _day(figures)
    minute, second, real_time = _time(figures)
    good &= real_day & (is_date | real_time)
    zone, zones, known = _zones(rows, row, good & ~is_date, width == UTC_TIME, clocks)
    good &= known
    wall = np.where(good, day * DAY_MIN + np.where(is_date, 0, minute), 0)
    second = np.where(is_date, 0, second)
    utc = _utc(wall, zone, zones, good, clocks)
    return Written(wall=wall, second=second, zone=zone, zones=zones, is_date=is_date, there=there, good=good, at=utc)


def _all_digits(figures: Digits, is_date: Flags, width: Positions) -> Flags:
    digit = (figures >= 0) & (figures <= 9)  # noqa: PLR2004 - the digits
    timed = (figures[:, 8] == ord("T") - ord("0")) & digit[:, 9:15].all(axis=1)
    zulu = (width != UTC_TIME) | (figures[:, 15] == ord("Z") - ord("0"))
    flags: Flags = digit[:, :8].all(axis=1) & (is_date | (timed & zulu))
    return flags


def _day(figures: Digits) -> tuple[Minutes, Flags]:
    """Return days from 1970-01-01, and whether there is such a day."""
    year = figures[:, :4] @ np.array([1000, 100, 10, 1])
    month, day = figures[:, 4:6] @ TENS, figures[:, 6:8] @ TENS
    real = (year >= 1) & (month >= 1) & (month <= HIGHEST_MONTH) & (day >= 1)
    months = np.where(real, (year - 1970) * 12 + month - 1, 0).astype("datetime64[M]")
    first = months.astype("datetime64[D]").astype(np.int64)
    following = (months + 1).astype("datetime64[D]").astype(np.int64)
    return first + day - 1, real & (first + day <= following)


def _time(figures: Digits) -> tuple[Minutes, Minutes, Flags]:
    hour, minute, second = figures[:, 9:11] @ TENS, figures[:, 11:13] @ TENS, figures[:, 13:15] @ TENS
    real = (hour <= HIGHEST_HOUR) & (minute <= HIGHEST_MINUTE) & (second <= HIGHEST_SECOND)
    return hour * 60 + minute, second, real


def _zones(
    rows: Rows, row: Positions, timed: Flags, is_utc: Flags, clocks: Clocks
) -> tuple[NDArray[np.int64], tuple[str | None, ...], Flags]:
    """Return the number of each line's zone, the zones, and whether the head of the line and its zone are known."""
    heads = [
        rows.content[start:colon]
        for start, colon in zip(rows.start[row].tolist(), rows.colon[row].tolist(), strict=True)
    ]
    told = {head: _zone_told(head) for head in set(heads)}
    names: list[str | None] = [None, UTC_NAME, *sorted({name for name, _ in told.values() if name} - {UTC_NAME})]
    place = {head: number for number, head in enumerate(told)}
    head_of = np.array([place[head] for head in heads], dtype=np.int64)
    zone_of_head = np.array([names.index(name or None) for name, _ in told.values()], dtype=np.int64)
    sound = np.array([good for _, good in told.values()], dtype=bool)[head_of]
    zone = np.where(timed, np.where(is_utc, names.index(UTC_NAME), zone_of_head[head_of]), FLOATING)
    known = np.array([_is_known(name, clocks) if (zone == n).any() else True for n, name in enumerate(names)])
    return zone, tuple(names), sound & known[zone]


def _zone_told(head: bytes) -> tuple[str | None, bool]:
    """Return the zone that the head of a line names, and whether the head is sound."""
    try:
        line = parse_line(f"{head.decode()}:", 0)
    except (CalendarError, UnicodeDecodeError):
        return None, False
    zone = line.parameters.get("TZID")
    return zone, line.name in NAMES and QUOTE not in head and zone != ""


def _is_known(name: str | None, clocks: Clocks) -> bool:
    try:
        clocks.of(Moment(minute=0, zone=name))
    except CalendarError:
        return False
    return True


def _utc(wall: Minutes, zone: NDArray[np.int64], zones: tuple[str | None, ...], good: Flags, clocks: Clocks) -> Minutes:
    at = np.zeros(len(wall), dtype=np.int64)
    for number, name in enumerate(zones):
        mine = good & (zone == number)
        if mine.any():
            at[mine] = clocks.of(Moment(minute=0, zone=name)).utc(wall[mine])
    return at
