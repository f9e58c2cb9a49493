"""Room calendars: the bytes of an .ics file to the spans in which a room is taken.

Taken is what RFC 5545 calls busy: events with their recurrences, extra dates, exceptions and moved instances, whole
days in the building's time, and busy times of VFREEBUSY. Cancelled events and those marked TRANSPARENT are free,
tentative ones are not. Where the standard leaves room, the longer reading is taken: a first instance that its own rule
leaves out counts, and over a change of the clock an event lasts as long as the longer of its exact and its
wall-clock length. What cannot be read is an error that names file and line; it never means free.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

import icalendar
import numpy as np
import recurring_ical_events
from numpy.typing import NDArray

from planner.core.clocks import DAY_MIN, Clock, day_minute, instant_of, utc_minute, wall_minute
from planner.core.ics_lines import CalendarError, Component, Line, read_components
from planner.core.ics_times import Clocks, Moment, duration_of, moment_of, own_clocks
from planner.core.recurrence import repeat, rule_parts
from planner.core.spans import Spans, both, merge

Minutes = NDArray[np.int64]
FREE_KINDS = ("FREE",)


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


def busy_spans(
    content: bytes, file: str, building: Clock, reach: tuple[int, int], *, shared: dict[str, Clock] | None = None
) -> Spans:
    """Return the spans in which a calendar's room is taken.

    Parameters
    ----------
    content : bytes
        The .ics file.
    file : str
        Its name, for messages.
    building : Clock
        Clock of the room's building: whole days and floating times are told by it.
    reach : int, int
        Span asked for, half-open, UTC minutes [min].
    shared : dict, optional
        Clocks of zones by name, read once and filled as zones are met.

    Returns
    -------
    numpy.ndarray, shape (n, 2)
        A set of spans within [low, high), UTC minutes [min].

    Raises
    ------
    CalendarError
        If the file cannot be read; names file and line.

    References
    ----------
    RFC 5545, sections 3.3.5, 3.3.10, 3.6.1, 3.6.4, 3.8.2.7, 3.8.4.4, 3.8.5.

    """
    low, high = reach
    try:
        components = read_components(content)
        years = instant_of(low).year - 1, instant_of(high).year + 2
        zones = tuple(part for part in components if part.name == "VTIMEZONE")
        told = Clocks(own=own_clocks(content, zones, building, years), shared={} if shared is None else shared)
        by_hand = _needs_library(components)
        spans = (
            _library_spans(content, by_hand, told, low, high) if by_hand else _event_spans(components, told, low, high)
        )
        taken = merge([*spans, *_freebusy_spans(components, told)])
    except CalendarError as error:
        raise CalendarError(error.line, error.what, file) from error
    return both(taken, np.array([[low, high]], dtype=np.int64))


def _event_spans(components: tuple[Component, ...], clocks: Clocks, low: int, high: int) -> Iterator[tuple[int, int]]:
    """Yield the spans of all events: instances of each, less exceptions and instances told of on their own."""
    events = [_event(part, clocks) for part in components if part.name == "VEVENT"]
    moved: dict[str, list[int]] = defaultdict(list)
    for event in events:
        if event.moves is not None:
            moved[event.uid].append(clocks.utc(event.moves))
    for event in events:
        if event.rule is None and not event.extra:
            spans = _once(event, clocks, [] if event.moves else moved[event.uid])
        else:
            spans = _often(event, clocks, moved[event.uid], low, high)
        if event.busy:
            yield from spans


def _event(part: Component, clocks: Clocks) -> Event:
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


def _once(event: Event, clocks: Clocks, moved: list[int]) -> Iterator[tuple[int, int]]:
    start = clocks.utc(event.start)
    if start not in moved:
        later = clocks.utc(_shifted(event.start, event.days_min))
        yield start, max(start + event.exact_min, later + event.rest_min)


def _shifted(moment: Moment, minutes: int) -> Moment:
    return Moment(minute=moment.minute + minutes, zone=moment.zone, is_date=moment.is_date, line=moment.line)


def _often(event: Event, clocks: Clocks, moved: list[int], low: int, high: int) -> Iterator[tuple[int, int]]:
    """Yield the spans of a recurring event that may touch [low, high)."""
    clock = clocks.of(event.start)
    reach = max(event.exact_min, event.days_min + event.rest_min) + 2 * DAY_MIN
    walls = np.array([event.start.minute], dtype=np.int64)
    if event.rule is not None:
        found = repeat(event.rule, event.start.minute, low - reach, high + 2 * DAY_MIN)
        walls = _until(np.union1d(walls, found), event, clock)
    starts = clock.utc(walls)
    ends = np.maximum(starts + event.exact_min, clock.utc(walls + event.days_min) + event.rest_min)
    out = {*moved, *(clocks.utc(moment) for moment in _listed(event.without))}
    keep = ~np.isin(starts, np.array(sorted(out), dtype=np.int64))
    yield from zip(starts[keep].tolist(), ends[keep].tolist(), strict=True)
    for moment in _listed(event.extra):
        start = clocks.utc(moment)
        if start not in out:
            later = clocks.utc(_shifted(moment, event.days_min))
            yield start, max(start + event.exact_min, later + event.rest_min)


def _until(walls: Minutes, event: Event, clock: Clock) -> Minutes:
    """Keep the first instance and those up to the rule's UNTIL, which is in UTC, or local, or a whole day."""
    if event.rule is None or "UNTIL" not in (parts := rule_parts(event.rule)):
        return walls
    until = moment_of(event.rule, parts["UNTIL"])
    if until.is_date:
        keep = walls < until.minute + DAY_MIN
    elif until.zone == "UTC":
        keep = clock.utc(walls) <= until.minute
    else:
        keep = walls <= until.minute
    kept: Minutes = walls[keep | (walls == event.start.minute)]
    return kept


def _listed(lines: Iterable[Line]) -> Iterator[Moment]:
    for line in lines:
        for value in line.value.split(","):
            yield moment_of(line, value)


def _freebusy_spans(components: tuple[Component, ...], clocks: Clocks) -> Iterator[tuple[int, int]]:
    lines = (line for part in components if part.name == "VFREEBUSY" for line in part.all("FREEBUSY"))
    for line in lines:
        if line.parameters.get("FBTYPE", "BUSY").upper() not in FREE_KINDS:
            for period in line.value.split(","):
                yield _period(line, period, clocks)


def _period(line: Line, period: str, clocks: Clocks) -> tuple[int, int]:
    first, slash, last = period.strip().partition("/")
    if not slash:
        raise CalendarError(line.number, f"{period!r} is no period such as 20270302T180000Z/PT2H")
    start = clocks.utc(moment_of(line, first))
    if last.startswith(("P", "+P")):
        return start, start + sum(duration_of(line, last))
    end = moment_of(line, last)
    return start, clocks.utc(end) + (1 if end.second else 0)


def _needs_library(components: tuple[Component, ...]) -> Line | None:
    """Return the first line of the rarer kinds of recurrence, which the general library expands."""
    for part in components:
        for line in part.lines if part.name == "VEVENT" else ():
            periods = line.name == "RDATE" and line.parameters.get("VALUE", "").upper() == "PERIOD"
            if (
                periods
                or line.name == "EXRULE"
                or "RANGE" in line.parameters
                or (line.name == "RRULE" and len(part.all("RRULE")) > 1)
            ):
                return line
    return None


def _library_spans(content: bytes, line: Line, clocks: Clocks, low: int, high: int) -> Iterator[tuple[int, int]]:
    try:
        calendar = icalendar.Calendar.from_ical(content)
        found = recurring_ical_events.of(calendar).between(instant_of(low), instant_of(high))
    except (ValueError, KeyError, TypeError, AttributeError, IndexError) as error:
        raise CalendarError(line.number, f"{line.name} cannot be read: {error}") from error
    for event in found:
        if (
            str(event.get("STATUS", "")).upper() != "CANCELLED"
            and str(event.get("TRANSP", "")).upper() != "TRANSPARENT"
        ):
            yield _minute(event.start, clocks), _minute(event.end, clocks)


def _minute(moment: date, clocks: Clocks) -> int:
    """Return the UTC minute of what the library gives: a day, a floating or an aware time."""
    if not isinstance(moment, datetime):
        return clocks.utc(Moment(minute=day_minute(moment)))
    if moment.tzinfo is None:
        return clocks.utc(Moment(minute=wall_minute(moment)))
    return utc_minute(moment)
