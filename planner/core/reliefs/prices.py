"""What changes cost: parts by the methods, cable by the metre, nodes by the move. Unknown stays unknown."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from inventory.core.catalogue import NodeKind, Part
from inventory.core.snapshot import Snapshot
from planner.core.bill import SegmentWork, bill
from planner.core.brief import Brief
from planner.core.money import to_cents
from planner.core.rules.case import Case
from planner.core.rules.columns import known

LONGEST_M = 1e7  # longer than any campus: no length, and nothing to price


@dataclass(frozen=True, slots=True, order=True)
class Price:
    """How many prices are not known, and the sum of those that are; what is not known sorts behind what is."""

    unknown: int = 0
    known: Decimal = Decimal(0)

    def __add__(self, other: "Price") -> "Price":
        return Price(self.unknown + other.unknown, self.known + other.known)

    def less(self, other: "Price") -> "Price":
        """Return what this price has beyond another one."""
        return Price(max(self.unknown - other.unknown, 0), self.known - other.known)

    @property
    def amount(self) -> Decimal | None:
        """Return the price to the cent, None where a part of it is not known."""
        return None if self.unknown else to_cents(self.known)


NOT_KNOWN = Price(1)
NOTHING = Price()


def total(prices: Iterable[Price]) -> Price:
    """Return the sum."""
    return sum(prices, NOTHING)


class PriceList:
    """The prices of one campus under one brief, all in the brief's currency."""

    def __init__(self, snapshot: Snapshot, brief: Brief) -> None:
        catalogue = snapshot.catalogue
        self._brief = brief
        self._parts = {part.key: part for part in catalogue.parts}
        self._model_parts = {model.key: model.part for model in catalogue.models}
        self._cables = [self._of_part(cable.part) for cable in catalogue.cables]

    @property
    def currency(self) -> str:
        """Return the currency of all prices."""
        return self._brief.currency

    def _of_part(self, key: str | None, quantity: Decimal = Decimal(1)) -> Price:
        part: Part | None = self._parts.get(key or "")
        if part is None or part.price is None or part.currency != self._brief.currency:
            return NOT_KNOWN
        return Price(0, part.price * quantity)

    def parts(self, case: Case, extras: frozenset[str]) -> Price:
        """Return what the methods' parts cost on a segment, with some extras."""
        needs = bill((_work(case, extras),), self._model_parts)
        return total(self._of_part(need.part, need.quantity) for need in needs)

    def metre(self, cable: int) -> Price:
        """Return what one metre of a cable costs, pulled."""
        return self._cables[cable] + Price(0, self._brief.pull_rate)

    def cable(self, cable: int, length_m: float) -> Price:
        """Return what a length of cable costs, pulled; a length that is not known has no price."""
        if known(length_m) is None or length_m > LONGEST_M:
            return NOT_KNOWN
        metre = self.metre(cable)
        return Price(metre.unknown, metre.known * Decimal(repr(round(length_m, 6))))

    def moves(self, count: int) -> Price:
        """Return what it costs to move so many nodes."""
        return Price(0, self._brief.move_rate * count)


def _work(case: Case, extras: frozenset[str]) -> SegmentWork:
    kinds = {
        kind: tuple((one.key, one.now.key if one.now else None) for one in case.members if one.kind is kind)
        for kind in (NodeKind.GATEWAY, NodeKind.SUPPLY)
    }
    return SegmentWork(
        segment=case.segment,
        stations=tuple((one.now.key, one.method) for one in case.old if one.now is not None and one.method is not None),
        gateways=kinds[NodeKind.GATEWAY],
        supplies=kinds[NodeKind.SUPPLY],
        cable_ends=sum(wire.cable_ends for wire in case.wires),
        extras=tuple(sorted(extras)),
    )
