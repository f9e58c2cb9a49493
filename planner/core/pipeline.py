"""The whole sentence, in order; each arrow is one function.

    workbook -> rows -> snapshot -> segments -> findings -> verdicts -> orders -> windows -> plan -> take-off -> hand-over

Nothing here reads a database, the clock, a setting or a file. Two arrows touch the world and are passed in: `store`
(rows into tables and back out as a snapshot) and `hand_over` (files). The services call the same pieces one by one.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from inventory.core.lives import FailureLog
from inventory.core.snapshot import Snapshot
from inventory.workbook.read import read_workbook
from inventory.workbook.rows import WorkbookRows
from planner.core.benefit import risk_of_campus, risk_of_stations
from planner.core.brief import Brief
from planner.core.choices import NO_CHOICES, Choices, Refusal
from planner.core.demands import Demands, demands_for
from planner.core.findings import SegmentReport
from planner.core.materials import Takeoff
from planner.core.orders import group_orders
from planner.core.plans import Crew, Order, Phase, Placed, Plan, Progress, WindowsOfOrder
from planner.core.pools import wear_of
from planner.core.reliefs import TakenUp, take_up
from planner.core.replanning import (
    Shift,
    Standing,
    begun_segments,
    booked_groups,
    carried_over,
    going_on,
    shifts_between,
    with_delays,
)
from planner.core.schedule import places_of, plan_for
from planner.core.schedule.core import Effort as SearchEffort
from planner.core.schedule.hands import Hands
from planner.core.sequence import kept_apart, sequenced
from planner.core.settled import with_settled
from planner.core.stops import stopped_groups, with_stops
from planner.core.takeoff import take_off
from planner.core.verdicts import assess
from planner.core.windows import find_windows

Tell = Callable[[Progress], bool]
HandOver = Callable[["Planned"], dict[str, bytes]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Team:
    """The brief with those who carry it out: crews, and phases to work in."""

    brief: Brief
    crews: tuple[Crew, ...]
    phases: tuple[Phase, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard to look for a plan: wall time [s], seed of every random choice, solver workers."""

    seconds: float
    seed: int
    workers: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """All that a plan is made from. `standings` are the orders of the plan that it goes on from, if it does.

    `reports` are the verdicts as they stand; `taken` what became of the ways out that were taken, `not_grouped` why some
    choices about orders do not hold.
    """

    snapshot: Snapshot
    team: Team
    reports: tuple[SegmentReport, ...]
    taken: TakenUp
    not_grouped: tuple[Refusal, ...]
    standings: tuple[Standing, ...]
    demands: Demands


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """Everything that leaves the planner for one brief. `shifts`: what became of the orders of the plan before."""

    snapshot: Snapshot
    team: Team
    reports: tuple[SegmentReport, ...]
    orders: tuple[Order, ...]
    windows: tuple[WindowsOfOrder, ...]
    plan: Plan
    takeoff: Takeoff
    taken: TakenUp
    not_grouped: tuple[Refusal, ...] = ()
    standings: tuple[Standing, ...] = ()
    shifts: tuple[Shift, ...] = ()


def changeover(
    workbook: bytes,
    team: Team,
    effort: Effort,
    now: datetime,
    store: Callable[[WorkbookRows], Snapshot],
    hand_over: HandOver,
) -> dict[str, bytes]:
    """Go the whole way, from a workbook's bytes to the files that leave the tool."""
    rows = read_workbook(workbook)
    snapshot = store(rows)
    reports = assess(snapshot, team.brief)
    planned = plan_from_verdicts(snapshot, reports, team, effort, now=now)
    return hand_over(planned)


def plan_from_verdicts(
    snapshot: Snapshot,
    reports: tuple[SegmentReport, ...],
    team: Team,
    effort: Effort,
    *,
    now: datetime,
    tell: Tell | None = None,
    choices: Choices = NO_CHOICES,
    standings: tuple[Standing, ...] = (),
    log: FailureLog | None = None,
) -> Planned:
    """Go from verdicts, with what a planner chose by hand, to a plan and its take-off."""
    prepared = prepare(snapshot, reports, team, now=now, choices=choices, standings=standings, log=log)
    return plan_prepared(prepared, effort, tell)


def prepare(
    snapshot: Snapshot,
    reports: tuple[SegmentReport, ...],
    team: Team,
    *,
    now: datetime,
    choices: Choices = NO_CHOICES,
    standings: tuple[Standing, ...] = (),
    log: FailureLog | None = None,
) -> Prepared:
    """Go from verdicts to orders and windows: all that a plan is made from, the plan before included.

    With the log of failures, what is at most risk is worth most.
    """
    taken = take_up(snapshot, reports, choices.ticks, team.brief)
    sharings = (
        *stopped_groups(choices.stops),
        *booked_groups(standings),
        *choices.sharings,
        *kept_apart(choices.afters),
    )
    risk = risk_of_campus(snapshot, log)
    risks = risk_of_stations(snapshot, risk)
    grouped = group_orders(snapshot, taken.reports, team.brief, sharings, begun_segments(standings), risks=risks)
    begun = frozenset(each.order.key for each in standings if each.begun)
    carried = with_stops(carried_over(standings, grouped.orders), choices.stops, begun)
    orders = sequenced(carried, choices.afters, begun)
    to_date = tuple(order for order in orders if order.key not in begun)
    demands = demands_for(
        orders,
        find_windows(snapshot, to_date, team.crews, team.phases, team.brief),
        team.crews,
        team.phases,
        team.brief,
        places_of(snapshot),
        parts=snapshot.catalogue.parts,
        spares=snapshot.catalogue.spares,
        now=now,
        wear=wear_of(snapshot, risk),
    )
    return Prepared(
        snapshot=snapshot,
        team=team,
        reports=reports,
        taken=taken,
        not_grouped=grouped.refused,
        standings=standings,
        demands=demands,
    )


def plan_prepared(
    prepared: Prepared,
    effort: Effort,
    tell: Tell | None = None,
    begin: tuple[Placed, ...] = (),
    hands: Hands | None = None,
) -> Planned:
    """Go from orders and windows to a plan and its take-off.

    `begin` is a plan to go on from, where it still fits; `hands` are those who solve pieces of large plans.
    """
    standings = prepared.standings
    demands = going_on(prepared.demands, standings) if standings else prepared.demands
    search = SearchEffort(seconds=effort.seconds, seed=effort.seed, workers=effort.workers)
    plan = with_settled(plan_for(demands, search, tell, begin, hands), demands)
    return Planned(
        snapshot=prepared.snapshot,
        team=prepared.team,
        reports=prepared.reports,
        orders=demands.orders,
        windows=demands.windows,
        plan=with_delays(plan, standings),
        takeoff=take_off(plan, demands.orders, prepared.snapshot, prepared.team.brief),
        taken=prepared.taken,
        not_grouped=prepared.not_grouped,
        standings=standings,
        shifts=shifts_between(demands, plan, standings) if standings else (),
    )
