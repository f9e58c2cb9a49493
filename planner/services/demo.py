"""The demo campus in mid-migration: what its people did from November to April, each act at its own moment.

The workbook is taken in and planned; phase one is bought, delivered and done, one of its orders is backed out; the parts of
phase two are ordered and one delivery does not come; what waits for it is put off, and the plan goes on from there. The
figure for which the order was backed out is on record, and so is the one read once the joint was made good. Every
act is the service that the site itself calls, only the clock is pretended, and the ticks of a whole night are entered at
once. Which order and which delivery go wrong follows from the plan, so that the story holds whatever the plan.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property
from uuid import NAMESPACE_OID, UUID, uuid5

from django.contrib.auth.models import User
from django.db import transaction
from django.utils.text import slugify

from inventory.core.readings import Quantity
from inventory.core.roles import Role
from inventory.core.saying import day_words
from inventory.models import Delivery, Intake, Part
from inventory.services.intake import IntakeResult
from inventory.services.stock import Ordered
from planner.core.arrivals import after_working_days
from planner.core.figures import Figure
from planner.core.figures_due import figures_due
from planner.core.measuring import Measure
from planner.core.plans import OrderState, Phase
from planner.models import Crew as CrewRow
from planner.models import Order, Plan, WorkEntry
from planner.models import Phase as PhaseRow
from planner.models.briefs import FIRST_BRIEF
from planner.models.work import ACCEPT, BACK_OUT, BEGIN, FIGURE, NOTE, SERIAL, TICK
from planner.services.adoption import adopt
from planner.services.briefs import keep_rows
from planner.services.clock import set_campus_clock, standing_at
from planner.services.crews import crews_of, put_on_crews
from planner.services.delays import put_off
from planner.services.intake import take_with_calendars
from planner.services.materials import order_part, take_delivery
from planner.services.mending import mend
from planner.services.people import person_of
from planner.services.plan import plan_campus
from planner.services.readings import Entry, enter_readings
from planner.services.segment_sheets import sheets_of
from planner.services.work import Typed, enter, pack_of
from planner.store.briefs import load_phases
from planner.store.plans import load_settings

TAKEN_IN = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
PLANNED = datetime(2026, 11, 16, 10, 0, tzinfo=UTC)
ORDERED_AT, CAME_AT = time(9, 0, tzinfo=UTC), time(10, 30, tzinfo=UTC)
PUT_OFF = datetime(2027, 4, 6, 9, 15, tzinfo=UTC)
PLANNED_AGAIN = datetime(2027, 4, 6, 14, 0, tzinfo=UTC)
TODAY = datetime(2027, 4, 7, 8, 30, tzinfo=UTC)
PROMISED = date(2027, 4, 19)  # when the late parts are said to come
SECOND_TRY = Decimal(2500)  # in the currency of the brief

SECOND_PERSON = "M. Skerry"
NOTED = "The cover screws of the last box were seized; new ones fitted."
WET_JOINT_OHM = "61"
NOT_AS_RECORDED = (
    f"The loop resistance from {{where}} reads {WET_JOINT_OHM} ohm and changes when the cable is moved: a joint above "
    "the ceiling is wet. Old station put back, every zone answers. Dry and remake the joint before the next try."
)
METER = "milliohm meter, calibrated 4 Jan 2027"
COLDER = 0.95  # of the loop reckoned for warm walls
UNTIL_REMADE, REMADE_AT = timedelta(days=14), time(10, 0, tzinfo=UTC)
REMADE = "Joint above the ceiling dried and remade."


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """The workbook of the demo campus, and its calendars by name."""

    name: str
    workbook: bytes
    calendars: Mapping[str, bytes]


class DemoRefused(ValueError):  # noqa: N818 - says what it is
    """The workbook of the demo could not be taken in, so nothing was stored; `problems` say why."""

    def __init__(self, result: IntakeResult) -> None:
        super().__init__("The workbook of the demo could not be taken in.")
        self.problems = result.problems


def is_made() -> bool:
    """Tell whether the demo campus is there already; it is made whole or not at all."""
    return Intake.objects.exists() and Plan.objects.exists()


@transaction.atomic
def make_untouched(files: Files, seconds: float) -> Plan:
    """Take the workbook in and plan it once; nothing is adopted, bought or begun."""
    people = _people()
    _take_in(files, people)
    put_people_on_crews()
    with standing_at(PLANNED):
        plan = plan_campus(seconds=seconds, by=people[Role.PLANNING]).plan
    set_campus_clock(PLANNED)
    return plan


@transaction.atomic
def make_midway(files: Files, seconds: float) -> Plan:
    """Take the workbook in, plan it, carry phase one out, and plan again what is left; return the plan that goes on."""
    people = _people()
    _take_in(files, people)
    crews = put_people_on_crews()
    with standing_at(PLANNED):
        plan = adopt(plan_campus(seconds=seconds / 3, by=people[Role.PLANNING]).plan, by=people[Role.PLANNING])
    first, second, *_ = sorted(load_phases(FIRST_BRIEF), key=lambda phase: phase.start)
    _buy(plan, first, people, 2231)
    _receive(people, first.start)
    _make_good(_work_through(plan, first, crews), people[Role.FACILITIES])
    late = _late_one(plan, second, _buy(plan, second, people, 2264))
    _receive(people, TODAY.date(), but=late)
    _put_off_what_waits(plan, second, late, people[Role.PLANNING])
    _pay_for_second_try(people[Role.PLANNING])
    with standing_at(PLANNED_AGAIN):
        again = plan_campus(seconds=seconds, by=people[Role.PLANNING], goes_on_from=plan).plan
        adopt(again, by=people[Role.PLANNING])
    set_campus_clock(TODAY)
    return again


def _people() -> dict[Role, User]:
    return {role: person_of(role) for role in Role}


def put_people_on_crews() -> dict[str, User]:
    """Put one person on each crew of the workbook, the first named like the role; return them by crew. Done again it changes nothing."""
    keys = list(CrewRow.objects.filter(brief__name=FIRST_BRIEF).order_by("key").values_list("key", flat=True))
    people = {key: person_of(Role.CREW, slugify(key) if place else "") for place, key in enumerate(keys)}
    with standing_at(TAKEN_IN):
        for key, person in people.items():
            if not crews_of(person):
                put_on_crews(person, [key], by=person_of(Role.FACILITIES))
    return people


def _take_in(files: Files, people: Mapping[Role, User]) -> None:
    with standing_at(TAKEN_IN):
        result = take_with_calendars(files.workbook, files.name, files.calendars, by=people[Role.FACILITIES])
    if not result.stored:
        raise DemoRefused(result)


def _buy(plan: Plan, phase: Phase, people: Mapping[Role, User], first_reference: int) -> list[Delivery]:
    """Take in what is due until then, and order what the take-off says for a phase, one reference a supplier."""
    day = phase.materials_ordered_on or phase.start
    _receive(people, day)
    lines = list(plan.takeoff.filter(phase=phase.key, net__gt=0, lead_time_days__isnull=False).order_by("part"))
    suppliers = sorted({line.supplier or "" for line in lines})
    parts = Part.objects.in_bulk([line.part for line in lines], field_name="key")
    with standing_at(datetime.combine(day, ORDERED_AT)):
        for line in lines:
            what = Ordered(
                part=parts[line.part],
                quantity=line.bought,
                due=day + timedelta(days=line.lead_time_days or 0),
                reference=f"PO-{first_reference + suppliers.index(line.supplier or '')}",
            )
            order_part(_token("ordered", phase.key, line.part), what, people[Role.PURCHASING])
    names = [f"PO-{first_reference + place}" for place in range(len(suppliers))]
    return list(Delivery.objects.filter(reference__in=names).select_related("part"))


def _receive(people: Mapping[Role, User], until: date, but: Delivery | None = None) -> None:
    """Put what is due until a day on the shelf, each on its own day, but for the delivery that does not come."""
    coming = Delivery.objects.filter(due__lt=until).exclude(pk__in=[but.pk] if but else []).order_by("due", "pk")
    for delivery in coming:
        with standing_at(datetime.combine(delivery.due, CAME_AT)):
            token = _token("came", str(delivery.pk))
            take_delivery(token, delivery.pk, delivery.quantity, people[Role.PURCHASING])


def _work_through(plan: Plan, phase: Phase, crews: Mapping[str, User]) -> "_Night":
    """Carry a phase's orders out, moment by moment; return the one backed out: the smallest, of several the last."""
    nights = [_Night(order=order) for order in plan.orders.filter(phase=phase.key, start__isnull=False)]
    fails = min(nights, key=lambda night: (night.order.stations, -night.start.timestamp()))
    acts = [(night.start, night, night.begin()) for night in nights]
    acts += [(night.end, night, night.accept()) for night in nights if night is not fails]
    acts += [(fails.half, fails, typed) for typed in (fails.read(), fails.back_out())]
    for moment, night, typed in sorted(acts, key=lambda act: (act[0], act[1].order.key)):
        crew = crews[night.order.crew or ""]
        with standing_at(moment):
            if typed.act in (FIGURE, ACCEPT):
                night.fill_journal(moment, crew, whole=typed.act == ACCEPT)
            enter(night.order, typed, by=crew)
    return fails


def _make_good(night: "_Night", facilities: User) -> None:
    """Enter what the loop of the order backed out reads once its joint is remade, so that its records are doubted no more."""
    loop, expected_ohm = night.loop
    entry = Entry(quantity=loop.quantity, node=loop.node, far=loop.far, value=round(expected_ohm, 1))
    moment = datetime.combine((night.half + UNTIL_REMADE).date(), REMADE_AT)
    with standing_at(moment):
        enter_readings([entry], moment.date(), instrument=METER, note=REMADE, by=facilities)
        mend(Order.objects.get(pk=night.order.pk), f"{REMADE} The loop reads {entry.value:g} ohm now.", by=facilities)


@dataclass(frozen=True, kw_only=True)
class _Night:
    """An order in its night."""

    order: Order

    @property
    def start(self) -> datetime:
        return self.order.start or TODAY

    @property
    def end(self) -> datetime:
        return self.order.end or TODAY

    @property
    def half(self) -> datetime:
        """When half of its time is over."""
        return self.start + (self.end - self.start) / 2

    @cached_property
    def loop(self) -> tuple[Measure, float]:
        """The first loop of its segments and what it should read; the demo's orders always ask for one."""
        sheets = sheets_of(self.order.plan.assessment_id, self.order.data["segments"])
        asked = ((one, one.figure) for sheet in sheets for one in sheet.measures if one.quantity is Quantity.LOOP)
        return next((one, figure.expected) for one, figure in asked if figure is not None)

    def begin(self) -> Typed:
        return self._typed(BEGIN)

    def accept(self) -> Typed:
        return self._typed(ACCEPT)

    def read(self) -> Typed:
        return self._typed(FIGURE, WET_JOINT_OHM, code=self.loop[0].code, instrument=METER)

    def back_out(self) -> Typed:
        return self._typed(BACK_OUT, NOT_AS_RECORDED.format(where=self.loop[0].where))

    def _typed(self, act: str, text: str = "", *, code: str = "", instrument: str = "") -> Typed:
        return Typed(token=_token(act, self.order.key), act=act, text=text, code=code, instrument=instrument)

    def _figures(self) -> dict[str, tuple[tuple[Measure, float], ...]]:
        """Return the figures that its steps ask for by step, each with what is read: as expected, loops a little below."""
        sheets = sheets_of(self.order.plan.assessment_id, self.order.data["segments"])
        due = figures_due(pack_of(self.order), {sheet.report.segment: sheet.measures for sheet in sheets})
        return {
            code: tuple(
                (one, round(_as_read(one.quantity, one.figure), 1)) for one in several if one.figure is not None
            )
            for code, several in due.items()
        }

    def fill_journal(self, until: datetime, crew: User, *, whole: bool) -> None:
        """Enter figures, ticks and serial numbers between the start and a moment; where it is not done whole, to its first hold."""
        steps = pack_of(self.order).steps
        first = next((place for place, step in enumerate(steps) if step.hold), len(steps))
        figures = self._figures() if whole else {}
        lines: list[tuple[str, str, str]] = []
        for step in steps if whole else steps[:first]:
            lines += [(FIGURE, one.code, f"{value:g}") for one, value in figures.get(step.code, ())]
            lines.append((TICK, step.code, SECOND_PERSON if step.hold else ""))
        if whole:
            read = [
                Entry(quantity=one.quantity, node=one.node, far=one.far, value=value)
                for several in figures.values()
                for one, value in several
            ]
            enter_readings(read, until.date(), instrument=METER, by=crew)
            serials = enumerate(self.order.data["stations"], start=1)
            lines += [(SERIAL, station, f"{self.order.key}-{number:02}") for number, station in serials]
            lines += [(NOTE, "", NOTED)]
        span = (until - self.start) / (len(lines) + 1)
        moments = [self.start + span * place for place in range(1, len(lines) + 1)]
        WorkEntry.objects.bulk_create(
            WorkEntry(
                order=self.order,
                token=_token(act, self.order.key, code),
                act=act,
                code=code,
                text=text,
                done=moment,
                at=moment,
                by=crew,
            )
            for moment, (act, code, text) in zip(moments, lines, strict=True)
        )


def _as_read(quantity: Quantity, figure: Figure) -> float:
    """Return what a good meter shows: a loop is colder and a little shorter than reckoned."""
    return figure.expected * (COLDER if quantity is Quantity.LOOP else 1.0)


def _late_one(plan: Plan, phase: Phase, bought: list[Delivery]) -> Delivery | None:
    """Return the delivery that does not come: of those due by now, the one that the fewest orders of a phase wait for."""
    waiting = {each: len(_waiting(plan, phase, each)) for each in bought if each.due < TODAY.date()}
    needed = [each for each, orders in waiting.items() if orders]
    return min(needed, key=lambda each: (waiting[each], each.part.key), default=None)


def _waiting(plan: Plan, phase: Phase, delivery: Delivery) -> list[Order]:
    orders = plan.orders.filter(phase=phase.key, state=OrderState.BOOKED).order_by("key")
    return [order for order in orders if any(need["part"] == delivery.part.key for need in order.data["parts"])]


def _put_off_what_waits(plan: Plan, phase: Phase, late: Delivery | None, planner: User) -> None:
    """Put off the orders that need what has not come, to the first night on which it can be used."""
    if late is None:
        return
    usable = after_working_days(PROMISED, load_settings(plan).receiving_reserve_days)
    why = f"{late.part.key} of {late.reference} has not come; the supplier names {day_words(PROMISED)}."
    with standing_at(PUT_OFF):
        for order in _waiting(plan, phase, late):
            put_off(order, usable, by=planner, why=why)


def _pay_for_second_try(planner: User) -> None:
    """Give the last phase the money for what has to be done a second time."""
    last = PhaseRow.objects.filter(brief__name=FIRST_BRIEF).order_by("start").last()
    if last is not None and last.budget is not None:
        last.budget += SECOND_TRY
        with standing_at(PUT_OFF):
            keep_rows([last], [], by=planner)


def _token(*words: str) -> UUID:
    """Return the token of one entry of the demo, the same each time it is made."""
    return uuid5(NAMESPACE_OID, " ".join(("demo", *words)))
