"""An order that can be worked on: the small invented campus with a method of five steps, two of them hold points."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from django.utils import timezone

from inventory.models import EquipmentModel, Method, MethodStep, Part, Protocol
from planner.core.plans import ChangeStep, Conversion, OrderState
from planner.core.plans import Order as OrderRecord
from planner.models import Order, Precedence
from planner.store.records import from_json, to_json

STEPS = (  # text, minutes, people, outage, hold point
    ("Save zones and scenes of the old station", 5, 1, False, False),
    ("Isolate, lock off and prove dead", 4, 2, True, True),
    ("Land both ends by the landing table", 9, 1, True, False),
    ("Second person reads both ends back", 3, 2, True, True),
    ("Enter zones and scenes again, try each", 6, 1, False, False),
)


def work_order() -> Order:
    """Give the booked order of the small campus a method, a change beside it, and parts on the shelf."""
    models = {model.key: model for model in EquipmentModel.objects.all()}
    method = Method.objects.create(
        key="M-9",
        old_model=models["WS-10"],
        new_model=models["WS-70"],
        new_protocol=Protocol.objects.get(key="NEWPAIR"),
        caution="Mains may share the box.",
    )
    MethodStep.objects.bulk_create(
        MethodStep(method=method, step=n, text=text, minutes=minutes, people=people, outage=dark, hold_point=hold)
        for n, (text, minutes, people, dark, hold) in enumerate(STEPS, start=1)
    )
    Part.objects.get_or_create(key="P-1001", defaults={"on_hand": Decimal(10), "description": "Breakout"})
    order = Order.objects.get(key="B1-O1", state=OrderState.BOOKED)
    record = from_json(OrderRecord, order.data)
    made = replace(
        record,
        conversions=(
            Conversion(
                segment="B1-L0",
                protocol="NEWPAIR",
                bit_rate_kbit_s=None,
                buses=("B1-L0",),
                gateways=("B1-L0-G",),
                stations=tuple((station, "M-9") for station in record.stations),
            ),
        ),
        changes=(
            ChangeStep(
                segment="B1-L0",
                what="box adapter",
                words="where the opening is too small",
                minutes=4.0,
                people=1,
                dark=True,
            ),
        ),
        extras=(("B1-L0", "box adapter"),),
        methods=("M-9",),
        oldest=date(2001, 1, 1),
    )
    order.data = to_json(made)
    order.save()
    return order


def comes_first(order: Order, key: str = "B1-O0", why: str = "one key for both") -> Order:
    """Let another order of the small campus come before an order, by a planner's choice; return it."""
    first = order.plan.orders.get(key=key)
    first.data["segments"] = [f"segment of {key}"]
    first.save(update_fields=["data"])
    Precedence.objects.create(
        earlier=first.data["segments"],
        later=order.data["segments"],
        first=first.key,
        then=order.key,
        at=timezone.now(),
        why=why,
    )
    return first
