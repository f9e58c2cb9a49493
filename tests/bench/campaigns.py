"""Campaigns by seed and size, invented, for measuring only.

Orders of 2 to 8 hours that can be done in 3 to 20 nights each, 2 to 6 crews of two or three people that are there in
three nights of four, one order in ten after another one, one outage at a time in a building, three phases with a
budget each. There is a quarter more crew time than work, and two fifths of all costs in each budget.
"""

import random
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from inventory.core.catalogue import Part
from planner.core.brief import Brief
from planner.core.plans import Crew, Order, PartNeed, Phase, Place, Places, Window, WindowsOfOrder

NOW = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
FIRST = date(2027, 3, 8)
MEAN_HOURS, SPARE_TIME, SHIFT_HOURS, ON_DUTY = 5.0, 1.25, 10, 0.75


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


def make_campaign(seed: int, count: int) -> Campaign:
    """Return a campaign of `count` orders."""
    draw = random.Random(seed)
    team = tuple(_crew(i) for i in range(draw.randint(2, 6)))
    nights = max(20, round(count * MEAN_HOURS * SPARE_TIME / (len(team) * SHIFT_HOURS * ON_DUTY)))
    buildings = [f"B{i:03}" for i in range(max(3, count // 12))]
    orders = [_order(draw, i, buildings) for i in range(count)]
    for late in draw.sample(range(1, count), count // 10):
        orders[late] = replace(orders[late], predecessors=(orders[draw.randrange(late)].key,))
    total = sum((order.cost for order in orders), Decimal(0))
    phases = tuple(_phase(i, nights, round(total * 2 / 5)) for i in range(3))
    duty = tuple(frozenset(crew.key for crew in team if draw.random() < ON_DUTY) for _ in range(nights))
    return Campaign(
        orders=tuple(orders),
        windows=tuple(_windows(draw, order, team, duty, phases) for order in orders),
        crews=team,
        phases=phases,
        brief=Brief(),
        places=Places(places=tuple(_place(i, key) for i, key in enumerate(buildings)), time_zone="UTC"),
        parts=(Part(key="station", lead_time_days=5, on_hand=Decimal(4)),),
    )


def _crew(number: int) -> Crew:
    return Crew(
        key=f"C{number}", people=2 + number % 2, days=tuple(range(7)), shift_from_min=20 * 60, shift_to_min=6 * 60
    )


def _place(number: int, key: str) -> Place:
    return Place(building=key, district=f"D{number % 3}", outages_at_once=1, time_zone="UTC")


def _phase(number: int, nights: int, budget: int) -> Phase:
    first, after = nights * number // 3, nights * (number + 1) // 3
    return Phase(
        key=f"P{number}",
        start=FIRST + timedelta(days=first),
        end=FIRST + timedelta(days=after - 1),
        budget=Decimal(budget),
        materials_ordered_on=NOW.date(),
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


def _windows(
    draw: random.Random,
    order: Order,
    crews: tuple[Crew, ...],
    duty: tuple[frozenset[str], ...],
    phases: tuple[Phase, ...],
) -> WindowsOfOrder:
    windows: list[Window] = []
    for night in sorted(draw.sample(range(len(duty)), draw.randint(3, 20))):
        day = FIRST + timedelta(days=night)
        start = datetime(2027, 3, 8, 20, tzinfo=UTC) + timedelta(days=night, minutes=draw.choice((0, 0, 60, 120)))
        end = datetime(2027, 3, 9, 6, tzinfo=UTC) + timedelta(days=night, minutes=-draw.choice((0, 0, 60)))
        if end - start < timedelta(minutes=order.onsite_min):
            continue
        phase = next(phase.key for phase in phases if phase.start <= day <= phase.end)
        windows.extend(
            Window(order=order.key, crew=crew.key, start=start, end=end, night=day, phase=phase)
            for crew in crews
            if crew.people >= order.people and crew.key in duty[night]
        )
    return WindowsOfOrder(order=order.key, windows=tuple(windows), longest_free_min=600)
