"""A small hand-over by hand: two buildings in two time zones, three orders, odd texts."""

from datetime import UTC, date, datetime
from decimal import Decimal

import numpy as np

from inventory.core.catalogue import Catalogue, Method, MethodPin
from inventory.core.snapshot import Building, Nodes, Room, Runs, Snapshot
from planner.core.brief import Brief
from planner.core.findings import Finding, LoadVoltage, Outcome, SegmentReport, Verdict
from planner.core.materials import Takeoff, TakeoffLine
from planner.core.plans import CheckLine, Order, PhaseSummary, Placed, Plan, Unplanned, Window, WindowsOfOrder
from planner.handover.facts import Handed

MADE = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
BEFORE_CHANGE = datetime(2027, 3, 26, 21, 0, tzinfo=UTC)  # 21:00 in London, 17:00 in New York
AFTER_CHANGE = datetime(2027, 3, 29, 21, 0, tzinfo=UTC)  # 22:00 in London
PINS = (
    MethodPin(signal="CAN_H", old_conductor="data, white", terminal="1", rj45_pin=1, source="CiA 303-1"),
    MethodPin(signal="CAN_L", old_conductor="data, blue", terminal="2", rj45_pin=2, source="CiA 303-1"),
)


def order(key: str, building: str, *, stations: int, parts: str, labour: str = "80.00") -> Order:
    return Order(
        key=key,
        building=building,
        district=None,
        segments=(f"{key}-L1",),
        stations=tuple(f"{key}-S{number}" for number in range(stations)),
        rooms=((building, "1.01"),),
        people=2,
        setup_min=20,
        outage_min=90,
        restore_min=15,
        parts=(),
        freed=(("WS-20", stations),),
        cost_parts=Decimal(parts),
        cost_labour=Decimal(labour),
        cost_outage=Decimal("12.50"),
        cost_call_out=Decimal("10.00"),
        currency="EUR",
        unpriced=(),
        benefit=1.5,
        oldest=None,
        methods=("M-1",),
        extras=((f"{key}-L1", "end resistor"),),
    )


def place(key: str, start: datetime, phase: str, crew: str = "Night A") -> Placed:
    return Placed(
        order=key,
        crew=crew,
        phase=phase,
        night=start.date(),
        start=start,
        end=start.replace(hour=23, minute=5),
        dark_from=start.replace(minute=20),
        dark_to=start.replace(hour=22, minute=50),
    )


def line(phase: str, part: str, *, packs: int, price: str | None, currency: str | None = "EUR") -> TakeoffLine:
    return TakeoffLine(
        phase=phase,
        part=part,
        description="=SUM(1,2) looks like a formula",
        unit="piece",
        supplier="+49 looks like a number",
        gross=Decimal(12),
        allowance=Decimal("0.6"),
        from_stock=Decimal(2),
        from_freed=Decimal(1),
        net=Decimal("9.6"),
        pack=Decimal(10),
        packs=packs,
        bought=Decimal(10 * packs),
        price=Decimal(price) if price else None,
        currency=currency,
        cost=Decimal(10 * packs) * Decimal(price) if price else None,
        first_need=date(2027, 3, 26),
        order_by=date(2026, 11, 20) if part == "P-1" else date(2027, 1, 8),
    )


def report(key: str, building: str, verdict: Verdict, stations: int, questions: tuple[str, ...] = ()) -> SegmentReport:
    finding = Finding(
        rule="voltage", outcome=Outcome.PASS, why="@home", measured=21.5, limit=12.0, unit="V", margin=9.5
    )
    return SegmentReport(
        segment=key,
        building=building,
        buses=(key,),
        verdict=verdict,
        why="-",
        decided_by=None,
        old_stations=tuple(f"{key}-S{number}" for number in range(stations)),
        gateways=(),
        others=(),
        nodes=(),
        runs=(),
        questions=questions,
        findings=(finding,),
        places=((building, "1.01"),),
        voltages=(LoadVoltage(node="S", voltage_v=21.456, current_a=0.1),),
    )


def phase(key: str, start: date, budget: str | None) -> PhaseSummary:
    return PhaseSummary(
        phase=key,
        start=start,
        end=date(2027, 12, 31),
        orders=1,
        stations=1,
        cost=Decimal(0),
        budget=Decimal(budget) if budget else None,
        currency="EUR",
        first_night=None,
        last_night=None,
        materials_order_by=None,
    )


def no_campus() -> Snapshot:
    none, floats, days = np.empty(0, np.int32), np.empty(0), np.empty(0, "datetime64[D]")
    nodes = Nodes(
        key=(), building=none, room=none, model=none, bus=np.empty((0, 4), np.int32), ends_bus=np.empty(0, np.int8),
        condition=none, zones_used=none, scenes_used=none, box_gangs=none, installed=days, failures=none,
    )  # fmt: skip
    runs = Runs(key=(), bus=none, from_node=none, to_node=none, cable=none, length_m=floats)
    method = Method(key="M-1", old_model="WS-20", new_model="WS-70", new_protocol="CAN", pins=PINS)
    return Snapshot(
        buildings=(
            Building(key="A", name="Weir House", time_zone="Europe/London"),
            Building(key="B", time_zone="America/New_York"),
        ),
        rooms=(Room(building=0, key="1.01", name="Model shop"), Room(building=1, key="1.01")),
        buses=(),
        catalogue=Catalogue(methods=(method,)),
        nodes=nodes,
        runs=runs,
    )


def small_handover() -> Handed:
    orders = (
        order("A-1", "A", stations=2, parts="100.10"),
        order("A-2", "A", stations=1, parts="50.05"),
        order("B-1", "B", stations=4, parts="200.00"),
    )
    window = Window(
        order="A-1", crew="Night A", start=BEFORE_CHANGE, end=AFTER_CHANGE, night=date(2027, 3, 26), phase="Phase 1"
    )
    return Handed(
        campus="Tarn & Sons' isle",
        made=MADE,
        snapshot=no_campus(),
        brief=Brief(),
        reports=(
            report("A-1-L1", "A", Verdict.TOGETHER, 2),
            report("A-2-L1", "A", Verdict.IN_PLACE, 1),
            report("C-L1", "A", Verdict.SURVEY_FIRST, 5, ("=How long is run R1?", "Which cable is it?")),
        ),
        orders=orders,
        windows=(WindowsOfOrder(order="A-1", windows=(window,), longest_free_min=600),),
        plan=Plan(
            placed=(place("A-2", AFTER_CHANGE, "Phase 2"), place("A-1", BEFORE_CHANGE, "Phase 1")),
            unplanned=(Unplanned(order="B-1", code="budget", reason="the budget is spent"),),
            objective=120,
            bound=100,
            gap=1 / 6,
            list_objective=150,
            method="exact",
            check=(CheckLine(number=1, rule="inside one window", holds=True),),
            phases=(phase("Phase 2", date(2027, 3, 29), None), phase("Phase 1", date(2027, 1, 4), "300.00")),
            seed=7,
            seconds=1.0,
        ),
        takeoff=Takeoff(
            lines=(
                line("Phase 1", "P-1", packs=1, price="7.40"),
                line("Phase 1", "P-2", packs=2, price="0.10", currency="USD"),
                line("Phase 2", "P-3", packs=1, price=None, currency=None),
            ),
            by_order=(),
            cost_by_currency=(),
        ),
        time_zone="Europe/London",
    )
