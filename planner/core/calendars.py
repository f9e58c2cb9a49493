"""Room calendars: the bytes of an .ics file to the spans in which a room is taken.

Taken is what RFC 5545 calls busy: events with their recurrences, extra dates, exceptions and moved instances, whole
days in the building's time, and busy times of VFREEBUSY. Cancelled events and those marked TRANSPARENT are free,
tentative ones are not. Where the standard leaves room, the longer reading is taken: a first instance that its own rule
leaves out counts, and over a change of the clock an event lasts as long as the longer of its exact and its
wall-clock length. What cannot be read is an error that names file and line; it never means free.
"""

from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from planner.core.clocks import DAY_MIN, Clock, instant_of
from planner.core.ics_events import Event, event_of, listed, shifted
from planner.core.ics_lines import CalendarError, Component, Line, Row, read_components
from planner.core.ics_plain import read_plain
from planner.core.ics_rare import library_spans, rare_line
from planner.core.ics_times import Clocks, duration_of, moment_of, own_clocks
from planner.core.recurrence import effort_of, repeat, rule_parts
from planner.core.spans import Spans, both, merge

Minutes = NDArray[np.int64]
FREE_KINDS = ("FREE",)
MOST_BY_LINE = 20_000  # events that repeat or are otherwise not plain, each read by itself
MOST_REPEATS = 2_000_000  # instances counted from each rule's start; 50 bookings a week are 2,600 a year


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
        If the file cannot be read, or repeats more than can be read in time; names file and line.

    References
    ----------
    RFC 5545, sections 3.3.5, 3.3.10, 3.6.1, 3.6.4, 3.8.2.7, 3.8.4.4, 3.8.5.

    """
    try:
        taken = merge(_taken(content, building, reach, {} if shared is None else shared))
    except CalendarError as error:
        raise CalendarError(error.line, error.what, file) from error
    return both(taken, np.array([reach], dtype=np.int64))


def _taken(content: bytes, building: Clock, reach: tuple[int, int], shared: dict[str, Clock]) -> Spans:
    low, high = reach
    plain = read_plain(content, Clocks(own={None: building}, shared=shared))
    _few(plain.rest)
    components = read_components(plain.rest)
    years = instant_of(low).year - 1, instant_of(high).year + 2
    zones = tuple(part for part in components if part.name == "VTIMEZONE")
    told = Clocks(own=own_clocks(content, zones, building, years), shared=shared)
    rare = rare_line(components)
    if rare:
        others = [_pairs(library_spans(plain.rest, rare, told, low, high))]
    else:
        others = list(_event_spans(components, told, low, high))
    return np.concatenate([plain.spans, *others, _pairs(_freebusy_spans(components, told))])


def _few(rows: tuple[Row, ...]) -> None:
    """Refuse a calendar with more events than can be read line by line in time."""
    begins = [number for number, row in rows if row[:12].upper() == b"BEGIN:VEVENT"]
    if len(begins) > MOST_BY_LINE:
        what = f"{len(begins):,} events that repeat, at most {MOST_BY_LINE:,} are read: leave out past ones"
        raise CalendarError(begins[MOST_BY_LINE], what)


def _pairs(spans: Iterator[tuple[int, int]]) -> Spans:
    return np.array(list(spans), dtype=np.int64).reshape(-1, 2)


def _event_spans(components: tuple[Component, ...], clocks: Clocks, low: int, high: int) -> Iterator[Spans]:
    """Yield the spans of all events: instances of each, less exceptions and instances told of on their own."""
    events = [event_of(part, clocks) for part in components if part.name == "VEVENT"]
    _bearable(events, high)
    moved: dict[str, list[int]] = defaultdict(list)
    for event in events:
        if event.moves is not None:
            moved[event.uid].append(clocks.utc(event.moves))
    for event in events:
        if event.rule is None and not event.extra:
            spans = _pairs(_once(event, clocks, [] if event.moves else moved[event.uid]))
        else:
            spans = _often(event, clocks, moved[event.uid], low, high)
        if event.busy:
            yield spans


def _bearable(events: list[Event], high: int) -> None:
    """Refuse a calendar whose rules repeat more often than can be counted in time."""
    repeats = 0
    for event in events:
        if event.rule is not None:
            repeats += effort_of(event.rule, event.start.minute, high)
            if repeats > MOST_REPEATS:
                what = f"its events repeat more than {MOST_REPEATS:,} times, too often to be read: leave out past ones"
                raise CalendarError(event.rule.number, what)


def _once(event: Event, clocks: Clocks, moved: list[int]) -> Iterator[tuple[int, int]]:
    start = clocks.utc(event.start)
    if start not in moved:
        later = clocks.utc(shifted(event.start, event.days_min))
        yield start, max(start + event.exact_min, later + event.rest_min)


def _often(event: Event, clocks: Clocks, moved: list[int], low: int, high: int) -> Spans:
    """Return the spans of a recurring event that may touch [low, high)."""
    clock = clocks.of(event.start)
    reach = max(event.exact_min, event.days_min + event.rest_min) + 2 * DAY_MIN
    walls = np.array([event.start.minute], dtype=np.int64)
    if event.rule is not None:
        found = repeat(event.rule, event.start.minute, low - reach, high + 2 * DAY_MIN)
        walls = _until(np.union1d(walls, found), event, clock)
    starts = clock.utc(walls)
    ends = np.maximum(starts + event.exact_min, clock.utc(walls + event.days_min) + event.rest_min)
    out = {*moved, *(clocks.utc(moment) for moment in listed(event.without))}
    keep = ~np.isin(starts, np.array(sorted(out), dtype=np.int64))
    return np.concatenate((np.column_stack((starts, ends))[keep], _pairs(_extra(event, clocks, out))))


def _extra(event: Event, clocks: Clocks, out: set[int]) -> Iterator[tuple[int, int]]:
    """Yield the spans of the extra dates of an event."""
    for moment in listed(event.extra):
        start = clocks.utc(moment)
        if start not in out:
            later = clocks.utc(shifted(moment, event.days_min))
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
