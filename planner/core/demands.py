"""Demands: all that a plan is made from, in one record."""

from dataclasses import dataclass
from datetime import datetime

from inventory.core.catalogue import Part, Spare
from planner.core.arrivals import Arrivals, arrivals
from planner.core.brief import Brief
from planner.core.plans import Crew, Order, Phase, Placed, Places, Wear, WindowsOfOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """All that a plan is made from, in one record; see `planner.core.schedule.make_plan`.

    `fixed` are orders begun or accepted, which bind nothing but themselves. `last` is the last plan; `booked` are those
    of it that are agreed. `wear` says what failures will take from the spares. `pinned` are to be done just so, under all rules; `forced` are booked ones that cannot stay.
    """

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
    booked: tuple[Placed, ...] = ()
    pinned: tuple[Placed, ...] = ()
    forced: frozenset[str] = frozenset()
    wear: tuple[Wear, ...] = ()


def demands_for(  # noqa: PLR0917 - the nouns that a plan is made from
    orders: tuple[Order, ...],
    windows: tuple[WindowsOfOrder, ...],
    crews: tuple[Crew, ...],
    phases: tuple[Phase, ...],
    brief: Brief,
    places: Places,
    *,
    parts: tuple[Part, ...],
    spares: tuple[Spare, ...],
    now: datetime,
    fixed: tuple[Placed, ...] = (),
    last: tuple[Placed, ...] = (),
    wear: tuple[Wear, ...] = (),
) -> Demands:
    """Return what a plan is made from, with the days on which bought parts can be used."""
    return Demands(
        orders=orders,
        windows=windows,
        crews=crews,
        phases=phases,
        brief=brief,
        places=places,
        parts=parts,
        spares=spares,
        now=now,
        arrivals=arrivals(orders, parts, phases, brief.receiving_reserve_days, now.date()),
        fixed=fixed,
        last=last,
        wear=wear,
    )
