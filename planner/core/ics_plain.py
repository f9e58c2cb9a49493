"""Plain events of a calendar, read all at once: single bookings, as a room has thousands of them a year.

An event is plain if it stands directly in its VCALENDAR, has one start, at most one end or length, never repeats, is
no moved instance and has none told of it, and if every line of it is sound. Those are read here, in arrays; all else,
whatever is odd included, is left to the reader that goes line by line and says what is wrong. Both give the same.
"""

import re
from dataclasses import dataclass

import numpy as np

from planner.core.clocks import DAY_MIN, Minutes
from planner.core.ics_lines import CalendarError, Line, Row, parse_line
from planner.core.ics_moments import Written, read_moments
from planner.core.ics_rows import Flags, Positions, Rows, rows_of
from planner.core.ics_times import Clocks, duration_of
from planner.core.spans import Spans, empty

ONCE = (b"DTEND", b"DURATION", b"STATUS", b"TRANSP", b"UID")  # lines that an event has once or not at all
NEVER = (b"RRULE", b"RDATE", b"EXDATE", b"EXRULE", b"RECURREN", b"BEGIN", b"END")  # lines no plain event has
START = b"DTSTART"
FREE = {b"STATUS": b"CANCELLED", b"TRANSP": b"TRANSPARENT"}
_FOLD = re.compile(rb"\r?\n[ \t]")
BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    """Spans of the plain events that are busy, UTC minutes, and the rows of everything else."""

    spans: Spans
    rest: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """Events by the first and last of their rows, and the kinds of all rows."""

    rows: Rows
    first: Positions
    last: Positions
    kinds: dict[bytes, Flags]

    def count(self, flags: Flags) -> Positions:
        """Return how many rows of each event are flagged."""
        total = np.concatenate(([0], np.cumsum(flags)))
        return total[self.last] - total[self.first + 1]

    def row(self, flags: Flags) -> Positions:
        """Return the first flagged row of each event; -1 where there is none."""
        places = np.append(np.flatnonzero(flags), len(flags))
        found = places[np.searchsorted(places[:-1], self.first)]
        return np.where(found < self.last, found, -1)

    def kept(self, keep: Flags) -> "Blocks":
        """Return some of the events."""
        return Blocks(rows=self.rows, first=self.first[keep], last=self.last[keep], kinds=self.kinds)


def read_plain(content: bytes, clocks: Clocks) -> Plain:
    """Return the busy spans of a file's plain events, and the rows of all else.

    Parameters
    ----------
    content : bytes
        The .ics file.
    clocks : Clocks
        Clocks of the building and of named zones.

    """
    rows = rows_of(content.removeprefix(BYTE_ORDER_MARK))
    blocks = _blocks(rows) if _is_utf8(rows.content) else None
    if blocks is None or not len(blocks.first):
        return Plain(spans=empty(), rest=_rows(rows, np.ones(len(rows.start), dtype=bool)))
    blocks = blocks.kept(~_told_of_elsewhere(blocks))
    spans, good = _spans(blocks, clocks)
    plain = blocks.kept(good)
    inside = np.zeros(len(rows.start) + 1, dtype=np.int64)
    inside[plain.first] += 1
    inside[plain.last + 1] -= 1
    return Plain(spans=spans[good & ~_free(blocks)], rest=_rows(rows, np.cumsum(inside[:-1]) == 0))


def _is_utf8(content: bytes) -> bool:
    """Tell whether a file is UTF-8 once unfolded: a fold may fall inside a character."""
    if content.isascii():
        return True
    try:
        (_FOLD.sub(b"", content) if b"\n " in content or b"\n\t" in content else content).decode()
    except UnicodeDecodeError:
        return False
    return True


def _rows(rows: Rows, keep: Flags) -> tuple[Row, ...]:
    numbers = np.flatnonzero(keep)
    return tuple(zip((numbers + 1).tolist(), rows.bytes_of(numbers), strict=True))


def _blocks(rows: Rows) -> Blocks:
    """Return the events whose lines are all sound and of the kinds that plain events have."""
    kinds = {name: rows.begins(name) for name in (START, *ONCE, *NEVER)}
    opens = rows.begins(b"BEGIN:") | rows.begins(b"BEGIN;")
    closes = rows.begins(b"END:") | rows.begins(b"END;")
    if opens.sum() != closes.sum():  # cut off somewhere: left to the reader that says where
        opens = closes = np.zeros(len(opens), dtype=bool)
    depth = np.concatenate(([0], np.cumsum(opens.astype(np.int64) - closes)[:-1]))
    marks = np.flatnonzero(opens | closes)
    length = rows.end - rows.start
    begins = rows.begins(b"BEGIN:VE") & (length == len(b"BEGIN:VEVENT")) & (depth == 1)
    ends = rows.begins(b"END:VEVE") & (length == len(b"END:VEVENT")) & ~rows.followed
    pairs = begins[marks[:-1]] & ends[marks[1:]]
    first, last = marks[:-1][pairs], marks[1:][pairs]
    whole = rows.are(b"BEGIN:VEVENT", first) & rows.are(b"END:VEVENT", last)
    blocks = Blocks(rows=rows, first=first[whole], last=last[whole], kinds=kinds)
    few = (blocks.count(kinds[START]) == 1) & (blocks.count(kinds[b"DTEND"] | kinds[b"DURATION"]) <= 1)
    for name in ONCE:
        few &= blocks.count(kinds[name]) <= 1
    return blocks.kept(few & (blocks.count(~_sound(rows, kinds)) == 0))


def _are(word: bytes, found: list[bytes]) -> Flags:
    return np.array([each == word for each in found], dtype=bool)


def _sound(rows: Rows, kinds: dict[bytes, Flags]) -> Flags:
    """Tell which rows a plain event may have; those with parameters other than of times are looked at one by one."""
    telling = np.zeros(len(rows.start), dtype=bool)
    exact = np.zeros(len(rows.start), dtype=bool)
    for name in (START, *ONCE, *NEVER):
        telling |= kinds[name]
        exact |= kinds[name] & (rows.colon - rows.start == len(name)) if name not in NEVER else False
    timed = kinds[START] | kinds[b"DTEND"]
    sound = (rows.named & (~telling | exact)) | (timed & ~rows.folded)
    with_parameters = np.flatnonzero(~rows.named & ~rows.folded & ~telling & (rows.end > rows.start))
    sound[with_parameters] = [_parses(row) for row in rows.bytes_of(with_parameters)]
    head = np.maximum.accumulate(np.where(rows.folded, 0, np.arange(len(sound))))  # row that a line begins with
    sound &= ~(telling & rows.followed)
    return np.where(rows.folded, sound[head] & ~telling[head], sound)


def _parses(row: bytes) -> bool:
    try:
        parse_line(row.decode(), 0)
    except (CalendarError, UnicodeDecodeError):
        return False
    return True


def _told_of_elsewhere(blocks: Blocks) -> Flags:
    """Tell which events share their UID with a moved instance, anywhere in the file."""
    rows = blocks.rows
    if not blocks.kinds[b"RECURREN"].any():
        return np.zeros(len(blocks.first), dtype=bool)
    own = blocks.row(blocks.kinds[b"UID"])
    inside = np.zeros(len(rows.start), dtype=bool)
    inside[own[own >= 0]] = True
    elsewhere = blocks.kinds[b"UID"] & ~inside
    if (elsewhere & rows.followed).any():  # folded, so that its value is not seen whole
        return np.ones(len(blocks.first), dtype=bool)
    other = set(rows.values_of(np.flatnonzero(elsewhere)))
    has = own >= 0
    shared = np.zeros(len(blocks.first), dtype=bool)
    shared[has] = [value in other for value in rows.values_of(own[has])]
    return shared


def _free(blocks: Blocks) -> Flags:
    free = np.zeros(len(blocks.first), dtype=bool)
    for name, word in FREE.items():
        at = blocks.row(blocks.kinds[name])
        has = at >= 0
        free[has] |= _are(word, blocks.rows.values_of(at[has]))
    return free


def _spans(blocks: Blocks, clocks: Clocks) -> tuple[Spans, Flags]:
    """Return a span for each event, and whether its times could be read."""
    starts = read_moments(blocks.rows, blocks.row(blocks.kinds[START]), clocks)
    ends = read_moments(blocks.rows, blocks.row(blocks.kinds[b"DTEND"]), clocks)
    days, rest, lasts = _durations(blocks)
    exact, wall, more = _lengths(starts, ends, days, rest, lasts)
    later = starts.utc(starts.wall + wall, clocks) + more
    follows = ends.good & (ends.is_date == starts.is_date) & (ends.at + (ends.second > 0) >= starts.at)
    fits = ~ends.there | follows
    spans = np.column_stack((starts.at, np.maximum(starts.at + exact, later)))
    return spans, starts.good & fits & (days >= 0)


def _lengths(
    starts: Written, ends: Written, days: Minutes, rest: Minutes, lasts: Flags
) -> tuple[Minutes, Minutes, Minutes]:
    """Return exact length, length in wall days, and what is added to those [min], as `calendars` has them."""
    more = np.where(lasts, rest + (starts.second > 0), 0)
    up = np.where(ends.second > 0, 1, 0)
    by_end = ends.wall - starts.wall + up
    timed = ends.there & ~starts.is_date
    exact = np.where(timed, ends.at - starts.at + up, np.where(lasts & ~starts.is_date, days + more, 0))
    whole_days = np.where(ends.there, np.maximum(by_end, DAY_MIN), DAY_MIN)
    by_wall = np.where(timed & (ends.zone_names == starts.zone_names), by_end, 0)
    wall = np.where(lasts, days, np.where(starts.is_date, whole_days, by_wall))
    return exact, wall, more


def _durations(blocks: Blocks) -> tuple[Minutes, Minutes, Flags]:
    """Return days and rest of each event's DURATION [min], -1 where it cannot be read, and who has one."""
    at = blocks.row(blocks.kinds[b"DURATION"])
    has = at >= 0
    read: dict[bytes, tuple[int, int]] = {}
    values = blocks.rows.values_of(at[has])
    for value in set(values):
        try:
            read[value] = duration_of(Line(name="DURATION", value=value.decode(), number=0))
        except (CalendarError, UnicodeDecodeError):
            read[value] = -1, 0
    found = np.zeros((len(at), 2), dtype=np.int64)
    found[has] = np.array([read[value] for value in values], dtype=np.int64).reshape(-1, 2)
    return found[:, 0], found[:, 1], has
