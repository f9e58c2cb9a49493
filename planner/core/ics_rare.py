"""The rarer kinds of recurrence, expanded by the library recurring_ical_events: periods, ranges, several rules."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime

import icalendar
import recurring_ical_events

from planner.core.clocks import day_minute, instant_of, utc_minute, wall_minute
from planner.core.ics_lines import CalendarError, Component, Line, Row
from planner.core.ics_times import Clocks, Moment

MOST_EVENTS = 5000  # the library takes a third of a millisecond for each before it begins


def rare_line(components: tuple[Component, ...]) -> Line | None:
    """Return the first line of the rarer kinds of recurrence, None where there is none."""
    return min((line for part in components for line in _rare(part)), key=lambda line: line.number, default=None)


def _rare(part: Component) -> Iterator[Line]:
    if part.name == "VEVENT":
        yield from part.all("EXRULE")
        yield from part.all("RRULE")[1:]
        yield from (line for line in part.all("RDATE") if line.parameters.get("VALUE", "").upper() == "PERIOD")
        yield from (line for line in part.all("RECURRENCE-ID") if "RANGE" in line.parameters)


def library_spans(rows: Iterable[Row], line: Line, clocks: Clocks, low: int, high: int) -> Iterator[tuple[int, int]]:
    """Yield the spans of all events in some rows of a file that may touch [low, high); `line` is named in errors."""
    content = b"\n".join(row for _, row in rows)
    if (many := content.upper().count(b"BEGIN:VEVENT")) > MOST_EVENTS:
        raise CalendarError(line.number, f"{line.name} of a rare kind among {many:,} events: at most {MOST_EVENTS:,}")
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
