"""What is there of one part when an order needs it: units freed by earlier work, stock, and what is due by then."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from inventory.core.catalogue import Model, NodeKind, Part
from planner.core.arrivals import after_working_days
from planner.core.netting import ZERO
from planner.core.plans import Order, Placed

REUSED_KINDS = (NodeKind.GATEWAY, NodeKind.SUPPLY)
Freed = Mapping[str, list[tuple[datetime, Decimal]]]  # by part: when units come free, and how many


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """Units taken, by where they came from."""

    freed: Decimal = ZERO
    stock: Decimal = ZERO
    due: Decimal = ZERO

    @property
    def units(self) -> Decimal:
        """All of them."""
        return self.freed + self.stock + self.due

    def __add__(self, other: "Taken") -> "Taken":
        return Taken(freed=self.freed + other.freed, stock=self.stock + other.stock, due=self.due + other.due)


@dataclass(slots=True, kw_only=True)
class Shelf:
    """What is left of one part: units in stock, units freed and units due (when, how many), units taken of those."""

    stock: Decimal
    freed: tuple[tuple[datetime, Decimal], ...] = ()
    due: tuple[tuple[date, Decimal], ...] = ()  # first day of use
    freed_taken: Decimal = field(default=ZERO)
    due_taken: Decimal = field(default=ZERO)

    def take(self, quantity: Decimal, when: datetime, night: date) -> Taken:
        """Take up to a quantity at an instant of a night."""
        ready = sum((count for at, count in self.freed if at <= when), ZERO) - self.freed_taken
        there = sum((count for day, count in self.due if day <= night), ZERO) - self.due_taken
        freed = min(quantity, max(ZERO, ready))  # what is asked for later may be needed earlier
        stock = min(quantity - freed, self.stock)
        due = min(quantity - freed - stock, max(ZERO, there))
        self.freed_taken += freed
        self.stock -= stock
        self.due_taken += due
        return Taken(freed=freed, stock=stock, due=due)


def shelf_for(part: Part, freed: Freed, reserve_days: int, today: date | None) -> Shelf:
    """Return the shelf of a part before any work; what is overdue is taken to come today."""
    return Shelf(
        stock=max(ZERO, part.on_hand or ZERO),
        freed=tuple(sorted(freed.get(part.key, ()))),
        due=tuple(due_units(part, reserve_days, today)),
    )


def due_units(part: Part, reserve_days: int, today: date | None) -> Iterable[tuple[date, Decimal]]:
    """Return first day of use and units of each delivery still to come, by day."""
    days = ((max(each.due, today or each.due), each.quantity) for each in part.deliveries)
    return sorted((after_working_days(day, reserve_days), quantity) for day, quantity in days)


def freed_of(placed: Iterable[Placed], orders: Mapping[str, Order], models: tuple[Model, ...]) -> Freed:
    """Return when units of each part come free: at the end of the order that takes them out.

    Freed gateways and supplies go back as the part of their model; old stations go to the spare pool.
    """
    part_of = {model.key: model.part for model in models if model.kind in REUSED_KINDS and model.part is not None}
    freed: dict[str, list[tuple[datetime, Decimal]]] = defaultdict(list)
    for place in placed:
        for model, count in orders[place.order].freed:
            if (part := part_of.get(model)) is not None:
                freed[part].append((place.end, Decimal(count)))
    return freed
