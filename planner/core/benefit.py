"""What converting a station is worth.

Benefit of an order is the sum over its stations of importance x risk:

- importance of the room, 1 to 5; not known counts as 3, the middle;
- risk = age / service life + 0.5 if support has ended + 0.25 for each failure on record; an age or a service life
  that is not known counts as a life just used up (1.0).

These weights are common practice for ranking replacements, no measured rates: they order work, and promise nothing.
"""

from datetime import date

from inventory.core.catalogue import Model
from planner.core.campus_index import Campus

MIDDLE_IMPORTANCE = 3
SUPPORT_ENDED_RISK = 0.5
FAILURE_RISK = 0.25
USED_UP = 1.0
DAYS_A_YEAR = 365.25


def station_benefit(campus: Campus, node: int) -> float:
    """Return importance x risk of one station, by its position."""
    room = campus.room(node)
    importance = None if room is None else campus.snapshot.rooms[room].importance
    return (MIDDLE_IMPORTANCE if importance is None else importance) * _risk(campus, node)


def _risk(campus: Campus, node: int) -> float:
    model, today = campus.model(node), campus.snapshot.taken_on
    supported = None if model is None else model.supported_until
    ended = supported is not None and today is not None and supported < today
    failures = max(0, int(campus.snapshot.nodes.failures[node]))
    return _life_used(campus, node, model) + SUPPORT_ENDED_RISK * ended + FAILURE_RISK * failures


def _life_used(campus: Campus, node: int, model: Model | None) -> float:
    installed, today = campus.installed(node), campus.snapshot.taken_on
    life = None if model is None else model.service_life_years
    if installed is None or today is None or not life:
        return USED_UP
    return max(0, (today - installed).days) / DAYS_A_YEAR / life


def oldest_of(campus: Campus, stations: tuple[str, ...]) -> date | None:
    """Return the day the oldest of some stations was installed, None if none is known."""
    days = (campus.installed(campus.node[station]) for station in stations)
    return min((day for day in days if day is not None), default=None)
