"""A campus at one moment, as frozen records and arrays: all that the later stages see.

Places and the catalogue are records. What comes by the hundred thousand (nodes, runs) is columns: numpy arrays of
equal length whose rows are nodes or runs, with positions (not database ids) for references. A reference that is not
known is -1; a number that is not known is NaN (floats) or -1 (integers).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Catalogue
from inventory.core.readings import Reading

Ints = NDArray[np.int32]
Small = NDArray[np.int8]
Floats = NDArray[np.float64]

UNKNOWN = -1
BUS_COLUMNS = 4
ENDS_NO, ENDS_YES, ENDS_SWITCH = 0, 1, 2  # codes of Nodes.ends_bus


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """One building."""

    key: str
    name: str | None = None
    district: str | None = None
    time_zone: str | None = None
    holidays: str | None = None
    outages_at_once: int | None = None
    crews_admitted: str | None = None  # see inventory.core.opening


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One room; `building` is a position in Snapshot.buildings."""

    building: int
    key: str
    floor: str | None = None
    name: str | None = None
    use: str | None = None
    importance: int | None = None
    calendar: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bus:
    """One bus by name; `building` is a position in Snapshot.buildings."""

    key: str
    building: int
    protocol: str | None = None
    bit_rate_kbit_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Nodes:
    """All nodes, n rows.

    key : n names. building, room, model : int32[n], positions. bus : int32[n, 4], positions of Bus to Bus 4.
    ends_bus : int8[n], ENDS_NO, ENDS_YES, ENDS_SWITCH or -1. condition, zones_used, scenes_used, box_gangs :
    int32[n], -1 not known. installed : datetime64[D][n], NaT not known. failures : int32[n], failures on record.
    """

    key: Sequence[str]
    building: Ints
    room: Ints
    model: Ints
    bus: Ints
    ends_bus: Small
    condition: Ints
    zones_used: Ints
    scenes_used: Ints
    box_gangs: Ints
    installed: NDArray[np.datetime64]
    failures: Ints

    def __len__(self) -> int:
        return len(self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Runs:
    """All runs, r rows: positions of bus, ends and cable (-1 not known) and length [m] (NaN not known)."""

    key: Sequence[str]
    bus: Ints
    from_node: Ints
    to_node: Ints
    cable: Ints
    length_m: Floats

    def __len__(self) -> int:
        return len(self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """What one slider or button of a station does; node and panel are positions, panel -1 not known."""

    node: int
    key: str
    label: str | None = None
    panel: int = UNKNOWN
    circuit: str | None = None
    lowest_pct: float | None = None
    highest_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One stored scene of a station."""

    node: int
    key: str
    label: str | None = None
    levels: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """A span in which work must keep out of, or is welcome in, a building or room (None: all of them).

    Instants are aware and in UTC; the span is half-open.
    """

    building: int | None
    room: int | None
    start: datetime
    end: datetime
    kind: str
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """A campus at one moment. Tuples and arrays are sorted by key, so that equal campuses are equal snapshots."""

    buildings: tuple[Building, ...]
    rooms: tuple[Room, ...]
    buses: tuple[Bus, ...]
    catalogue: Catalogue
    nodes: Nodes
    runs: Runs
    zones: tuple[Zone, ...] = ()
    scenes: tuple[Scene, ...] = ()
    closures: tuple[Closure, ...] = ()
    readings: tuple[Reading, ...] = ()
    calendars: dict[str, bytes] = field(default_factory=dict)  # file name -> content of the .ics
    taken_on: date | None = None  # the day ages are counted to
