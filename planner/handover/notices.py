"""Notices for the people in the rooms: when, how long, what stays dark, whom to ask. As text, to print or to send."""

from dataclasses import dataclass
from datetime import datetime

from planner.core.plans import Order, Placed
from planner.handover.facts import Handed


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """What the people in the rooms of one order are told; times are those of the building."""

    order: str
    building: str
    building_name: str | None
    rooms: str
    dark_from: datetime
    dark_to: datetime
    minutes: int
    contact: str

    @property
    def lines(self) -> tuple[str, ...]:
        """Return the notice line by line."""
        where = f"{self.building} {self.building_name}" if self.building_name else self.building
        return (
            "WALL STATIONS OUT OF USE",
            f"Where: {where}",
            f"Rooms: {self.rooms}",
            f"When: {_moment(self.dark_from)} to {_moment(self.dark_to)}, {self.minutes} minutes",
            "What: the wall stations of these rooms are replaced. In that time they do not answer.",
            "Lights may stay as they were left or go out, and nothing can be switched from the room.",
            "Required exit lighting stays lit, or a watch is posted.",
            "Please leave the rooms free, and take what you need with you.",
            f"Questions: {self.contact}. Order {self.order}.",
        )


def notices_of(handed: Handed) -> tuple[Notice, ...]:
    """Return one notice for each planned order that is still to come or under way, by building and start."""
    orders = {order.key: order for order in handed.orders}
    found = [(orders[place.order], place) for place in handed.plan.placed if place.order not in handed.over]
    found.sort(key=lambda pair: (pair[0].building, pair[1].start, pair[0].key))
    return tuple(_notice(handed, order, place) for order, place in found)


def _notice(handed: Handed, order: Order, place: Placed) -> Notice:
    zone = handed.zone(order.building)
    return Notice(
        order=order.key,
        building=order.building,
        building_name=handed.building_name(order.building),
        rooms=handed.rooms_label(order) or "see the order",
        dark_from=place.dark_from.astimezone(zone),
        dark_to=place.dark_to.astimezone(zone),
        minutes=round((place.dark_to - place.dark_from).total_seconds() / 60),
        contact=handed.contact,
    )


def write_notices(handed: Handed) -> dict[str, bytes]:
    """Return all notices as one text file, empty where nothing is planned."""
    notices = notices_of(handed)
    if not notices:
        return {}
    rule = "\n" + "-" * 72 + "\n"
    text = rule.join("\n".join(notice.lines) for notice in notices)
    return {"notices.txt": (text + "\n").encode()}


def _moment(moment: datetime) -> str:
    """Return a local moment that no one can read the other way round."""
    return f"{moment:%A} {moment.day} {moment:%B %Y, %H:%M}"
