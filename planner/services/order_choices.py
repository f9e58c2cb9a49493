"""Split and merge orders by hand: what a choice would cost, whether it holds, and keeping it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from inventory.models import Building
from inventory.store import load_snapshot
from inventory.store.targets import By
from planner.core.choices import Sharing
from planner.core.money import hours_of
from planner.core.orders import Grouped, group_orders
from planner.core.plans import Order
from planner.core.reliefs import take_up
from planner.core.sequence import kept_apart
from planner.models import OrderChoice, Plan, Precedence
from planner.models.briefs import FIRST_BRIEF
from planner.services.words import load_reports
from planner.store.briefs import load_brief
from planner.store.choices import load_afters, load_sharings, load_ticks
from planner.store.verdicts import current_assessment

TOGETHER, APART = ACTS = ("together", "apart")
NEW = "new"  # name of the choice that is looked at, not kept yet
Parts = tuple[tuple[str, ...], ...]


class ChoiceRefused(ValueError):  # noqa: N818 - says what happened
    """A choice that does not hold or says nothing; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Toll:
    """What the orders of one building cost in outages: how many, room-hours, and money for outages and call-outs."""

    orders: int
    room_h: Decimal
    money: Decimal
    currency: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One choice looked at: its parts, the orders of the building with it, and the toll without it and with it.

    `replaces` are kept choices that contradict it and go when it is kept.
    """

    parts: Parts
    orders: tuple[Order, ...]
    before: Toll
    after: Toll
    replaces: tuple[OrderChoice, ...]


class Desk:
    """The campus as planned now, with what was chosen by hand; made once for a page, asked several times."""

    def __init__(self, building: Building) -> None:
        self._building = building
        self._brief = load_brief(FIRST_BRIEF)
        self._snapshot = load_snapshot(taken_on=timezone.localdate())
        assessment = current_assessment()
        reports = load_reports(assessment) if assessment else ()
        self._reports = take_up(self._snapshot, reports, load_ticks(), self._brief).reports
        self._kept = (*load_sharings(), *kept_apart(load_afters()))

    def orders(self) -> tuple[Order, ...]:
        """Return the orders of the building as the next plan would make them afresh."""
        return self._of_building(self._grouped(self._kept))

    def toll(self, orders: Iterable[Order]) -> Toll:
        """Return what some orders cost in outages, by the brief's rates."""
        own = tuple(orders)
        return Toll(
            orders=len(own),
            room_h=sum((len(order.rooms) * hours_of(order.outage_min) for order in own), Decimal(0)),
            money=sum((order.cost_outage + order.cost_call_out for order in own), Decimal(0)),
            currency=self._brief.currency,
        )

    def free_toll(self) -> Toll:
        """Return what the building's orders would cost if nothing were chosen by hand for it."""
        own = {str(row.pk) for row in OrderChoice.objects.filter(building=self._building)}
        others = tuple(sharing for sharing in self._kept if sharing.name not in own)
        return self.toll(self._of_building(self._grouped(others)))

    def look(self, act: str, segments: Sequence[str]) -> Look:
        """Return what it would mean to keep the ticked segments together, or apart from the rest of their orders."""
        now = self.orders()
        parts = _parts(act, segments, now)
        replaced = tuple(self._contradicting(parts))
        names = {str(row.pk) for row in replaced}
        kept = tuple(sharing for sharing in self._kept if sharing.name not in names)
        found = self._grouped((*kept, Sharing(name=NEW, parts=parts)))
        refusal = next((one for one in found.refused if one.about == NEW), None)
        if refusal is not None:
            raise ChoiceRefused(refusal.why)
        after = self._of_building(found)
        return Look(parts=parts, orders=after, before=self.toll(now), after=self.toll(after), replaces=replaced)

    def _grouped(self, sharings: tuple[Sharing, ...]) -> Grouped:
        return group_orders(self._snapshot, self._reports, self._brief, sharings)

    def _of_building(self, found: Grouped) -> tuple[Order, ...]:
        return tuple(order for order in found.orders if order.building == self._building.key)

    def _contradicting(self, parts: Parts) -> Iterable[OrderChoice]:
        """Yield the kept choices that say otherwise of two segments than these parts do."""
        for row in OrderChoice.objects.filter(building=self._building).order_by("at", "pk"):
            theirs = tuple(tuple(part) for part in row.parts)
            if _pairs(parts)[0] & _pairs(theirs)[1] or _pairs(parts)[1] & _pairs(theirs)[0]:
                yield row


def _pairs(parts: Parts) -> tuple[set[frozenset[str]], set[frozenset[str]]]:
    """Return the pairs of segments that some parts put together, and those that they part."""
    part_of = {key: number for number, part in enumerate(parts) for key in part}
    pairs = {frozenset((one, other)) for one in part_of for other in part_of if one < other}
    same = {pair for pair in pairs if len({part_of[key] for key in pair}) == 1}
    return same, pairs - same


def _parts(act: str, segments: Sequence[str], now: Sequence[Order]) -> Parts:
    """Return the parts that an act makes of ticked segments and the orders that they are in now."""
    ticked = set(segments)
    touched = [order for order in now if ticked & set(order.segments)]
    gone = sorted(ticked - {key for order in touched for key in order.segments})
    if gone:
        message = f"Segment {gone[0]} is in no order of this building. Look at the page again."
        raise ChoiceRefused(message)
    if act == TOGETHER:
        if len(ticked) < 2:  # noqa: PLR2004 - one is together with itself
            message = "Tick at least two segments to keep them together."
            raise ChoiceRefused(message)
        return (tuple(sorted(ticked)),)
    split = [order for order in touched if not set(order.segments) <= ticked]
    if len(split) != 1:
        message = "Tick some, not all, of the segments of one order to keep them apart from the rest of it."
        raise ChoiceRefused(message)
    order = set(split[0].segments)
    return tuple(sorted((tuple(sorted(order & ticked)), tuple(sorted(order - ticked)))))


@transaction.atomic
def keep(building: Building, act: str, segments: Sequence[str], why: str | None, *, by: By) -> OrderChoice:
    """Keep a choice, if it holds; older ones that contradict it go."""
    look = Desk(building).look(act, segments)
    parts = [list(part) for part in look.parts]
    again = OrderChoice.objects.filter(building=building, parts=parts).last()
    if again is not None:
        return again  # sent twice
    for row in look.replaces:
        drop(row, by=by)
    return OrderChoice.objects.create(building=building, parts=parts, by=by, at=timezone.now(), why=why or None)


@transaction.atomic
def drop(row: OrderChoice, *, by: By) -> None:
    """Take a choice back; who did it stays in its history."""
    row._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - the name that django-simple-history asks for
    row.delete()


def is_newer_than(row: OrderChoice | Precedence, plan: Plan | None) -> bool:
    """Tell whether a choice was made after a plan, which so knows nothing of it."""
    return plan is None or row.at > plan.made
