"""Time-phased netting: what to release when, so that needs are met from stock, from what is due, and from lots.

The textbook record: gross requirements, scheduled receipts, on hand, net requirements, planned receipts, planned
releases, one figure a period. Quantities are Decimal.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

ZERO = Decimal(0)
Quantities = tuple[Decimal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRule:
    """How much to order: what is short over `periods` periods, rounded up to whole multiples of `multiple` if set.

    One period and no multiple is lot for lot.
    """

    periods: int = 1
    multiple: Decimal | None = None

    def lot(self, short: Decimal) -> Decimal:
        """Return the lot that covers what is short."""
        return short if self.multiple is None else round_up(short, self.multiple)


LOT_FOR_LOT = LotRule()


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One part's record; one figure a period. `late` is what would have had to be released before the first."""

    gross: Quantities
    scheduled: Quantities
    on_hand: Quantities  # at the end of each period
    net: Quantities
    receipt: Quantities
    release: Quantities
    late: Decimal


def round_up(quantity: Decimal, multiple: Decimal) -> Decimal:
    """Return the least whole multiple that is no less than a quantity.

    Examples
    --------
    >>> round_up(Decimal(33), Decimal(32)), round_up(Decimal(0), Decimal(32))
    (Decimal('64'), Decimal('0'))

    """
    return multiple * math.ceil(quantity / multiple)


def net_record(
    gross: Sequence[Decimal],
    *,
    scheduled: Sequence[Decimal] = (),
    on_hand: Decimal = ZERO,
    lead_periods: int = 0,
    rule: LotRule = LOT_FOR_LOT,
    covers: Sequence[int] | None = None,
) -> Record:
    """Return the time-phased record of one part.

    Parameters
    ----------
    gross, scheduled : sequences of Decimal
        Needs and receipts due, by period; receipts past the last named are none.
    on_hand : Decimal
        Stock before the first period.
    lead_periods : int
        Periods from release to receipt.
    rule : LotRule
        Lot sizing.
    covers : sequence of int, optional
        Over how many periods a lot of each period is meant to last, where that is not the same for all.

    Returns
    -------
    Record
        All rows have the length of `gross`.

    Raises
    ------
    ValueError
        If more receipts than periods are given, or a lead time or lot rule is below what makes sense.

    Examples
    --------
    >>> record = net_record([Decimal(0), Decimal(20), Decimal(80)], lead_periods=1)
    >>> [int(quantity) for quantity in record.release]
    [20, 80, 0]

    """
    bad_rule = rule.periods < 1 or (rule.multiple is not None and rule.multiple <= 0)
    if len(scheduled) > len(gross) or lead_periods < 0 or bad_rule:
        raise ValueError("a record needs a period for each receipt, a lead time from 0 up, lots above 0")
    due = (*scheduled, *[ZERO] * (len(gross) - len(scheduled)))
    spans = [rule.periods] * len(gross) if covers is None else covers
    nets, receipts, stocks, stock = [], [], [], on_hand
    for at, need in enumerate(gross):
        left = stock + due[at] - need
        receipt = rule.lot(_short(gross, due, stock, at, spans[at])) if left < 0 else ZERO
        nets.append(max(ZERO, -left))
        receipts.append(receipt)
        stock = left + receipt
        stocks.append(stock)
    return Record(
        gross=tuple(gross),
        scheduled=due,
        on_hand=tuple(stocks),
        net=tuple(nets),
        receipt=tuple(receipts),
        release=tuple(receipts[lead_periods:] + [ZERO] * min(lead_periods, len(receipts))),
        late=sum(receipts[:lead_periods], ZERO),
    )


def _short(gross: Sequence[Decimal], due: Sequence[Decimal], stock: Decimal, at: int, periods: int) -> Decimal:
    """Return the lot at a period that leaves nothing short over some periods, given the stock before it."""
    deepest, level = ZERO, stock
    for need, receipt in zip(gross[at : at + periods], due[at : at + periods], strict=True):
        level += receipt - need
        deepest = min(deepest, level)
    return -deepest


def economic_lot(demand: float, order_cost: float, holding_cost: float) -> float:
    """Return the lot that makes ordering and holding cost least, sqrt(2 D K / h).

    Parameters
    ----------
    demand : float
        Units per period.
    order_cost : float
        Cost of one order.
    holding_cost : float
        Cost of holding one unit for one period.

    Raises
    ------
    ValueError
        If the holding cost is not above zero, or another figure is below.

    References
    ----------
    F. W. Harris, "How many parts to make at once", Factory 10 (1913); any inventory textbook.

    Examples
    --------
    >>> round(economic_lot(20, 50, 2), 2)
    31.62

    """
    if holding_cost <= 0 or demand < 0 or order_cost < 0:
        raise ValueError("the holding cost must be above zero, demand and order cost not below")
    return math.sqrt(2 * demand * order_cost / holding_cost)
