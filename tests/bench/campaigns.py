"""Campaigns by seed and size: orders of 2 to 8 hours, 3 to 20 nights each, 2 to 6 crews. Invented, for measuring only."""

import random
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from inventory.core.catalogue import Part
from planner.core.brief import Brief
from planner.core.plans import Crew, Order, PartNeed, Phase, Place, Places, Window, WindowsOfOrder

NOW = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
FIRST = date(2027, 3, 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Campaign:
    """Everything that make_plan takes."""

    orders: tuple[Order, ...]
    windows: tuple[WindowsOfOrder, ...]
    crews: tuple[Crew, ...]
    phases: tuple[Phase, ...]
    brief: Brief
    places: Places
    parts: tuple[Part, ...]


def make_campaign(seed: int, count: int, *, nights: int | None = None, crews: int | None = None) -> Campaign:
    """Return a campaign of `count` orders with a quarter more crew time than work."""
    draw = random.Random(seed)
    crew_count = crews or draw.randint(2, 6)
    team = tuple(
        Crew(key=f"C{i}", people=2 + i % 2, days=tuple(range(7)), shift_from_min=20 * 60, shift_to_min=6 * 60)
        for i in range(crew_count)
    )
    night_count = nights or max(3, round(count * 5.2 * 1.25 / (crew_count * 10)))
    buildings = [f"B{i:02}" for i in range(max(3, count // 12))]
    places = Places(
        places=tuple(
            Place(building=key, district=f"D{i % 3}", outages_at_once=1 + i % 2, time_zone="UTC")
            for i, key in enumerate(buildings)
        )
    )
    orders = tuple(_order(draw, i, buildings) for i in range(count))
    last = FIRST + timedelta(days=night_count)
    phases = (Phase(key="P1", start=FIRST, end=last, budget=Decimal(count * 2000), materials_ordered_on=NOW.date()),)
    return Campaign(
        orders=orders,
        windows=tuple(_windows(draw, order, team, night_count) for order in orders),
        crews=team,
        phases=phases,
        brief=Brief(),
        places=places,
        parts=(Part(key="station", lead_time_days=5, on_hand=Decimal(4)),),
    )


def _order(draw: random.Random, index: int, buildings: list[str]) -> Order:
    building = draw.choice(buildings)
    outage = draw.randrange(60, 420, 15)
    return Order(
        key=f"O{index:04}",
        building=building,
        district=None,
        segments=(f"S{index}",),
        stations=(f"N{index}",),
        rooms=((building, f"R{draw.randrange(12)}"),),
        people=draw.choice((1, 2, 2, 3)),
        setup_min=30,
        outage_min=outage,
        restore_min=30,
        parts=(PartNeed(part="station", quantity=Decimal(1)),),
        freed=(("old", 1),),
        cost_parts=Decimal(draw.randrange(200, 2000)),
        cost_labour=Decimal(outage),
        cost_outage=Decimal(0),
        currency="EUR",
        unpriced=(),
        benefit=draw.uniform(1, 10),
        oldest=date(2000, 1, 1) + timedelta(days=draw.randrange(7000)),
    )


def _windows(draw: random.Random, order: Order, crews: tuple[Crew, ...], nights: int) -> WindowsOfOrder:
    wanted = min(nights, draw.randint(3, 20))
    windows: list[Window] = []
    for night in sorted(draw.sample(range(nights), wanted)):
        start = datetime(2027, 3, 8, 20, tzinfo=UTC) + timedelta(days=night, minutes=draw.choice((0, 0, 60, 120)))
        end = datetime(2027, 3, 9, 6, tzinfo=UTC) + timedelta(days=night, minutes=-draw.choice((0, 0, 60)))
        if end - start < timedelta(minutes=order.onsite_min):
            continue
        windows.extend(
            Window(
                order=order.key,
                crew=crew.key,
                start=start,
                end=end,
                night=FIRST + timedelta(days=night),
                phase="P1",
            )
            for crew in crews
            if crew.people >= order.people
        )
    return WindowsOfOrder(order=order.key, windows=tuple(windows), longest_free_min=600)
