"""Demands: all that a plan is made from, in one record."""

from dataclasses import dataclass
from datetime import datetime

from inventory.core.catalogue import Part, Spare
from planner.core.arrivals import Arrivals
from planner.core.brief import Brief
from planner.core.plans import Crew, Order, Phase, Placed, Places, WindowsOfOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """All that a plan is made from, in one record; see `planner.core.schedule.make_plan`."""

    orders: tuple[Order, ...]
    windows: tuple[WindowsOfOrder, ...]
    crews: tuple[Crew, ...]
    phases: tuple[Phase, ...]
    brief: Brief
    places: Places
    parts: tuple[Part, ...]
    spares: tuple[Spare, ...]
    now: datetime
    arrivals: Arrivals
    fixed: tuple[Placed, ...] = ()
    last: tuple[Placed, ...] = ()
