"""The workbook of what is to be bought: one supplier's, or everybody's."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from planner.core.purchases import Purchase
from planner.handover.columns import Table
from planner.handover.facts import PurchaseRow
from planner.handover.tables import PURCHASES
from planner.handover.xlsx import write_tables


def write_purchases(found: Sequence[Purchase], campus: str, made: datetime, today: date) -> bytes:
    """Return the workbook of some purchases, earliest order-by date first; equal purchases give equal bytes."""
    ranked = sorted(found, key=lambda one: (one.line.order_by or date.min, one.line.supplier or "", one.line.part))
    rows = tuple(PurchaseRow(line=one.line, late_days=_late_days(one.line.order_by, today)) for one in ranked)
    table = Table(
        title="Purchases",
        columns=PURCHASES,
        rows=rows,
        currency=lambda row: row.line.currency,
        empty="nothing is to be bought",
    )
    return write_tables((table,), campus, made)


def _late_days(order_by: date | None, today: date) -> int | None:
    return None if order_by is None or order_by >= today else (today - order_by) // timedelta(days=1)
