"""What differs between plans: orders that move, come in, are left out or are grouped otherwise, and what it all comes to.

An order is the same in two plans where it has the same segments, whatever its name. Differences are told against the
first plan.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from planner.core.money import sum_by_currency
from planner.core.plans import Order, Placed


class Difference(StrEnum):
    """How an order of a plan stands against the first plan."""

    SAME = "the same"
    MOVED = "moved"
    ADDED = "comes in"
    DROPPED = "left out"
    REGROUPED = "grouped otherwise"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One order of one plan, dated or not."""

    order: Order
    placed: Placed | None
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """How one order stands in one plan."""

    entry: Entry | None
    difference: Difference


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One order over all plans: how it stands in each, and how that differs from the first."""

    key: str
    building: str
    entries: tuple[Entry | None, ...]
    differences: tuple[Difference, ...]

    @property
    def cells(self) -> tuple[Cell, ...]:
        """How it stands in each plan."""
        pairs = zip(self.entries, self.differences, strict=True)
        return tuple(Cell(entry=entry, difference=difference) for entry, difference in pairs)

    @property
    def differs(self) -> bool:
        """Whether it stands otherwise in some plan than in the first."""
        return any(each is not Difference.SAME for each in self.differences)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """What a plan comes to. `benefit_share` of all its orders' benefit is converted; None where there is none at all."""

    orders: int
    dated: int
    stations: int
    benefit_share: float | None
    costs: tuple[tuple[str, Decimal], ...]
    nights: int
    journeys: int
    finish: date | None
    finish_by_phase: tuple[tuple[str, date], ...]


def compare(plans: Sequence[Iterable[Entry]]) -> tuple[Row, ...]:
    """Return every order that some plan has, by building and name.

    Parameters
    ----------
    plans : sequence of iterables of Entry
        The first is the one that the others are held against.

    """
    found = [{each.order.segments: each for each in plan} for plan in plans]
    dated = [{segment for each in one.values() if each.placed for segment in each.order.segments} for one in found]
    keys = {segments: None for one in found for segments in one}
    rows = [_row(segments, found, dated) for segments in keys]
    return tuple(sorted(rows, key=lambda row: (row.building, row.key, not row.differs, _segments(row))))


def _segments(row: Row) -> tuple[str, ...]:
    return next(entry.order.segments for entry in row.entries if entry is not None)


def _row(segments: tuple[str, ...], found: list[dict[tuple[str, ...], Entry]], dated: list[set[str]]) -> Row:
    entries = tuple(one.get(segments) for one in found)
    named = next(entry for entry in entries if entry is not None)
    return Row(
        key=named.order.key,
        building=named.order.building,
        entries=entries,
        differences=tuple(
            _difference(entries[0], entry, dated[0].isdisjoint(segments), mine.isdisjoint(segments))
            for entry, mine in zip(entries, dated, strict=True)
        ),
    )


def _difference(first: Entry | None, other: Entry | None, first_without: bool, other_without: bool) -> Difference:  # noqa: FBT001
    """Return how an entry differs; `without`: none of its segments is dated in that plan, in whatever group."""
    old, new = _place(first), _place(other)
    if (old is None and not first_without and new) or (new is None and not other_without and old):
        return Difference.REGROUPED
    if (old is None) != (new is None):
        return Difference.ADDED if old is None else Difference.DROPPED
    return Difference.SAME if old == new else Difference.MOVED


def _place(entry: Entry | None) -> tuple[object, ...] | None:
    placed = entry.placed if entry else None
    return None if placed is None else (placed.crew, placed.start, placed.end)


def tally(rows: Iterable[Row], plan: int) -> dict[Difference, int]:
    """Return how many orders of a plan stand in which way against the first."""
    counted = Counter(row.differences[plan] for row in rows)
    return {each: counted[each] for each in Difference}


def sums_of(plan: Iterable[Entry]) -> Sums:
    """Return what a plan comes to."""
    entries = list(plan)
    done = [(entry.order, entry.placed) for entry in entries if entry.placed is not None]
    total = sum(max(entry.order.benefit, 0.0) for entry in entries)
    phases: dict[str, date] = {}
    for _, placed in done:
        phases[placed.phase] = max(placed.night, phases.get(placed.phase, placed.night))
    return Sums(
        orders=len(entries),
        dated=len(done),
        stations=sum(len(order.stations) for order, _ in done),
        benefit_share=sum(max(order.benefit, 0.0) for order, _ in done) / total if total else None,
        costs=sum_by_currency((order.currency, order.cost) for order, _ in done),
        nights=len({(placed.crew, placed.night) for _, placed in done}),
        journeys=len({(placed.crew, placed.night, order.building) for order, placed in done}),
        finish=max((placed.night for _, placed in done), default=None),
        finish_by_phase=tuple(sorted(phases.items())),
    )
