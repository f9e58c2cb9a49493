"""Places: buildings by name, travel between them, and the shifts of crews on their clocks."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.plans import Crew, Place, Places

DAY_MIN = 24 * 60


def places_of(snapshot: Snapshot) -> Places:
    """Return what a plan must know of the buildings of a campus."""
    return Places(
        places=tuple(
            Place(
                building=building.key,
                district=building.district,
                outages_at_once=building.outages_at_once,
                time_zone=building.time_zone,
            )
            for building in snapshot.buildings
        )
    )


def place_named(places: Places, building: str) -> Place:
    """Return a building's place; one of which nothing is known where it is not listed."""
    return next((place for place in places.places if place.building == building), Place(building=building))


def travel_min(one: Place, two: Place, brief: Brief) -> int:
    """Return the minutes between two buildings; where a district is not known, as between districts."""
    if one.building == two.building:
        return 0
    if one.district is not None and one.district == two.district:
        return brief.travel_same_district_min
    return brief.travel_between_districts_min


def shift_span(crew: Crew, night: date, zone: str) -> tuple[datetime, datetime] | None:
    """Return start and end (UTC) of the shift that begins on a local date, None where the crew has none that day.

    A wall time that does not exist is read with the offset before the change, one that occurs twice as the first
    of the two (RFC 5545 section 3.3.5).
    """
    if night.weekday() not in crew.days:
        return None
    to_min = crew.shift_to_min + (DAY_MIN if crew.shift_to_min <= crew.shift_from_min else 0)
    return _instant(night, crew.shift_from_min, zone), _instant(night, to_min, zone)


def _instant(day: date, minute: int, zone: str) -> datetime:
    wall = datetime.combine(day, time(), tzinfo=ZoneInfo(zone)) + timedelta(minutes=minute)
    return wall.astimezone(UTC)
