"""When each room must not go dark and each building may not be entered: calendars and closures as spans.

A room without a calendar is free whenever its building admits crews and no closure forbids it: nobody books it. A
calendar that is named but missing or unreadable is no such room: it has no answer, only a problem.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from inventory.core.snapshot import Closure, Snapshot
from planner.core.calendars import busy_spans
from planner.core.clocks import Clock, ZoneError, clock_of, utc_minute
from planner.core.ics_lines import CalendarError
from planner.core.spans import Spans, both, empty, merge

KEEP_OUT, WELCOME = "keep out", "welcome"
RoomKey = tuple[str, str]
K = TypeVar("K")
V = TypeVar("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """Spans in which a room is taken [min UTC], or, in words, why nobody can tell."""

    spans: Spans
    problem: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Occupancy:
    """The campus's calendars and closures over `reach` (UTC minutes), each read once, when first asked for."""

    snapshot: Snapshot
    reach: tuple[int, int]
    rooms: dict[RoomKey, int]
    buildings: dict[str, int]
    _clocks: dict[str, Clock] = field(default_factory=dict)
    _taken: dict[RoomKey, Taken] = field(default_factory=dict)
    _files: dict[tuple[str, str], Taken] = field(default_factory=dict)

    def clock(self, building: str) -> Clock | str:
        """Return the clock of a building, or in words why there is none."""
        at = self.buildings.get(building)
        name = None if at is None else self.snapshot.buildings[at].time_zone
        if name is None:
            return f"the time zone of building {building} is not known: enter it on sheet Buildings (such as Europe/Berlin)"
        try:
            return _kept(self._clocks, name, lambda: clock_of(name))
        except ZoneError as error:
            return f"building {building}: {error}; write an IANA name such as Europe/Berlin on sheet Buildings"

    def room(self, key: RoomKey) -> Taken:
        """Return the spans in which a room is taken: its calendar, and every closure that keeps work out of it."""
        return _kept(self._taken, key, lambda: self._room(key))

    def keep_out(self, building: str) -> Spans:
        """Return the spans in which work must keep out of the whole building."""
        return self._closed(KEEP_OUT, building, None)

    def welcome(self, building: str, rooms: tuple[RoomKey, ...]) -> Spans:
        """Return the spans in which crews are welcome in the building, or in each of some rooms."""
        everywhere = self._closed(WELCOME, building, None)
        shared = [self._closed(WELCOME, *room) for room in rooms]
        common = shared[0] if shared else empty()
        for spans in shared[1:]:
            common = both(common, spans)
        return merge(np.concatenate((everywhere, common)))

    def _room(self, key: RoomKey) -> Taken:
        closed = self._closed(KEEP_OUT, *key)
        at = self.rooms.get(key)
        file = None if at is None else self.snapshot.rooms[at].calendar
        if file is None:
            return Taken(spans=closed)
        content = self.snapshot.calendars.get(file)
        if content is None:
            return Taken(spans=closed, problem=f"calendar {file} of room {key[0]} {key[1]} is not on file")
        clock = self.clock(key[0])
        if isinstance(clock, str):
            return Taken(spans=closed, problem=clock)
        read = _kept(self._files, (file, clock.name), lambda: self._read(file, content, clock))
        return Taken(spans=merge(np.concatenate((closed, read.spans))), problem=read.problem)

    def _read(self, file: str, content: bytes, clock: Clock) -> Taken:
        try:
            return Taken(spans=busy_spans(content, file, clock, self.reach, shared=self._clocks))
        except (CalendarError, ZoneError) as error:
            return Taken(spans=empty(), problem=str(error))

    def _closed(self, kind: str, building: str, room: str | None) -> Spans:
        """Return the spans of one kind for a building, or for one of its rooms; what is not a welcome keeps out."""
        at = self.buildings.get(building)
        place = None if room is None else self.rooms.get((building, room))
        held = [
            closure
            for closure in self.snapshot.closures
            if (closure.kind == WELCOME) == (kind == WELCOME) and _holds(closure, at, place)
        ]
        return merge((utc_minute(closure.start), _ceil_minute(closure)) for closure in held)


def _holds(closure: Closure, building: int | None, room: int | None) -> bool:
    if closure.room is not None:
        return closure.room == room
    return closure.building is None or closure.building == building


def _ceil_minute(closure: Closure) -> int:
    return utc_minute(closure.end) + (1 if closure.end.second or closure.end.microsecond else 0)


def _kept(store: dict[K, V], key: K, make: Callable[[], V]) -> V:
    """Return what is kept under a key, made on first use."""
    if key not in store:
        store[key] = make()
    return store[key]


def occupancy_of(snapshot: Snapshot, reach: tuple[int, int]) -> Occupancy:
    """Return the occupancy of a campus over a span of UTC minutes."""
    names = [building.key for building in snapshot.buildings]
    return Occupancy(
        snapshot=snapshot,
        reach=reach,
        rooms={(names[room.building], room.key): at for at, room in enumerate(snapshot.rooms)},
        buildings={name: at for at, name in enumerate(names)},
    )
