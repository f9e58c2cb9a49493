"""An order that can be worked on: the small invented campus with a method of five steps, two of them hold points."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from uuid import UUID, uuid4

from django.utils import timezone

from inventory.core.readings import Quantity
from inventory.models import Bus, Cable, EquipmentModel, Method, MethodStep, Node, Part, Protocol, Run
from planner.core.plans import ChangeStep, Conversion, OrderState
from planner.core.plans import Order as OrderRecord
from planner.models import Order, Precedence, Segment, WorkEntry
from planner.services.work import Typed, enter, pack_of
from planner.store.records import from_json, to_json
from tests.site_campus import whole_campus

STEPS = (  # text, minutes, people, outage, hold point
    ("Save zones and scenes of the old station", 5, 1, False, False),
    ("Isolate, lock off and prove dead", 4, 2, True, True),
    ("Land both ends by the landing table", 9, 1, True, False),
    ("Second person reads both ends back", 3, 2, True, True),
    ("Enter zones and scenes again, try each", 6, 1, False, False),
)


class Site:
    """One order, and who works on it."""

    def __init__(self, made: Callable[[], Order] | None = None) -> None:
        self.people = whole_campus()
        self.order = (made or work_order)()
        self.station = pack_of(self.order).order.stations[0]

    def enter(
        self, act: str, code: str = "", text: str = "", *, by: str = "crew", token: UUID | None = None, **more: object
    ) -> WorkEntry:
        typed = Typed(token=token or uuid4(), act=act, code=code, text=text, **more)  # type: ignore[arg-type]
        return enter(self.order, typed, by=self.people[by])

    def all_ticked(self) -> None:
        self.enter("begin")
        for step in pack_of(self.order).steps:
            self.enter("tick", step.code, "Ines" if step.hold else "")

    @property
    def state(self) -> str:
        return Order.objects.get(pk=self.order.pk).state


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
                dark=False,
            ),
        ),
        extras=(("B1-L0", "box adapter"),),
        methods=("M-9",),
        oldest=date(2001, 1, 1),
    )
    order.data = to_json(made)
    into_its_window(order)
    return order


def asking_order() -> Order:
    """Give the order that is measured a hold point that asks for the loop, its second step."""
    order = measured_order()
    MethodStep.objects.filter(step=2).update(reading=Quantity.LOOP)
    return order


def into_its_window(order: Order, after: timedelta = timedelta(minutes=5)) -> None:
    """Let the window of an order have begun a while ago (below zero: not yet)."""
    length = (order.end or timezone.now()) - (order.start or timezone.now())
    order.start = timezone.now() - after
    order.end = order.start + length
    order.dark_from, order.dark_to = order.start + timedelta(minutes=20), order.end - timedelta(minutes=15)
    order.save()


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


def measured_order() -> Order:
    """Give the order that can be worked on 40 m of known cable: its loop reads 1.72 ohm.

    Two conductors of 40 m, 18 AWG stranded: NFPA 70, chapter 9, table 8 has 7.95 ohm in 1000 ft at 75 C (from memory), so 1.72
    ohm out and back at 20 C by copper's 0.00393 a kelvin.
    """
    order = work_order()
    cable = Cable.objects.create(
        key="2x2 18AWG",
        power_conductor="18 AWG",
        power_pairs=1,
        conductor_class="stranded",
        data_pairs=1,
        data_conductor="18 AWG",
    )
    ends = [Node.objects.get(key=key) for key in ("B1-L0-G", order.data["stations"][0])]
    bus = Bus.objects.get(key="B1-L0")
    run = Run.objects.create(key="B1-R0", bus=bus, from_node=ends[0], to_node=ends[1], cable=cable, length_m=40.0)
    segment = Segment.objects.get(assessment=order.plan.assessment, key="B1-L0")
    segment.report["runs"] = [run.key]
    segment.save(update_fields=["report"])
    return order


def land(order: Order, pins: Mapping[str, int]) -> None:
    """Land each signal of the order's method on its pin, and put the order's first segment under that method."""
    method = Method.objects.get(key="M-9")
    for signal, pin in pins.items():
        method.pins.create(signal=signal, old_conductor=f"data pair, {signal}", terminal=str(pin), rj45_pin=pin)
    segment = Segment.objects.get(assessment=order.plan.assessment, key="B1-L0")
    segment.report["methods"] = [[order.data["stations"][0], method.key]]
    segment.save(update_fields=["report"])
