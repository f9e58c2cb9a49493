"""Why an order is not in a plan, in words with the figures behind it. REASONS is the table, in the order of asking."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from inventory.core.saying import counted_words, day_words, number_words
from planner.core.arrivals import shelf_of
from planner.core.demands import Demands
from planner.core.plans import Order, Phase, Placed, Unplanned, Window, WindowsOfOrder

NAMED = 5  # orders named as being in the way


class ReasonCode(StrEnum):
    """Codes of the reasons."""

    STOPPED = "backed out"
    FACTS = "facts missing"
    PEOPLE = "too few people"
    WINDOW = "no window long enough"
    CALENDAR = "no window"
    PREDECESSOR = "predecessor unplanned"
    PARTS = "parts too late"
    PRICE = "price not known"
    BUDGET = "budget spent"
    CROWDED = "crowded out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One unplanned order with what may keep it out."""

    order: Order
    found: WindowsOfOrder
    demands: Demands
    placed: tuple[Placed, ...]
    orders: dict[str, Order]
    phases: dict[str, Phase]

    def timely(self) -> list[Window]:
        """Return its windows for which its parts can be there, or lie on the shelf."""
        return [window for window in self.found.windows if not self.missing(window)]

    def missing(self, window: Window) -> list[str]:
        """Return the parts that can be neither there nor on the shelf in a window."""
        return [
            need.part
            for need in self.order.parts
            if need.quantity > self.there(need.part, window.night) and self.late(window.phase, window.night, need.part)
        ]

    def late(self, phase: str, night: date, part: str) -> bool:
        """Tell whether a part bought for a phase cannot be there in a night."""
        day = self.demands.arrivals.get((phase, part))
        return day is None or night < day

    def there(self, part: str, night: date) -> Decimal:
        """Return what is known to lie on the shelf in a night, what is due by then included."""
        known = next((each for each in self.demands.parts if each.key == part), None)
        return shelf_of(known, self.demands.brief.receiving_reserve_days, self.demands.now.date()).by(night)


def reasons_for(demands: Demands, placed: tuple[Placed, ...]) -> tuple[Unplanned, ...]:
    """Return every order that is not placed with the first reason that holds, by key."""
    done = {each.order for each in placed}
    windows = {each.order: each for each in demands.windows}
    orders = {order.key: order for order in demands.orders}
    phases = {phase.key: phase for phase in demands.phases}
    return tuple(
        _reason(
            Asked(
                order=order,
                found=windows.get(key, WindowsOfOrder(order=key, windows=(), longest_free_min=0)),
                demands=demands,
                placed=placed,
                orders=orders,
                phases=phases,
            )
        )
        for key, order in sorted(orders.items())
        if key not in done
    )


def _reason(asked: Asked) -> Unplanned:
    for code, look in REASONS:
        words = look(asked)
        if words is not None:
            return Unplanned(order=asked.order.key, code=code.value, reason=words)
    return Unplanned(order=asked.order.key, code=ReasonCode.CROWDED.value, reason=crowded(asked))


def _stopped(asked: Asked) -> str | None:
    return "; ".join(asked.order.stopped) or None


def _facts(asked: Asked) -> str | None:
    if not asked.order.unknown:
        return None
    return f"it cannot be dated until this is known: {'; '.join(asked.order.unknown)}"


def _people(asked: Asked) -> str | None:
    most = max((crew.people for crew in asked.demands.crews), default=0)
    if asked.order.people <= most:
        return None
    return f"it needs {asked.order.people} people, the largest crew has {most}"


def _window(asked: Asked) -> str | None:
    found, needed = asked.found, asked.order.onsite_min
    if found.windows or not 0 < found.longest_free_min < needed:
        return None
    return f"it needs {needed} min on site, the longest window found is {found.longest_free_min} min"


def _calendar(asked: Asked) -> str | None:
    if asked.found.windows:
        return None
    return "; ".join(asked.found.problems) or "no time was found at which its rooms are free and a crew is on shift"


def _predecessor(asked: Asked) -> str | None:
    done = {each.order for each in asked.placed}
    missing = sorted(set(asked.order.predecessors) - done)
    return f"it comes after {', '.join(missing)}, not planned either" if missing else None


def _parts(asked: Asked) -> str | None:
    if asked.timely():
        return None
    window = max(asked.found.windows, key=lambda each: each.night)
    return "; ".join(_late_part(asked, window, part) for part in asked.missing(window))


def _late_part(asked: Asked, window: Window, part: str) -> str:
    day = asked.demands.arrivals.get((window.phase, part))
    needed = next(need.quantity for need in asked.order.parts if need.part == part)
    there = asked.there(part, window.night)
    if day is None:
        return (
            f"{number_words(needed)} of part {part} needed, {number_words(there)} on hand by then, lead time not known"
        )
    return (
        f"{number_words(needed)} of part {part} needed, {number_words(there)} on hand by then, usable from {day_words(day)} if bought for "
        f"{window.phase}; the last window is the night of {day_words(window.night)}"
    )


def _price(asked: Asked) -> str | None:
    if not asked.order.unpriced or any(_budget_of(asked, window) is None for window in asked.timely()):
        return None
    return f"no price is known for {', '.join(asked.order.unpriced)}, so that no budget could be kept"


def _budget_of(asked: Asked, window: Window) -> Decimal | None:
    phase = asked.phases.get(window.phase)
    return None if phase is None else phase.budget


def _budget(asked: Asked) -> str | None:
    lines = []
    for key in sorted({window.phase for window in asked.timely()}):
        budget = asked.phases[key].budget if key in asked.phases else None
        spent = sum(
            (
                asked.orders[each.order].cost
                for each in asked.placed
                if each.phase == key and each.order in asked.orders
            ),
            Decimal(0),
        )
        if budget is None or spent + asked.order.cost <= budget:
            return None
        lines.append(f"{key} has {budget - spent} of {budget} {asked.order.currency} left")
    return f"it costs {asked.order.cost} {asked.order.currency}; {', '.join(lines)}"


def crowded(asked: Asked) -> str:
    """Return who takes the windows of an order, in words."""
    windows = asked.timely()
    blockers = Counter(other for window in windows for other in _in_the_way(asked, window))
    if not blockers:
        return (
            f"none of its {counted_words(len(windows), 'window')} is taken, but the search found no better plan with it"
        )
    named = sorted(blockers, key=lambda key: (-blockers[key], key))
    more = f" and {len(named) - NAMED} more" if len(named) > NAMED else ""
    return f"its {counted_words(len(windows), 'window')} {'is' if len(windows) == 1 else 'are'} taken by {', '.join(named[:NAMED])}{more}"


def _in_the_way(asked: Asked, window: Window) -> set[str]:
    """Return the placed orders that share the crew, the building's outages, a room, or scarce stock in a window."""
    rooms, parts = set(asked.order.rooms), {need.part for need in asked.order.parts}
    scarce = {part for part in parts if asked.late(window.phase, window.night, part)}
    found = set()
    for each in asked.placed:
        other = asked.orders.get(each.order)
        meets = each.start < window.end and window.start < each.end
        same_building = other is not None and other.building == asked.order.building
        same_room = other is not None and each.night == window.night and bool(rooms & set(other.rooms))
        same_stock = other is not None and any(
            need.part in scarce and asked.late(each.phase, each.night, need.part) for need in other.parts
        )
        if (meets and (each.crew == window.crew or same_building)) or same_room or same_stock:
            found.add(each.order)
    return found


Look = Callable[[Asked], str | None]
REASONS: tuple[tuple[ReasonCode, Look], ...] = (
    (ReasonCode.STOPPED, _stopped),
    (ReasonCode.FACTS, _facts),
    (ReasonCode.PEOPLE, _people),
    (ReasonCode.WINDOW, _window),
    (ReasonCode.CALENDAR, _calendar),
    (ReasonCode.PREDECESSOR, _predecessor),
    (ReasonCode.PARTS, _parts),
    (ReasonCode.PRICE, _price),
    (ReasonCode.BUDGET, _budget),
)
