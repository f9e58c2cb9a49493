"""An invented campus in tables, small but with every verdict, an order in every state, and lines that are late."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group, User
from django.test import Client
from django.utils import timezone

from inventory.core.roles import Role
from inventory.models import (
    Building,
    Bus,
    EquipmentModel,
    Failure,
    Intake,
    Method,
    Node,
    Protocol,
    Room,
    Scene,
    Spare,
    Zone,
)
from planner.core.findings import Change, Finding, Outcome, SegmentReport, Verdict, WayOut
from planner.core.plans import Order as OrderRecord
from planner.core.plans import OrderState, PartNeed
from planner.models import Assessment, Brief, Order, Plan, Segment, SegmentMember, TakeoffLine
from planner.services.crews import put_on_crews
from planner.store.records import to_json
from tests.kept import begin_with

PASSWORD = "weir-lamp-quay-19"  # noqa: S105 - of people who live in tests only
QUESTION = "Which bus is the node B2-X1 on?"
WAY_OUT = WayOut(
    passes=True,
    price=Decimal("2865.00"),
    priced=Decimal("2865.00"),
    currency="EUR",
    changes=(
        Change(what="move", about="B1-P1", words="B1-P1 to segment B1-L4", price=Decimal("180.00")),
        Change(what="pull anew", about="B1-R1", words="run B1-R1, 100 m of 2x2x18", price=Decimal("2685.00")),
    ),
    parts=Decimal("709.00"),
    methods=("M-10",),
    leaves_close=("voltage: B1-L3-S0 gets 13.1 V, needs 12 V.",),
    along=("B1-L4",),
)
PEOPLE = (*(role.value for role in Role), "nobody", "super")
STATIONS_A_SEGMENT = {"in place": 1, "together": 3, "leave": 0}


def person(name: str, **rights: bool) -> User:
    """Make one person who signs in with PASSWORD."""
    return User.objects.create(username=name, password=make_password(PASSWORD), **rights)


def someone(role: Role | None) -> Client:
    """Return a client signed in as someone with this role alone."""
    user = person(f"one-{role}")
    if role:
        user.groups.add(Group.objects.get(name=role.value))
    client = Client()
    client.force_login(user)
    return client


def people() -> dict[str, User]:
    """Make one person a role, one with none, and one who may do all."""
    made = {role.value: person(role.value) for role in Role}
    for role, user in made.items():
        user.groups.add(Group.objects.get(name=role))
    made["nobody"] = person("nobody")
    made["super"] = person("super", is_staff=True, is_superuser=True)
    return made


def catalogue() -> dict[str, EquipmentModel]:
    """Make models of three ages, a gateway, and the protocols they speak."""
    old, new = (Protocol.objects.create(key=key) for key in ("HALLBUS", "NEWPAIR"))
    rows = [
        ("WS-10", "station", old, date(2012, 6, 30), 20.0),
        ("WS-20", "station", old, date(2030, 6, 30), 25.0),
        ("WS-70", "station", new, None, None),
        ("GW-2", "gateway", old, date(2019, 12, 31), 20.0),
    ]
    return {
        key: EquipmentModel.objects.create(
            key=key, kind=kind, protocol=protocol, supported_until=until, service_life_years=life, zones=8, scenes=16
        )
        for key, kind, protocol, until, life in rows
    }


def places() -> list[Building]:
    """Make three buildings with rooms."""
    names = [("B1", "Weir House", "North bank"), ("B2", "Lamp Works", "Quay"), ("B3", None, None)]
    buildings = [
        Building.objects.create(key=key, name=name, district=district, time_zone="Europe/Lisbon", holidays="PT")
        for key, name, district in names
    ]
    Room.objects.bulk_create(
        Room(building=building, key=f"{floor}.{n:02}", floor=str(floor), use="seminar", importance=1 + n % 5)
        for building in buildings
        for floor in (0, 1)
        for n in range(1, 5)
    )
    return buildings


def equipment(buildings: list[Building], models: dict[str, EquipmentModel]) -> None:
    """Make one bus a verdict and building, each with a gateway and stations of many ages; some facts are not known."""
    for building in buildings:
        rooms = list(building.rooms.order_by("key"))
        for number, verdict in enumerate(Verdict):
            bus = Bus.objects.create(
                key=f"{building.key}-L{number}", building=building, protocol_id=models["WS-10"].protocol_id
            )
            Node.objects.create(key=f"{bus.key}-G", building=building, model=models["GW-2"], bus=bus)
            for n in range(STATIONS_A_SEGMENT.get(verdict.value, 4)):
                station(bus, rooms[(number + n) % len(rooms)], models["WS-20" if n % 2 else "WS-10"], 4 * number + n)


def station(bus: Bus, room: Room, model: EquipmentModel, years: int) -> Node:
    """Make a station so many years old; every fifth of unknown age."""
    return Node.objects.create(
        key=f"{bus.key}-S{years}",
        building=bus.building,
        room=room,
        model=model,
        bus=bus,
        serial=f"20-{bus.pk:03}{years:03}",
        installed=timezone.localdate() - timedelta(days=366 * years + 3) if years % 5 else None,
        condition=1 + years % 5 if years % 3 else None,
    )


def assessment() -> Assessment:
    """Make an assessment with every verdict in every building."""
    made = Assessment.objects.create(at=timezone.now(), by="planning")
    for number, verdict in enumerate(Verdict):
        for bus in Bus.objects.filter(key__endswith=f"-L{number}").select_related("building"):
            segment(made, bus, verdict)
    made.counts = {verdict.value: made.segments.filter(verdict=verdict).count() for verdict in Verdict}
    made.save()
    return made


def segment(made: Assessment, bus: Bus, verdict: Verdict) -> Segment:
    """Make one judged segment with its members."""
    nodes = list(bus.nodes.select_related("model").order_by("key"))
    stations = tuple(node.key for node in nodes if node.model.kind == "station")
    report = SegmentReport(
        segment=bus.key,
        building=bus.building.key,
        buses=(bus.key,),
        verdict=verdict,
        why=f"Invented: {verdict.value}.",
        decided_by="records" if verdict is Verdict.SURVEY_FIRST else None,
        old_stations=stations,
        gateways=(f"{bus.key}-G",),
        others=(),
        nodes=tuple(node.key for node in nodes),
        runs=(),
        questions=(QUESTION,) if verdict is Verdict.SURVEY_FIRST else (),
        way_out=WAY_OUT if verdict is Verdict.NEW_CABLE else None,
        findings=(Finding(rule="alone", outcome=Outcome.PASS, why="Nobody else is on it."),),
    )
    row = Segment.objects.create(
        assessment=made, key=bus.key, building=bus.building, verdict=verdict, why=report.why, station_count=len(stations),
        node_count=len(nodes), report=to_json(report),
    )  # fmt: skip
    SegmentMember.objects.bulk_create(SegmentMember(segment=row, node=node) for node in nodes)
    return row


def plan(made: Assessment, by: User) -> Plan:
    """Make an adopted plan: one order in each state, one overdue, one left out, and a take-off with late lines."""
    brief = Brief.objects.create(name="First plan")
    now = timezone.now()
    row = Plan.objects.create(
        brief=brief, assessment=made, made=now, by=by, method="exact", objective=120, bound=118, gap=1 / 60, list_objective=150, seed=1,
        seconds=2.0, adopted=now, adopted_by=by,
    )  # fmt: skip
    for number, state in enumerate(OrderState):
        order(row, f"B1-O{number}", state, datetime(now.year + 1, 3, 2 + number, 19, tzinfo=UTC))
    order(row, "B2-O1", OrderState.DRAFTED, now - timedelta(days=9))
    order(row, "B2-O2", OrderState.DRAFTED, None)
    takeoff(row)
    return row


def order(plan_row: Plan, key: str, state: OrderState, start: datetime | None) -> Order:
    """Make one order; without a start it is left out of the plan."""
    building = Building.objects.get(key=key[:2])
    stations = tuple(
        building.nodes.filter(bus__key=f"{building.key}-L0", model__kind="station").values_list("key", flat=True)
    )
    record = OrderRecord(
        key=key, building=building.key, district=building.district, segments=(f"{building.key}-L0",), stations=stations,
        rooms=((building.key, "0.01"),), people=2, setup_min=20, outage_min=150, restore_min=15,
        parts=(PartNeed(part="P-1001", quantity=Decimal(6)),), freed=(("WS-10", 1),), cost_parts=Decimal("224.40"),
        cost_labour=Decimal("206.80"), cost_outage=Decimal(0), currency="EUR", unpriced=(), benefit=7.5, oldest=None,
    )  # fmt: skip
    row = Order(
        plan=plan_row, key=key, building=building, state=state, stations=len(stations), people=2, outage_min=150, onsite_min=185,
        benefit=7.5, cost=record.cost, currency="EUR", data=to_json(record),
    )  # fmt: skip
    if start:
        row.crew, row.phase, row.night, row.start, row.end = (
            "Night A",
            "Phase 1",
            start.date(),
            start,
            start + timedelta(minutes=185),
        )
        row.dark_from, row.dark_to = start + timedelta(minutes=20), start + timedelta(minutes=170)
    else:
        row.reason_code, row.reason = "no window", "No window is long enough: the longest found has 90 min."
    row.save()
    return row


def takeoff(plan_row: Plan) -> None:
    """Make lines of a take-off: late, in time, nothing to buy, no price."""
    today = timezone.localdate()
    rows = [
        ("P-1001", "Breakout, screw terminals to RJ45", Decimal("7.40"), today - timedelta(days=3), Decimal(42)),
        ("P-2001", "=Wall station", Decimal(180), today + timedelta(days=40), Decimal(21)),
        ("P-3001", "Patch lead, 1 m", Decimal("2.10"), today + timedelta(days=50), Decimal(0)),
        ("P-4001", None, None, None, Decimal(3)),
    ]
    TakeoffLine.objects.bulk_create(
        TakeoffLine(
            plan=plan_row, phase="Phase 1", part=part, description=words, unit="piece", supplier="Northquay Supply" if price else None, gross=net + 5,
            allowance=Decimal(2), from_stock=Decimal(7), from_freed=Decimal(0), net=net, pack=Decimal(1), packs=int(net), bought=net, price=price,
            currency="EUR" if price else None, cost=net * price if price else None, first_need=by and by + timedelta(days=30), order_by=by,
            note=None if price else "price and lead time are not known",
        )
        for part, words, price, by, net in rows
    )  # fmt: skip


def whole_campus() -> dict[str, User]:
    """Make all of it, or put in again what was made; return the people."""
    begin_with(_whole_campus)
    return {user.username: user for user in User.objects.filter(username__in=PEOPLE)}


def _whole_campus() -> None:
    made = people()
    buildings, models = places(), catalogue()
    equipment(buildings, models)
    first = Node.objects.filter(model__kind="station").order_by("key").first()
    assert first
    Zone.objects.create(node=first, key="1", label="Front row")
    Scene.objects.create(node=first, key="1", label="Slides", levels="1=80")
    Spare.objects.create(model=models["WS-10"], on_hand=4, store="Main store")
    Intake.objects.create(
        file_name="campus.xlsx", content=b"", sha256="0" * 64, by=made["facilities"], at=timezone.now()
    )
    plan(assessment(), made["planning"])
    put_on_crews(made["crew"], ["Night A"], by=made["planning"])


def wear() -> None:
    """Put a dozen failures on record, and a method that makes their model an old one."""
    models = {model.key: model for model in EquipmentModel.objects.all()}
    Method.objects.create(
        key="M-1",
        old_model=models["WS-10"],
        new_model=models["WS-70"],
        new_protocol=Protocol.objects.get(key="NEWPAIR"),
    )
    today = timezone.localdate()
    old = Node.objects.filter(model__key="WS-10", installed__lt=today - timedelta(days=900)).order_by("key")[:12]
    Failure.objects.bulk_create(
        Failure(node=node, date=today - timedelta(days=60 * at + 5), outcome="replaced") for at, node in enumerate(old)
    )
