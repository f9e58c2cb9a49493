"""What a supplier is handed: the purchases of a plan as a workbook."""

from datetime import datetime

from django.conf import settings
from django.utils import timezone

from planner.handover.purchases import write_purchases
from planner.models import Plan
from planner.services.materials import to_buy


def purchase_workbook(plan: Plan, supplier: str | None, phase: str | None, made: datetime) -> bytes:
    """Return what is to be bought for a plan: of all suppliers (None), of one, or ('') of those not known; for all phases or one."""
    today = timezone.localdate(made)
    found = [
        one
        for one in to_buy(plan, today)
        if supplier in (None, one.line.supplier or "") and phase in (None, one.line.phase)
    ]
    return write_purchases(found, settings.CAMPUS_NAME, made, today)
