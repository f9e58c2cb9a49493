"""The lines of a calendar file: unfolded, nested into components, each with the number an editor shows.

RFC 5545 sections 3.1 (content lines, folding) and 3.4, 3.6 (objects and components).
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

_PARAMETER = re.compile(r';([A-Za-z0-9-]+)=((?:"[^"]*"|[^";:,]*)(?:,(?:"[^"]*"|[^";:,]*))*)')
_NAME = re.compile(r"[A-Za-z0-9-]+")
Row = tuple[int, bytes]  # number in the file, bytes without the line feed


class CalendarError(ValueError):
    """A calendar that cannot be read: `file` and `line` say where, `what` says what is wrong."""

    def __init__(self, line: int, what: str, file: str = "") -> None:
        super().__init__(f"calendar {file}, line {line}: {what}" if file else f"line {line}: {what}")
        self.file, self.line, self.what = file, line, what


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One content line: name in capitals, parameters, value, and its number in the file."""

    name: str
    value: str
    number: int
    parameters: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One component: its own lines by name (not those of components inside it), first and last line number."""

    name: str
    first: int
    last: int
    lines: Mapping[str, tuple[Line, ...]]

    def all(self, name: str) -> tuple[Line, ...]:
        """Return the lines of one name."""
        return self.lines.get(name, ())

    def one(self, name: str) -> Line | None:
        """Return the line of one name, None if there is none.

        Raises
        ------
        CalendarError
            If there are several.

        """
        found = self.all(name)
        if len(found) > 1:
            raise CalendarError(found[1].number, f"a second {name} in one {self.name}")
        return found[0] if found else None


def all_rows(content: bytes) -> Iterator[Row]:
    """Return the rows of a file with their numbers."""
    return enumerate(content.removeprefix(b"\xef\xbb\xbf").split(b"\n"), start=1)


def read_components(rows: Iterable[Row]) -> tuple[Component, ...]:
    """Return the components directly inside the VCALENDAR objects of a file, in the order of the file.

    Parameters
    ----------
    rows : iterable of Row
        The rows of the file; whole components may have been left out.

    Raises
    ------
    CalendarError
        If the file is empty, cut off, not UTF-8, not a calendar, or wrongly nested.

    """
    found: list[Component] = []
    open_: list[tuple[str, int, list[Line]]] = []
    number, seen = 1, False
    for number, text in _unfolded(rows):  # noqa: B007 - the last number is told
        line = parse_line(text, number)
        seen = True
        if line.name == "BEGIN":
            open_.append(_opened(line, len(open_)))
        elif not open_:
            raise CalendarError(number, f"{line.name} stands outside BEGIN:VCALENDAR")
        elif line.name == "END":
            _close(open_, line, found)
        else:
            open_[-1][2].append(line)
    if not seen:
        raise CalendarError(1, "the file is empty")
    if open_:
        raise CalendarError(number, f"the file ends inside the {open_[-1][0]} that begins in line {open_[-1][1]}")
    return tuple(found)


def raw_lines(content: bytes, component: Component) -> str:
    """Return the text of one component as it stands in the file."""
    rows = content.split(b"\n")[component.first - 1 : component.last]
    return "\r\n".join(row.rstrip(b"\r").decode() for row in rows) + "\r\n"


def _opened(line: Line, depth: int) -> tuple[str, int, list[Line]]:
    name = line.value.strip().upper()
    if (depth == 0) != (name == "VCALENDAR"):
        raise CalendarError(
            line.number, f"BEGIN:{name} where {'BEGIN:VCALENDAR' if depth == 0 else 'a component'} belongs"
        )
    return name, line.number, []


def _close(open_: list[tuple[str, int, list[Line]]], line: Line, found: list[Component]) -> None:
    name, first, lines = open_.pop()
    if line.value.strip().upper() != name:
        raise CalendarError(line.number, f"END:{line.value} closes the {name} that begins in line {first}")
    if len(open_) == 1:
        by_name: dict[str, list[Line]] = defaultdict(list)
        for each in lines:
            by_name[each.name].append(each)
        own = {each: tuple(some) for each, some in by_name.items()}
        found.append(Component(name=name, first=first, last=line.number, lines=own))


def _unfolded(rows: Iterable[Row]) -> Iterator[tuple[int, str]]:
    """Yield the number and text of each content line; folded lines (RFC 5545 section 3.1) are joined as bytes."""
    number, kept = 0, b""
    for at, row in rows:
        bare = row[:-1] if row.endswith(b"\r") else row
        if bare[:1] in (b" ", b"\t") and kept:
            kept += bare[1:]
            continue
        if kept:
            yield number, _decoded(kept, number)
        number, kept = at, bare
    if kept:
        yield number, _decoded(kept, number)


def _decoded(row: bytes, number: int) -> str:
    try:
        return row.decode()
    except UnicodeDecodeError as error:
        raise CalendarError(number, "the line is not UTF-8 text") from error


def parse_line(text: str, number: int) -> Line:
    """Return one content line of an unfolded text.

    Raises
    ------
    CalendarError
        If it is none.

    Examples
    --------
    >>> line = parse_line("DTSTART;TZID=Europe/Lisbon:20270302T180000", 7)
    >>> line.name, line.parameters["TZID"], line.value
    ('DTSTART', 'Europe/Lisbon', '20270302T180000')

    """
    head, colon, value = text.partition(":")
    if colon and ";" not in head:
        if not _NAME.fullmatch(head):
            raise CalendarError(number, f"{head!r} is no name of a property")
        return Line(name=head.upper(), value=value, number=number)
    return _line_with_parameters(text, number)


def _line_with_parameters(text: str, number: int) -> Line:
    name = _NAME.match(text)
    at = name.end() if name else 0
    parameters = {}
    while name and (match := _PARAMETER.match(text, at)):
        parameters[match[1].upper()] = match[2].strip('"')
        at = match.end()
    if not name or text[at : at + 1] != ":":
        raise CalendarError(number, f"{text[:40]!r} is no line of a calendar")
    return Line(name=name[0].upper(), value=text[at + 1 :], number=number, parameters=parameters)
