"""Recurrence rules as arrays of wall minutes (RFC 5545 section 3.3.10).

The rules that rooms live by, daily and weekly ones, are counted in arrays; any other goes through dateutil.
"""

from datetime import timedelta

import numpy as np
from dateutil.rrule import rrulestr  # type: ignore[import-untyped]
from numpy.typing import NDArray

from planner.core.clocks import DAY_MIN, EPOCH, wall_minute
from planner.core.ics_lines import CalendarError, Line

WEEKDAYS = {"MO": 0, "TU": 1, "WE": 2, "TH": 3, "FR": 4, "SA": 5, "SU": 6}
FREQUENCIES = ("HOURLY", "DAILY", "WEEKLY", "MONTHLY", "YEARLY")
_PLAIN = {"FREQ", "INTERVAL", "COUNT", "BYDAY", "WKST"}
_EPOCH_WEEKDAY = 3  # 1 January 1970 was a Thursday
_PERIOD_MIN = {
    "HOURLY": 60,
    "DAILY": DAY_MIN,
    "WEEKLY": 7 * DAY_MIN,
    "MONTHLY": 28 * DAY_MIN,
    "YEARLY": 365 * DAY_MIN,
}
_BY_LIBRARY = 10  # what one of its instances takes, against one in arrays
Minutes = NDArray[np.int64]


def rule_parts(line: Line) -> dict[str, str]:
    """Return the parts of a rule by name.

    Raises
    ------
    CalendarError
        If it is no rule, or repeats more often than hourly.

    """
    pairs = [part.partition("=") for part in line.value.strip().rstrip(";").upper().split(";")]
    parts = {name.strip(): value.strip() for name, _, value in pairs}
    if parts.get("FREQ") not in FREQUENCIES:
        raise CalendarError(line.number, f"{line.name} {line.value!r}: FREQ must be one of {', '.join(FREQUENCIES)}")
    for name in ("INTERVAL", "COUNT"):
        if not parts.get(name, "1").isdecimal() or int(parts.get(name, "1")) < 1:
            raise CalendarError(line.number, f"{line.name} {line.value!r}: {name} must be a whole number above 0")
    return parts


def repeat(line: Line, start: int, low: int, high: int) -> Minutes:
    """Return the wall minutes in [low, high) at which a rule repeats; UNTIL is left to the caller.

    Parameters
    ----------
    line : Line
        The rule.
    start, low, high : int
        First occurrence and the span asked for, wall minutes [min].

    Returns
    -------
    numpy.ndarray, shape (n,)
        Sorted wall minutes [min].

    Raises
    ------
    CalendarError
        If the rule cannot be read.

    Examples
    --------
    >>> (repeat(Line(name="RRULE", value="FREQ=DAILY;COUNT=3", number=1), 0, 0, 9999) // 1440).tolist()
    [0, 1, 2]

    """
    parts = rule_parts(line)
    parts.pop("UNTIL", None)
    if parts["FREQ"] in ("DAILY", "WEEKLY") and parts.keys() <= _PLAIN and _plain_days(parts):
        found = _daily(parts, start, high) if parts["FREQ"] == "DAILY" else _weekly(parts, start, high)
        found = found[: int(parts["COUNT"])] if "COUNT" in parts else found
        return found[(found >= low) & (found < high)]
    return _by_library(line, parts, start, low, high)


def effort_of(line: Line, start: int, high: int) -> int:
    """Return about how many instances a rule counts up to a wall minute; those that dateutil counts weigh ten times.

    Examples
    --------
    >>> effort_of(Line(name="RRULE", value="FREQ=DAILY", number=1), 0, 10 * DAY_MIN)
    10

    """
    parts = rule_parts(line)
    every = _PERIOD_MIN[parts["FREQ"]] * int(parts.get("INTERVAL", "1"))
    times = max(0, high - start) // every * (parts.get("BYDAY", "").count(",") + 1)
    if not parts.keys() <= {*_PLAIN, "UNTIL"} or parts["FREQ"] not in ("DAILY", "WEEKLY"):
        times = max(times, (high - start) // DAY_MIN) * _BY_LIBRARY if high > start else 0
    return min(times, int(parts["COUNT"])) if "COUNT" in parts else times


def _plain_days(parts: dict[str, str]) -> bool:
    days = parts.get("BYDAY")
    known = all(day in WEEKDAYS for day in days.split(",")) if days is not None else True
    return known and parts.get("WKST", "MO") in WEEKDAYS


def _daily(parts: dict[str, str], start: int, high: int) -> Minutes:
    found = np.arange(start, max(high, start), int(parts.get("INTERVAL", "1")) * DAY_MIN, dtype=np.int64)
    if "BYDAY" not in parts:
        return found
    wanted = [WEEKDAYS[day] for day in parts["BYDAY"].split(",")]
    return found[np.isin((found // DAY_MIN + _EPOCH_WEEKDAY) % 7, wanted)]


def _weekly(parts: dict[str, str], start: int, high: int) -> Minutes:
    day, minute = divmod(start, DAY_MIN)
    first = WEEKDAYS[parts.get("WKST", "MO")]
    weekday = (day + _EPOCH_WEEKDAY) % 7
    wanted = [WEEKDAYS[name] for name in parts["BYDAY"].split(",")] if "BYDAY" in parts else [weekday]
    offsets = np.unique([(name - first) % 7 for name in wanted])
    week = day - (weekday - first) % 7
    weeks = np.arange(week, max(high // DAY_MIN + 1, week), int(parts.get("INTERVAL", "1")) * 7, dtype=np.int64)
    found: Minutes = ((weeks[:, None] + offsets[None, :]) * DAY_MIN + minute).ravel()
    later: Minutes = found[found >= start]
    return later


def _by_library(line: Line, parts: dict[str, str], start: int, low: int, high: int) -> Minutes:
    text = ";".join(f"{name}={value}" for name, value in parts.items())
    try:
        rule = rrulestr(text, dtstart=EPOCH + timedelta(minutes=start))
        found = rule.between(EPOCH + timedelta(minutes=low), EPOCH + timedelta(minutes=high - 1), inc=True)
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError) as error:
        raise CalendarError(
            line.number, f"{line.name} {line.value!r} cannot be read as a rule of recurrence"
        ) from error
    return np.array([wall_minute(moment) for moment in found], dtype=np.int64)
