"""Rooms in which a dark hour can hurt: those that must not fail, and those on a way out of the building.

What a room is used for is the campus's own word; the beginnings below are those that people write for ways out (common
practice). A word that is not among them, or no word at all, is no proof that a room is none.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from inventory.core.snapshot import Room, Snapshot

MUST_NOT_FAIL = 5  # importance
WAYS_OUT = ("corridor", "stair", "exit", "escape", "egress", "lobby", "foyer", "hallway", "passage", "vestibule")
WATCH = "Must not fail: post a watch, and keep required egress lighting working."


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """One room that goes dark and needs a watch, and why."""

    building: str
    room: str
    why: str


def why_watched(use: str | None, importance: int | None) -> str | None:
    """Return in words why a room needs a watch while it is dark, None where nothing on record says so.

    Examples
    --------
    >>> why_watched("wet lab", 5)
    'must not fail (importance 5)'
    >>> why_watched("Corridor", 5)
    'must not fail (importance 5), on a way out by its use (Corridor)'
    >>> why_watched("office", None) is None
    True

    """
    reasons = []
    if importance is not None and importance >= MUST_NOT_FAIL:
        reasons.append(f"must not fail (importance {importance})")
    if use is not None and any(word.startswith(WAYS_OUT) for word in use.casefold().split()):
        reasons.append(f"on a way out by its use ({use})")
    return ", ".join(reasons) or None


def rooms_by_key(snapshot: Snapshot) -> dict[tuple[str, str], Room]:
    """Return the rooms of a campus by building and name."""
    return {(snapshot.buildings[room.building].key, room.key): room for room in snapshot.rooms}


def watches_of(facts: Mapping[tuple[str, str], Room], rooms: Iterable[tuple[str, str]]) -> tuple[Watch, ...]:
    """Return those of some dark rooms, by building and name, that need a watch, in the order given."""
    return tuple(watch for key in rooms if key in facts and (watch := _watch(key, facts[key])) is not None)


def _watch(key: tuple[str, str], room: Room) -> Watch | None:
    why = why_watched(room.use, room.importance)
    return None if why is None else Watch(building=key[0], room=key[1], why=why)
