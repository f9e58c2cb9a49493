"""What can be said of segments beside their verdicts without words: building, stations, nodes, buses, as columns."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.core.campus import Campus
from planner.core.grouped import begins_of
from planner.core.sides import Longs

NOBODY = np.iinfo(np.int64).max
NO_DAY = np.datetime64("NaT", "D")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlines:
    """Some segments of a campus, m of them, in the order of their labels.

    label : int64[m], their places among the segments. building : int64[m], positions in the snapshot, -1 not known.
    stations : int64[m], old stations. oldest : datetime64[D][m], when the oldest of them was installed, NaT not known.
    node, bus : int64[...], positions, sorted within each segment, each once; first_node, first_bus : int64[m + 1].
    """

    label: Longs
    building: Longs
    stations: Longs
    oldest: NDArray[np.datetime64]
    node: Longs
    first_node: Longs
    bus: Longs
    first_bus: Longs

    def __len__(self) -> int:
        return len(self.label)

    @property
    def nodes(self) -> Longs:
        """Return how many nodes each segment has."""
        return np.diff(self.first_node)


def outlines_of(campus: Campus, labels: Longs) -> Outlines:
    """Return the outlines of some segments; `labels` : int64[m], rising."""
    snapshot, segments = campus.snapshot, campus.segments
    wanted = np.full(len(segments), -1, dtype=np.int64)
    wanted[labels] = np.arange(len(labels))
    sides = np.flatnonzero(wanted[segments.label] >= 0) if len(labels) < len(segments) else slice(None)
    at, node, bus = wanted[segments.label[sides]], segments.side_node[sides], segments.side_bus[sides]
    own_node, first_node = _once(at, node, len(labels))
    on = bus >= 0
    own_bus, first_bus = _once(at[on], bus[on], len(labels))
    return Outlines(
        label=labels,
        building=_buildings(campus, own_node, first_node, own_bus, first_bus),
        stations=campus.stations[labels],
        oldest=_oldest(at, campus.old[snapshot.nodes.model[node]], snapshot.nodes.installed[node], len(labels)),
        node=own_node,
        first_node=first_node,
        bus=own_bus,
        first_bus=first_bus,
    )


def _once(at: Longs, things: Longs, count: int) -> tuple[Longs, Longs]:
    """Return the things of each segment, sorted and each once, and where those of each segment begin."""
    width = int(things.max(initial=0)) + 1
    pairs = np.unique(at * width + things)
    return pairs % width, begins_of(np.bincount(pairs // width, minlength=count).astype(np.int64))


def _least(values: Longs, first: Longs) -> Longs:
    """Return the least of each segment's values that are known, -1 where none is."""
    found = np.full(len(first) - 1, NOBODY, dtype=np.int64)
    some = np.flatnonzero(np.diff(first))
    if len(some):
        found[some] = np.minimum.reduceat(np.where(values < 0, NOBODY, values), first[some])
    return np.where(found == NOBODY, -1, found)


def _buildings(campus: Campus, node: Longs, first_node: Longs, bus: Longs, first_bus: Longs) -> Longs:
    """Return the first building of each segment's buses; where it has none, of its nodes."""
    of_bus = np.array([bus.building for bus in campus.snapshot.buses], dtype=np.int64)
    by_bus = _least(of_bus[bus], first_bus) if len(bus) else np.full(len(first_bus) - 1, -1, dtype=np.int64)
    by_node = _least(campus.snapshot.nodes.building[node].astype(np.int64), first_node)
    return np.where(np.diff(first_bus) > 0, by_bus, by_node)


def _oldest(at: Longs, old: NDArray[np.bool_], installed: NDArray[np.datetime64], count: int) -> NDArray[np.datetime64]:
    days = installed.astype("datetime64[D]")
    some = np.flatnonzero(old & ~np.isnat(days))
    found = np.full(count, NOBODY, dtype=np.int64)
    np.minimum.at(found, at[some], days[some].astype(np.int64))
    oldest = np.full(count, NO_DAY)
    known = found != NOBODY
    oldest[known] = found[known].astype("datetime64[D]")
    return oldest
