"""Ordering parts and taking deliveries: each form counts once, however often it is sent."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from inventory.core.saying import number_words
from inventory.models import Delivery, Part, StockEntry
from inventory.services.records import create_record, edit_record, remove_record
from inventory.store.targets import By

ORDERED, DELIVERED = "ordered", "delivered"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered:
    """What was ordered: units of a part, due on a day under a reference."""

    part: Part
    quantity: Decimal
    due: date
    reference: str | None = None


@transaction.atomic
def order(token: UUID, what: Ordered, by: By) -> bool:
    """Put on record that a part is ordered; False where this form has been counted before."""
    if not _first_time(token, ORDERED, what, by):
        return False
    same = Delivery.objects.select_for_update().filter(part=what.part, due=what.due, reference=what.reference).first()
    if same is None:
        values = {"part": what.part, "due": what.due, "quantity": what.quantity, "reference": what.reference}
        create_record(Delivery, values, by)
    else:
        edit_record(same, {"quantity": same.quantity + what.quantity}, by)
    return True


@transaction.atomic
def deliver(token: UUID, delivery_id: int, quantity: Decimal, by: By) -> bool:
    """Put what came on the shelf and take it off what is still to come, both or neither; False where counted before."""
    if StockEntry.objects.filter(token=token).exists():
        return False
    delivery = _still_to_come(delivery_id)
    if quantity > delivery.quantity:
        most = number_words(delivery.quantity)
        raise ValidationError({"quantity": f"Only {most} are still to come. Enter {most} or less."})
    came = Ordered(part=delivery.part, quantity=quantity, due=delivery.due, reference=delivery.reference)
    if not _first_time(token, DELIVERED, came, by):
        return False
    part = Part.objects.select_for_update().get(pk=delivery.part_id)
    edit_record(part, {"on_hand": (part.on_hand or Decimal(0)) + quantity}, by)
    if quantity == delivery.quantity:
        remove_record(delivery, by)
    else:
        edit_record(delivery, {"quantity": delivery.quantity - quantity}, by)
    return True


@transaction.atomic
def expect(delivery_id: int, due: date, by: By) -> Delivery:
    """Change the day on which a delivery is expected."""
    return edit_record(_still_to_come(delivery_id), {"due": due}, by)


def _still_to_come(delivery_id: int) -> Delivery:
    delivery = Delivery.objects.select_for_update().select_related("part").filter(pk=delivery_id).first()
    if delivery is None:
        raise ValidationError("This delivery is not on record any more: it has come, or someone took it out.")
    return delivery


def _first_time(token: UUID, kind: str, what: Ordered, by: By) -> bool:
    """Keep that a form has been counted; False where it was kept before."""
    facts = {
        "kind": kind,
        "part": what.part,
        "quantity": what.quantity,
        "due": what.due,
        "reference": what.reference,
        "at": timezone.now(),
        "by": by,
    }
    return StockEntry.objects.get_or_create(token=token, defaults=facts)[1]
