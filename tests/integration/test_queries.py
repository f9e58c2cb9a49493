"""Every page asks the database as often on a larger campus as on a small one: more rows are never more questions."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group, User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, reverse
from django.utils import timezone

from inventory.core.roles import Role
from inventory.models import Building, Bus, Delivery, EquipmentModel, Failure, Intake, Node, Part, Room, Scene, Zone
from planner.core.findings import Verdict
from planner.core.plans import OrderState
from planner.models import Assessment, Brief, Crew, Feed, Job, Order, Phase, Plan, Segment, SegmentMember
from planner.services.records import REGISTERS
from planner.tables.records import slug
from tests import site_campus as campus
from tests.bad_input import patterns
from tests.work import work_order

pytestmark = [pytest.mark.django_db, pytest.mark.on_any_database]

FIRST, MORE = 3, 4  # of everything
OK, MANY_PAGES = 200, 90
OPEN = {"sign-in", "sign-out", "feed"}
PRINTS = {"plan-packs"}  # still some queries more here, though not an order


@pytest.fixture
def client() -> Client:
    people = campus.whole_campus()
    work_order()
    for number in range(FIRST):  # so that no page begins with an empty list, nor counts only where a list is full
        grow(number, people["super"])
    made = Client()
    made.force_login(people["super"])
    return made


def grow(number: int, by: User) -> None:
    """Put one more of everything beside what is there: a building with all in it, and more in the first building."""
    building = Building.objects.create(key=f"C{number}", name=f"Hall {number}", district="Quay")
    Room.objects.bulk_create(Room(building=building, key=f"0.{n:02}", floor="0", importance=n) for n in range(1, 4))
    models = {model.key: model for model in EquipmentModel.objects.all()}
    campus.equipment([building], models)
    made = Assessment.objects.latest("pk")
    for at, verdict in enumerate(Verdict):
        for bus in Bus.objects.filter(building=building, key__endswith=f"-L{at}").select_related("building"):
            campus.segment(made, bus, verdict)
    in_the_first_building(number, models["WS-10"])
    plan = Plan.objects.earliest("pk")
    for at, state in enumerate((OrderState.BOOKED, OrderState.DRAFTED, OrderState.ACCEPTED)):
        campus.order(plan, f"C{number}-O{at}", state, datetime(timezone.now().year + 1, 4, 2 + number, 19, tzinfo=UTC))
        campus.order(plan, f"B1-O{number}{at}", state, timezone.now() - timedelta(days=2 + number))
    to_buy(number, plan)
    files(number, by)
    plans_and_people(number, plan, by)


def in_the_first_building(number: int, model: EquipmentModel) -> None:
    building = Building.objects.get(key="B1")
    room = Room.objects.create(building=building, key=f"9.{number:02}", floor="9", importance=3)
    first = Node.objects.filter(model__kind="station").earliest("key")
    for bus in Bus.objects.filter(building=building, key__endswith="-L2"):
        node = campus.station(bus, room, model, 41 + number)
        SegmentMember.objects.create(segment=Segment.objects.get(key=bus.key), node=node)
        Failure.objects.create(node=node, date=timezone.localdate() - timedelta(days=number), what_failed="dark")
    Failure.objects.create(node=first, date=timezone.localdate() - timedelta(days=number), what_failed="dark")
    Zone.objects.create(node=first, key=f"{5 + number}", label="Row")
    Scene.objects.create(node=first, key=f"{5 + number}", label="Slides", levels="1=80")
    first.note = f"note {number}"
    first.save()


def to_buy(number: int, plan: Plan) -> None:
    part = Part.objects.create(key=f"P-8{number}", on_hand=Decimal(2), price=Decimal(3), currency="EUR", supplier="A")
    for one in (part, Part.objects.get(key="P-1001")):
        Delivery.objects.create(part=one, quantity=5, due=timezone.localdate(), reference=f"PO-8{number}")
    line = plan.takeoff.get(part="P-1001", phase="Phase 1")
    line.pk, line.phase, line.supplier = None, f"Phase 8{number}", f"Supplier {number}"
    line.save()


def files(number: int, by: User) -> None:
    Intake.objects.create(
        file_name=f"{number}.xlsx", content=b"", sha256=f"{number}" * 64, by=by, at=timezone.now(),
        counts={"rooms": {"new": 1 + number}},
    )  # fmt: skip
    Feed.objects.create(kind="crew", key=f"Night {number}", by=by, token=f"{number}" * 43, made=timezone.now())
    Job.objects.create(kind="assess", state="done", demand={}, made=timezone.now(), result={})


def plans_and_people(number: int, plan: Plan, by: User) -> None:
    brief = Brief.objects.create(name=f"Brief {number}", copied_from=plan.brief)
    for one in (brief, plan.brief):
        Crew.objects.create(brief=one, key=f"Crew {number}", people=2)
        year = 2030 + number
        Phase.objects.create(brief=one, key=f"Phase 8{number}", start=f"{year}-01-01", end=f"{year}-06-01")
    Plan.objects.create(
        brief=brief, assessment=plan.assessment, made=timezone.now() - timedelta(days=900), by=by, method="exact",
        objective=120, bound=118, gap=1 / 60, list_objective=150, seed=1, seconds=2.0,
    )  # fmt: skip
    person = campus.person(f"hand-{number}")
    person.groups.add(Group.objects.get(name=Role.CREW.value))


def rows() -> dict[str, dict[str, Any]]:
    """Return what the address of a page of one thing names, by the first part of the address's name."""
    order, plan = Order.objects.get(key="B1-O1"), Plan.objects.earliest("pk")
    building = Building.objects.get(key="B1")
    return {
        "building": {"pk": building.pk},
        "room": {"pk": building.rooms.get(key="9.00").pk},
        "station": {"pk": Node.objects.filter(model__kind="station").earliest("key").pk},
        "segment": {"key": "B1-L2"},
        "plan": {"pk": plan.pk},
        "order": {"pk": order.pk},
        "scenario": {"pk": plan.brief_id},
        "material": {"pk": Part.objects.get(key="P-1001").pk},
        "intake": {"pk": Intake.objects.latest("pk").pk},
        "job": {"pk": Job.objects.earliest("pk").pk},
    }


def addresses() -> Iterator[tuple[str, str]]:
    """Yield the name and the address of each page that shows lists, one thing, or a form."""
    known = rows()
    for pattern in patterns():
        name = pattern.name or ""
        named = _names(pattern, known.get(name.partition("-")[0], {}))
        if name not in OPEN and named is not None:
            yield name, reverse(name, kwargs=named)


def _names(pattern: URLPattern, known: dict[str, Any]) -> dict[str, Any] | None:
    """Return what this address names: nothing, a row that is known, or a record of its sheet; None where that is no page."""
    wanted = set(pattern.pattern.converters)
    if not wanted:
        return {}
    if wanted == set(known):
        return known
    found = RECORDS.get((pattern.name or "").rpartition("-")[0])
    row = found().order_by("pk").first() if found and wanted == {"pk"} else None
    return {"pk": row.pk} if row else None


RECORDS: dict[str, Any] = {slug(code): register.rows for code, register in REGISTERS.items()}


def asked(client: Client) -> dict[str, int]:
    """Return how often each page asks the database."""
    counts = {}
    for name, address in addresses():
        with CaptureQueriesContext(connection) as captured:
            answer = client.get(address)
        if answer.status_code == OK and answer.headers["Content-Type"].startswith("text/html"):
            counts[name] = len(captured)
    return counts


def test_no_page_asks_more_often_where_there_is_more_of_everything(client: Client) -> None:
    client.get(reverse("campus"))  # what is remembered from the first page on
    small = asked(client)
    assert len(small) > MANY_PAGES
    for number in range(FIRST, FIRST + MORE):
        grow(number, User.objects.get(username="super"))
    large = asked(client)
    assert set(large) == set(small)
    more = {name: (small[name], count) for name, count in large.items() if count > small[name]}
    assert more.keys() <= PRINTS, more
