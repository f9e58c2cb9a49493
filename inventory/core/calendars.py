"""Whether a calendar file can be read, and if not, on which line it cannot. What cannot be read never means `free`."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from icalendar import Calendar, Component
from icalendar.parser import Contentline

MOST_EVENTS = 20_000  # 50 bookings a week for seven years; each takes the library a quarter of a millisecond
TIMES = ("DTSTART", "DTEND", "RECURRENCE-ID")  # properties that may name a time zone and place a booking

FREQUENCIES = (
    "HOURLY",
    "DAILY",
    "WEEKLY",
    "MONTHLY",
    "YEARLY",
)  # of those of RFC 5545, 3.3.10; no room is booked by the minute

TOO_MANY = "it holds {:,} events, at most {:,} are taken in: export the calendar again from this year on"


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarFault:
    """What is wrong with a calendar file, and the line (from 1) on which it is."""

    line: int
    why: str


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    text: str

    @property
    def name(self) -> str:
        return self.text.split(":", 1)[0].split(";", 1)[0].strip().upper()


def calendar_faults(content: bytes) -> tuple[CalendarFault, ...]:
    r"""Return what keeps a file from being read as an iCalendar object, sorted by line; nothing for a good file.

    References
    ----------
    RFC 5545: content lines and folding 3.1, character set 3.1.4, components 3.6, DTSTART in events 3.6.1, TZID 3.2.19.

    Examples
    --------
    >>> calendar_faults(b"BEGIN:VCALENDAR\r\nnothing\r\nEND:VCALENDAR\r\n")
    (CalendarFault(line=2, why='this is no line of a calendar'),)

    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as broken:
        line = content[: broken.start].count(b"\n") + 1
        return (CalendarFault(line=line, why="this is not UTF-8 text"),)
    events = content.upper().count(b"BEGIN:VEVENT")
    if events > MOST_EVENTS:
        return (CalendarFault(line=1, why=TOO_MANY.format(events, MOST_EVENTS)),)
    lines = tuple(_unfolded(text))
    faults = (*_nesting(lines), *_lines(lines))
    return tuple(sorted(faults or _properties(text, lines), key=lambda fault: fault.line))


def _unfolded(text: str) -> Iterator[_Line]:
    """Yield whole content lines with the number of their first physical line."""
    number, whole = 0, ""
    for at, line in enumerate(text.replace("\r\n", "\n").split("\n"), 1):
        if line[:1] in {" ", "\t"} and whole:
            whole += line[1:]
            continue
        if whole.strip():
            yield _Line(number, whole)
        number, whole = at, line
    if whole.strip():
        yield _Line(number, whole)


def _nesting(lines: tuple[_Line, ...]) -> list[CalendarFault]:
    """Return the first place where components do not begin and end as they should."""
    if not lines or lines[0].text.strip().upper() != "BEGIN:VCALENDAR":
        return [CalendarFault(line=lines[0].number if lines else 1, why="a calendar begins with BEGIN:VCALENDAR")]
    is_open: list[_Line] = []
    for line in lines:
        if line.name == "BEGIN":
            is_open.append(line)
        elif not is_open:
            return [CalendarFault(line=line.number, why="this stands after the end of the calendar")]
        elif line.name == "END" and _what(is_open.pop()) != _what(line):
            return [CalendarFault(line=line.number, why=f"{line.text.strip()} ends what was not begun")]
    return [CalendarFault(line=line.number, why=f"{line.text.strip()} is never ended") for line in is_open[-1:]]


def _what(line: _Line) -> str:
    return line.text.split(":", 1)[-1].strip().upper()


def _lines(lines: tuple[_Line, ...]) -> list[CalendarFault]:
    """Return the lines that are no content lines."""
    found = []
    for line in lines:
        try:
            Contentline(line.text).parts()  # type: ignore[no-untyped-call]
        except ValueError:
            found.append(CalendarFault(line=line.number, why="this is no line of a calendar"))
    return found


def _properties(text: str, lines: tuple[_Line, ...]) -> list[CalendarFault]:
    """Return the values that are not what their property needs, in a file whose lines are sound."""
    begins = [at for at, line in enumerate(lines) if line.name == "BEGIN"]
    try:
        calendars = Calendar.from_ical(text, multiple=True)
    except ValueError as broken:
        return [CalendarFault(line=lines[0].number, why=str(broken))]
    components = [component for calendar in calendars for component in calendar.walk()]
    found: list[CalendarFault] = []
    for begin, component in zip(begins, components, strict=False):
        for name, why in (*component.errors, *_times(component), *_repeats(component)):
            found.append(CalendarFault(line=_line_of(name, lines, begin), why=str(why)))
    return found


def _times(component: Component) -> Iterator[tuple[str, str]]:
    """Yield what an event's times lack: a start, or a time zone that is known."""
    broken = {name for name, _ in component.errors}
    if component.name != "VEVENT" or broken & set(TIMES):
        return
    if component.get("DTSTART") is None:
        yield "BEGIN", "the event has no start (DTSTART)"
    for name in TIMES:
        value = component.get(name)
        at = getattr(value, "dt", None)
        if isinstance(at, datetime) and at.tzinfo is None and value.params.get("TZID"):
            yield name, f"the time zone {value.params['TZID']} is not known"


def _repeats(component: Component) -> Iterator[tuple[str, str]]:
    """Yield what is wrong with how an event repeats: more often than hourly, or by steps of nothing."""
    is_read = component.name == "VEVENT" and "RRULE" not in {name for name, _ in component.errors}
    rules = component.get("RRULE", ()) if is_read else ()
    for rule in rules if isinstance(rules, list | tuple) else [rules]:
        frequency = str(next(iter(rule.get("FREQ", ())), "")).upper()
        if frequency not in FREQUENCIES:
            yield (
                "RRULE",
                f"it repeats {frequency.lower() or 'without FREQ'}; one of {', '.join(FREQUENCIES)} can be planned by",
            )
        for name in ("INTERVAL", "COUNT"):
            if any(int(value) < 1 for value in rule.get(name, ())):
                yield "RRULE", f"{name} must be a whole number above 0"


def _line_of(name: str | None, lines: tuple[_Line, ...], begin: int) -> int:
    for line in lines[begin:]:
        if name is not None and line.name == name.upper():
            return line.number
    return lines[begin].number
