"""Calendar files of the plan (RFC 5545): one a building for the people in its rooms, one a crew for their nights."""

import re
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from uuid import NAMESPACE_URL, UUID, uuid5

from icalendar import Calendar, Event, Timezone, TimezoneStandard

from inventory.core.saying import counted_words
from planner.core.plans import Order, Placed
from planner.handover.facts import Handed

PRODID = "-//Changeover//plan of work//EN"
NAMESPACE = uuid5(NAMESPACE_URL, "changeover:orders")  # names the events; never looked up
_NOT_A_NAME = re.compile(r"[^A-Za-z0-9._-]+")


def write_calendars(handed: Handed) -> dict[str, bytes]:
    """Return the calendar files by name: every building that has an order, and every crew, be it without one."""
    orders = {order.key: order for order in handed.orders}
    files: dict[str, bytes] = {}
    for building in sorted({orders[place.order].building for place in handed.plan.placed}):
        files[_free_name(f"building-{building}", files)] = building_calendar(handed, building)
    for crew in sorted({*handed.crews, *(place.crew for place in handed.plan.placed)}):
        files[_free_name(f"crew-{crew}", files)] = crew_calendar(handed, crew)
    return files


def building_calendar(handed: Handed, building: str) -> bytes:
    """Return the calendar of one building: an event for each planned order, with what the people in its rooms must know."""
    name = handed.building_name(building)
    title = f"{building} {name}: stations out" if name else f"{building}: stations out"
    events = (_building_event(handed, order, place) for order, place in _dated(handed) if order.building == building)
    return _calendar(title, events)


def crew_calendar(handed: Handed, crew: str) -> bytes:
    """Return the calendar of one crew: an event for each of its orders, with what it must know."""
    events = (_crew_event(handed, order, place) for order, place in _dated(handed) if place.crew == crew)
    return _calendar(f"Crew {crew}", events)


def _dated(handed: Handed) -> list[tuple[Order, Placed]]:
    """Return the planned orders with their places, by start."""
    orders = {order.key: order for order in handed.orders}
    placed = sorted(handed.plan.placed, key=lambda place: (place.start, place.order))
    return [(orders[place.order], place) for place in placed]


def event_uid(campus: str, order: str, reader: str) -> str:
    """Return the name of an event: the same for the same order on the same calendar, in every later hand-over.

    Examples
    --------
    >>> event_uid("Isle", "B01-1", "building") == event_uid("Isle", "B01-1", "building")
    True
    >>> event_uid("Isle", "B01-1", "building") == event_uid("Isle", "B01-1", "crew")
    False

    """
    name: UUID = uuid5(NAMESPACE, "\n".join((campus, order, reader)))
    return f"{name}@changeover.invalid"


def _free_name(stem: str, taken: Iterable[str]) -> str:
    """Return a file name that every file system takes, and that differs from those taken even without case."""
    plain = _NOT_A_NAME.sub("-", stem).strip("-.")
    used = {name.casefold() for name in taken}
    name, number = f"{plain}.ics", 2
    while name.casefold() in used:
        name, number = f"{plain}-{number}.ics", number + 1
    return name


def _calendar(title: str, events: Iterable[Event]) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", title)
    for event in events:
        calendar.add_component(event)
    if not calendar.subcomponents:
        calendar.add_component(_utc())
    return bytes(calendar.to_ical())


def _utc() -> Timezone:
    """Return the zone that all instants are in: what stands in a calendar without events, since it may not hold nothing."""
    zone, always = Timezone(), TimezoneStandard()
    zone.add("tzid", "UTC")
    always.add("dtstart", datetime(1970, 1, 1))  # noqa: DTZ001 - of a zone it is local
    always.add("tzoffsetfrom", timedelta(0))
    always.add("tzoffsetto", timedelta(0))
    zone.add_component(always)
    return zone


def _event(uid: str, stamp: datetime, span: tuple[datetime, datetime], texts: tuple[str, str, str]) -> Event:
    summary, location, description = texts
    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", stamp.astimezone(UTC))
    event.add("dtstart", span[0].astimezone(UTC))
    event.add("dtend", span[1].astimezone(UTC))
    event.add("summary", summary)
    event.add("location", location)
    event.add("description", description)
    return event


def _building_event(handed: Handed, order: Order, placed: Placed) -> Event:
    """Return what the people in the rooms must know: when, what will not work, whom to ask."""
    local_from, local_to = (handed.local(order.building, at) for at in (placed.dark_from, placed.dark_to))
    description = "\n".join(
        (
            f"Rooms: {handed.rooms_label(order)}.",
            f"From {_clock(local_from)} to {_clock(local_to)} (time of the building):",
            "the wall stations of these rooms do not answer, what they switch cannot be switched from the room.",
            "Lights may stay as they were left or go out. Escape routes stay lit, or a watch is posted.",
            *_watches(order),
            f"Ask: {handed.contact}. Order {order.key}, crew {placed.crew}.",
        )
    )
    texts = ("Wall stations out of use", _place(handed, order), description)
    uid = event_uid(handed.campus, order.key, "building")
    return _event(uid, handed.made, (placed.dark_from, placed.dark_to), texts)


def _crew_event(handed: Handed, order: Order, placed: Placed) -> Event:
    """Return what the crew must know: where, what, how long the rooms may be dark, whom to ask."""
    local_from, local_to = (handed.local(order.building, at) for at in (placed.dark_from, placed.dark_to))
    extras = [f"{extra} on {segment}" for segment, extra in order.extras]
    description = "\n".join(
        (
            f"Rooms: {handed.rooms_label(order)}.",
            f"Stations: {', '.join(order.stations)}. Segments: {', '.join(order.segments)}.",
            f"Methods: {', '.join(order.methods) or 'see the work pack'}. Extras: {', '.join(extras) or 'none'}.",
            f"Rooms dark from {_clock(local_from)} to {_clock(local_to)} (time of the building), {order.people} people.",
            *_watches(order),
            "Isolate, lock off and prove dead first; hold points need a second person.",
            f"Ask: {handed.contact}.",
        )
    )
    texts = (
        f"{order.key}: {counted_words(len(order.stations), 'station')}, {order.building}",
        _place(handed, order),
        description,
    )
    return _event(event_uid(handed.campus, order.key, "crew"), handed.made, (placed.start, placed.end), texts)


def _watches(order: Order) -> tuple[str, ...]:
    """Return in which rooms to post a watch and why, one line, or none where no room needs one."""
    rooms = "; ".join(f"{one.building} {one.room} {one.why}" for one in order.watches)
    return (f"Post a watch while it is dark: {rooms}.",) if rooms else ()


def _place(handed: Handed, order: Order) -> str:
    name = handed.building_name(order.building)
    return f"{order.building} {name}" if name else order.building


def _clock(moment: datetime | None) -> str:
    """Return a local time that no one can read the other way round."""
    return f"{moment:%a} {moment.day} {moment:%b %Y %H:%M}" if moment is not None else "a time not known"
