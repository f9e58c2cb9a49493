"""Local clocks: minutes on the wall of a building against minutes of UTC, over changes of the clock.

A wall time that does not exist is read with the offset before the change, one that occurs twice as the first of the
two (RFC 5545 section 3.3.5; the same as `fold=0` of PEP 495).
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - a wall clock has no zone
EPOCH_UTC = datetime(1970, 1, 1, tzinfo=UTC)
DAY_MIN = 24 * 60
FIRST_YEAR, LAST_YEAR = 1970, 2100
Minutes = NDArray[np.int64]


class ZoneError(ValueError):
    """A time zone nobody knows; `name` is what was written."""

    def __init__(self, name: str) -> None:
        super().__init__(f"there is no time zone {name!r}")
        self.name = name


def wall_minute(moment: datetime) -> int:
    """Return a wall time as minutes from 1970-01-01 00:00 of the same clock, seconds cut off."""
    return int((moment.replace(tzinfo=None) - EPOCH) // timedelta(minutes=1))


def day_minute(day: date) -> int:
    """Return the midnight that begins a day as a wall minute."""
    return (day - EPOCH.date()).days * DAY_MIN


def utc_minute(instant: datetime) -> int:
    """Return an aware instant as minutes from 1970-01-01 00:00 UTC, seconds cut off."""
    return int((instant - EPOCH_UTC) // timedelta(minutes=1))


def instant_of(minute: int) -> datetime:
    """Return the aware instant in UTC of a minute from 1970-01-01 00:00 UTC."""
    return EPOCH_UTC + timedelta(minutes=minute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Offsets of one zone: `offset_min[i + 1]` holds from the wall minute `from_wall[i]` on, `offset_min[0]` before."""

    name: str
    from_wall: Minutes
    offset_min: Minutes

    def utc(self, wall: Minutes) -> Minutes:
        """Return UTC minutes of wall minutes.

        Parameters
        ----------
        wall : int array, any shape
            Minutes from 1970-01-01 00:00 on the wall [min].

        Returns
        -------
        numpy.ndarray, same shape
            Minutes from 1970-01-01 00:00 UTC [min].

        References
        ----------
        RFC 5545 section 3.3.5, FORM #3: New York, 11 March 2007 02:30 is 07:30Z, 4 November 2007 01:30 is 05:30Z.

        Examples
        --------
        >>> clock = clock_of("America/New_York")
        >>> walls = [datetime(2007, 3, 11, 2, 30), datetime(2007, 11, 4, 1, 30)]
        >>> [str(instant_of(int(m))) for m in clock.utc(np.array([wall_minute(w) for w in walls]))]
        ['2007-03-11 07:30:00+00:00', '2007-11-04 05:30:00+00:00']

        """
        return wall - self.offset_min[np.searchsorted(self.from_wall, wall, side="right")]


@cache  # a quarter of a second each, and a campus has few
def clock_of(name: str) -> Clock:
    """Return the clock of an IANA time zone.

    Raises
    ------
    ZoneError
        If there is no such zone.

    """
    try:
        zone = ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise ZoneError(name) from error
    return clock_from(name, zone)


def clock_from(name: str, zone: tzinfo, first_year: int = FIRST_YEAR, last_year: int = LAST_YEAR) -> Clock:
    """Return the clock of any zone object, by its offsets over some years; beyond them the nearest known one holds."""
    midnights = range(day_minute(date(first_year, 1, 1)), day_minute(date(last_year, 1, 1)), DAY_MIN)
    daily = [_offset(zone, minute) for minute in midnights]
    changes = [
        _change(zone, minute, minute + DAY_MIN)
        for minute, today, tomorrow in zip(midnights, daily, daily[1:], strict=False)
        if today != tomorrow
    ]
    return Clock(
        name=name,
        from_wall=np.array([at + max(before, after) for at, before, after in changes], dtype=np.int64),
        offset_min=np.array([daily[0], *(after for _, _, after in changes)], dtype=np.int64),
    )


def _offset(zone: tzinfo, minute: int) -> int:
    """Return the offset from UTC [min] that holds at a UTC minute."""
    local = instant_of(minute).astimezone(zone)
    offset = local.utcoffset()
    return 0 if offset is None else round(offset.total_seconds() / 60)


def _change(zone: tzinfo, low: int, high: int) -> tuple[int, int, int]:
    """Return (UTC minute, offset before, offset after) of the change between two minutes, by halving."""
    before, after = _offset(zone, low), _offset(zone, high)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if _offset(zone, middle) == before else (low, middle)
    return high, before, after
