"""Dates, times and durations of a calendar file, and the clocks they are told by (RFC 5545 section 3.3)."""

import re
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

import icalendar
import numpy as np
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from planner.core.clocks import DAY_MIN, Clock, ZoneError, clock_from, clock_of, day_minute
from planner.core.ics_lines import CalendarError, Component, Line, raw_lines

UTC_NAME = "UTC"
_MOMENT = re.compile(r"(\d{4})(\d\d)(\d\d)(?:T(\d\d)(\d\d)(\d\d)(Z)?)?")
_DURATION = re.compile(r"([+-]?)P(?:(\d+)W)?(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?")
HIGHEST_HOUR, HIGHEST_MINUTE, HIGHEST_SECOND = 23, 59, 60  # 60: a leap second


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A time as written: wall minute and second, zone (None: floating, local to the building), or a whole day."""

    minute: int
    second: int = 0
    zone: str | None = None
    is_date: bool = False
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clocks:
    """Clocks by name of zone: `own` to one file (its building's under None), `shared` filled as zones are met."""

    own: dict[str | None, Clock]
    shared: dict[str, Clock]

    def utc(self, moment: Moment) -> int:
        """Return the UTC minute of a moment.

        Raises
        ------
        CalendarError
            If its zone is not known.

        """
        return int(self.of(moment).utc(np.array([moment.minute]))[0])

    def of(self, moment: Moment) -> Clock:
        """Return the clock a moment is told by."""
        if moment.zone is None or moment.zone in self.own:
            return self.own[moment.zone]
        if moment.zone not in self.shared:
            self.shared[moment.zone] = _found(moment.zone, moment.line)
        return self.shared[moment.zone]


def own_clocks(
    content: bytes, zones: tuple[Component, ...], building: Clock, years: tuple[int, int]
) -> dict[str | None, Clock]:
    """Return the building's clock under None, and those that a file defines and nobody else knows."""
    own: dict[str | None, Clock] = {None: building}
    for zone in zones:
        name = zone.one("TZID")
        if name is not None and not _is_known(name.value):
            own[name.value] = _defined(content, zone, name.value, years)
    return own


def _is_known(name: str) -> bool:
    try:
        ZoneInfo(WINDOWS_TO_OLSON.get(name, name))
    except (KeyError, ValueError, OSError):
        return False
    return True


def _found(name: str, line: int) -> Clock:
    try:
        return clock_of(WINDOWS_TO_OLSON.get(name, name))
    except ZoneError as error:
        raise CalendarError(line, f"{error}; neither the file nor the IANA list defines it") from error


def _defined(content: bytes, zone: Component, name: str, years: tuple[int, int]) -> Clock:
    try:
        block = icalendar.Component.from_ical(raw_lines(content, zone))
        if not isinstance(block, icalendar.Timezone):
            raise CalendarError(zone.first, f"the time zone {name!r} cannot be read")  # noqa: TRY301
        return clock_from(name, block.to_tz(lookup_tzid=False), *years)
    except (ValueError, KeyError, TypeError, AttributeError, IndexError) as error:
        raise CalendarError(zone.first, f"the time zone {name!r} cannot be read") from error


def moment_of(line: Line, value: str | None = None) -> Moment:
    """Return the moment a line holds.

    Raises
    ------
    CalendarError
        If it is no date and no time.

    Examples
    --------
    >>> moment = moment_of(Line(name="DTSTART", value="19700102T013000Z", number=1))
    >>> moment.minute, moment.zone
    (1530, 'UTC')

    """
    text = (line.value if value is None else value).strip()
    match = _MOMENT.fullmatch(text)
    if not match:
        raise CalendarError(
            line.number, f"{line.name} {text!r} is neither a date (20270302) nor a time (20270302T180000)"
        )
    try:
        midnight = day_minute(date(int(match[1]), int(match[2]), int(match[3])))
    except ValueError as error:
        raise CalendarError(line.number, f"{line.name} {text!r}: there is no such day") from error
    if match[4] is None:
        return Moment(minute=midnight, is_date=True, line=line.number)
    hour, minute, second = int(match[4]), int(match[5]), int(match[6])
    if hour > HIGHEST_HOUR or minute > HIGHEST_MINUTE or second > HIGHEST_SECOND:
        raise CalendarError(line.number, f"{line.name} {text!r}: there is no such time of day")
    zone = UTC_NAME if match[7] else line.parameters.get("TZID")
    return Moment(minute=midnight + hour * 60 + minute, second=second, zone=zone, line=line.number)


def duration_of(line: Line, value: str | None = None) -> tuple[int, int]:
    """Return (days as minutes, hours and less as minutes, rounded up) of a duration; days are those of the calendar.

    Raises
    ------
    CalendarError
        If it is no duration, or below zero.

    Examples
    --------
    >>> duration_of(Line(name="DURATION", value="P1DT1H30S", number=1))
    (1440, 61)

    """
    text = (line.value if value is None else value).strip()
    match = _DURATION.fullmatch(text)
    if not match or match[1] == "-" or not any(match.groups()[1:]):
        raise CalendarError(line.number, f"{text!r} is no duration such as PT1H30M")
    weeks, days, hours, minutes, seconds = (int(group or 0) for group in match.groups()[1:])
    return (weeks * 7 + days) * DAY_MIN, hours * 60 + minutes + -(-seconds // 60)
