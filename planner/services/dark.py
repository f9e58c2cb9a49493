"""What goes dark while one segment is converted: its rooms, and those of them that need a watch. Reads only."""

from dataclasses import dataclass

from inventory.models import Room
from planner.core.changes import MOVE
from planner.core.findings import SegmentReport, WayOut
from planner.core.watches import why_watched
from planner.models import Segment
from planner.store.dark import load_network


@dataclass(frozen=True, slots=True, kw_only=True)
class DarkRoom:
    """One room that goes dark; `watch` says why it needs a watch, None where nothing on record does."""

    building: str
    room: str
    name: str | None
    watch: str | None
    told: bool  # whether its use or importance is on record at all


def moved_to(way: WayOut | None) -> tuple[str, ...]:
    """Return the segments to which a way out moves nodes: they are dead too while that is done."""
    return tuple(sorted({change.to for change in way.changes if change.what == MOVE and change.to})) if way else ()


def dark_rooms_of(row: Segment, report: SegmentReport, way: WayOut | None = None) -> tuple[DarkRoom, ...] | None:
    """Return the rooms that go dark while a segment is converted; None where too much hangs together to look here.

    With a way out that is taken the segments to which it moves nodes are dead too.
    """
    if not report.old_stations:
        return ()
    beside = list(Segment.objects.filter(assessment=row.assessment_id, key__in=moved_to(way)).order_by("key"))
    network = load_network([row, *beside])
    if network is None:
        return None
    dark = {*network.dark_rooms((report.segment,), beside=[one.key for one in beside]), *report.places}
    rooms = Room.objects.filter(building__key__in={building for building, _ in dark}, key__in={key for _, key in dark})
    facts = {(one.building.key, one.key): one for one in rooms.select_related("building")}
    return tuple(_dark_room(key, facts.get(key)) for key in sorted(dark))


def _dark_room(key: tuple[str, str], room: Room | None) -> DarkRoom:
    use, importance = (room.use, room.importance) if room is not None else (None, None)
    return DarkRoom(
        building=key[0],
        room=key[1],
        name=room.name if room is not None else None,
        watch=why_watched(use, importance),
        told=use is not None or importance is not None,
    )
