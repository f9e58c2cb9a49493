"""Events of a calendar file, line by line: when each starts, how long it lasts, how it repeats, whether it is busy."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from planner.core.clocks import DAY_MIN
from planner.core.ics_lines import CalendarError, Component, Line
from planner.core.ics_times import Clocks, Moment, duration_of, moment_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One VEVENT. It ends at the later of UTC start + `exact_min` and the UTC of wall start + `days_min`, + `rest_min`."""

    uid: str
    start: Moment
    exact_min: int
    days_min: int
    rest_min: int
    busy: bool
    moves: Moment | None
    rule: Line | None
    extra: tuple[Line, ...]
    without: tuple[Line, ...]


def event_of(part: Component, clocks: Clocks) -> Event:
    """Return an event as its lines tell of it.

    Raises
    ------
    CalendarError
        If it has no start, or a line of it cannot be read.

    """
    starts = part.one("DTSTART")
    if starts is None:
        raise CalendarError(part.first, "the VEVENT has no DTSTART")
    start = moment_of(starts)
    exact, days, rest = _length(part, start, clocks)
    status, transparent, moves, uid = (part.one(name) for name in ("STATUS", "TRANSP", "RECURRENCE-ID", "UID"))
    free = (status and status.value.strip().upper() == "CANCELLED") or (
        transparent and transparent.value.strip().upper() == "TRANSPARENT"
    )
    return Event(
        uid=uid.value if uid else f"line {part.first}",
        start=start,
        exact_min=exact,
        days_min=days,
        rest_min=rest,
        busy=not free,
        moves=moment_of(moves) if moves else None,
        rule=part.one("RRULE"),
        extra=part.all("RDATE"),
        without=part.all("EXDATE"),
    )


def _length(part: Component, start: Moment, clocks: Clocks) -> tuple[int, int, int]:
    """Return exact length, length in wall days, and what is added to those [min]; ends are rounded up."""
    ends, lasts = part.one("DTEND"), part.one("DURATION")
    if ends is not None and lasts is not None:
        raise CalendarError(lasts.number, "both DTEND and DURATION")
    if lasts is not None:
        days, rest = duration_of(lasts)
        more = rest + (1 if start.second else 0)
        return 0 if start.is_date else days + more, days, more
    if ends is None:
        return 0, DAY_MIN if start.is_date else 0, 0
    end = moment_of(ends)
    up = 1 if end.second else 0
    exact, days = clocks.utc(end) - clocks.utc(start) + up, end.minute - start.minute + up
    if exact < 0 or end.is_date != start.is_date:
        raise CalendarError(ends.number, f"DTEND {ends.value} does not follow DTSTART")
    if end.is_date:
        return 0, max(days, DAY_MIN), 0
    return exact, days if end.zone == start.zone else 0, 0


def shifted(moment: Moment, minutes: int) -> Moment:
    """Return a moment so many minutes later on the same wall."""
    return Moment(minute=moment.minute + minutes, zone=moment.zone, is_date=moment.is_date, line=moment.line)


def listed(lines: Iterable[Line]) -> Iterator[Moment]:
    """Yield the moments that lines hold, separated by commas."""
    for line in lines:
        for value in line.value.split(","):
            yield moment_of(line, value)
