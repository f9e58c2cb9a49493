"""How sure a plan is: when each phase is done in half and in four fifths of its courses, and what overruns or spills."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

import numpy as np

from inventory.core.catalogue import Method
from planner.core.brief import Brief
from planner.core.courses import COURSES, EPOCH, Job, Run, minute, simulate
from planner.core.plans import Order, Phase, Placed, Window, WindowsOfOrder
from planner.core.repeats import done_steps
from planner.core.spread import Floats, Spread, step_spread

HALF, MOST = 0.5, 0.8  # the shares of courses that P50 and P80 stand for
NIGHTS_ARE_OVER = time(12)  # UTC, of the day after


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseOutlook:
    """When the orders of one phase are done. None: in so many courses not at all within the windows known.

    `spills` is the share of courses in which at least one of them is done after the phase, or not at all.
    """

    phase: str
    orders: int
    closes: date
    planned: datetime
    p10: datetime | None
    p50: datetime | None
    p80: datetime | None
    p90: datetime | None
    spills: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOutlook:
    """How one order fares: minutes on site as planned and on average; shares of courses in words of the fields."""

    order: str
    building: str
    night: date
    planned_min: int
    mean_min: float
    room_min: float  # from its planned start to the end of its window
    overruns: float
    put_off: float
    not_done: float
    fails: float  # its night: it overruns there or is put off


LIKELIER = 0.5  # of the courses: from here on a night fails as often as it does not


class Odds(StrEnum):
    """How a night is likely to end."""

    FAILS = "likelier to fail"
    MAY = "may fail"


def odds_of(one: OrderOutlook) -> Odds:
    """Tell how the night of an order is likely to end: it fails where the order overruns its window, is put off or is not done."""
    return Odds.FAILS if one.fails > LIKELIER else Odds.MAY


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The courses of one plan, summed up; orders by the odds to overrun their window, then to be put off."""

    courses: int
    seed: int
    phases: tuple[PhaseOutlook, ...]
    orders: tuple[OrderOutlook, ...]

    @property
    def likeliest_spill(self) -> PhaseOutlook | None:
        """The phase most likely to spill; None where none does."""
        return max((one for one in self.phases if one.spills > 0), key=lambda one: one.spills, default=None)


def look_ahead(  # noqa: PLR0917 - the nouns that the courses of a plan are made from
    placed: Sequence[Placed],
    orders: Mapping[str, Order],
    windows: Sequence[WindowsOfOrder],
    methods: Sequence[Method],
    phases: Sequence[Phase],
    brief: Brief,
    *,
    courses: int = COURSES,
    seed: int = 1,
) -> Outlook:
    """Simulate a plan and sum its courses up.

    Parameters
    ----------
    placed : sequence of Placed
        What is still to be done of the plan.
    orders, windows, methods, phases, brief
        What it was made from.
    courses, seed : int
        How many courses, and the seed of every draw: the same seed gives the same outlook.

    """
    spans = {each.order: each.windows for each in windows}
    by_key = {method.key: method for method in methods}
    jobs = [_job(each, orders[each.order], spans.get(each.order, ()), by_key, brief) for each in placed]
    run = simulate(jobs, _travel(jobs, brief), courses=courses, seed=seed)
    closes = {phase.key: phase.end for phase in phases}
    told = [_order(job, at, run) for at, job in enumerate(jobs)]
    return Outlook(
        courses=courses,
        seed=seed,
        phases=tuple(_phases(jobs, run, closes)),
        orders=tuple(sorted(told, key=lambda one: (-one.overruns, -one.put_off, one.order))),
    )


def order_spreads(order: Order, methods: Mapping[str, Method], brief: Brief) -> tuple[Spread, ...]:
    """Return the parts of an order's time that vary together: each step wherever it is done, and all the rest.

    The rest is what the order takes beside the steps of its methods: setting up, restoring, extras. It varies as a
    step does that gives no shortest and longest time.
    """
    done = [one for one in done_steps(order.conversions, methods) if one.step.minutes]
    counts = Counter((one.method, one.step) for one in done)
    steps = [step_spread(step, brief) * times for (_, step), times in counts.items()]
    rest = order.onsite_min - sum(step.likely_min for step in steps)
    if rest < 0:  # the methods have changed since: the order's own minutes hold
        steps, rest = [], float(order.onsite_min)
    share = Spread(shortest_min=brief.shortest_pct / 100, likely_min=1.0, longest_min=brief.longest_pct / 100)
    return (*steps, share * rest)


def _job(placed: Placed, order: Order, windows: Iterable[Window], methods: Mapping[str, Method], brief: Brief) -> Job:
    ranked = sorted(windows, key=lambda window: (window.start, window.crew, window.phase))
    own = next((window for window in ranked if _holds(window, placed)), None)
    return Job(
        placed=placed,
        order=order,
        window=own or _as_planned(placed),
        later=tuple(window for window in ranked if window.night > placed.night),
        spreads=order_spreads(order, methods, brief),
    )


def _holds(window: Window, placed: Placed) -> bool:
    return (
        (window.crew, window.night) == (placed.crew, placed.night)
        and window.start <= placed.start
        and placed.end <= window.end
    )


def _as_planned(placed: Placed) -> Window:
    """Return a window that ends when the order does: of one that holds it no more, nothing is known."""
    return Window(
        order=placed.order,
        crew=placed.crew,
        start=placed.start,
        end=placed.end,
        night=placed.night,
        phase=placed.phase,
    )


def _travel(jobs: Sequence[Job], brief: Brief) -> dict[tuple[str, str], int]:
    """Return the minutes between any two buildings of the plan."""
    district = {job.order.building: job.order.district for job in jobs}
    return {
        (one, two): brief.travel_same_district_min
        if district[one] is not None and district[one] == district[two]
        else brief.travel_between_districts_min
        for one in district
        for two in district
        if one != two
    }


def _order(job: Job, at: int, run: Run) -> OrderOutlook:
    return OrderOutlook(
        order=job.placed.order,
        building=job.order.building,
        night=job.placed.night,
        planned_min=job.order.onsite_min,
        mean_min=round(sum(spread.mean_min for spread in job.spreads), 1),
        room_min=minute(job.window.end) - minute(job.placed.start),
        overruns=float(run.overran[:, at].mean()),
        fails=float((run.overran[:, at] | run.put_off[:, at]).mean()),
        put_off=float(run.put_off[:, at].mean()),
        not_done=float(np.isinf(run.end_min[:, at]).mean()),
    )


def _phases(jobs: Sequence[Job], run: Run, closes: Mapping[str, date]) -> Iterator[PhaseOutlook]:
    mine: dict[str, list[int]] = defaultdict(list)
    for at, job in enumerate(jobs):
        mine[job.placed.phase].append(at)
    for phase, columns in sorted(mine.items(), key=lambda pair: (closes.get(pair[0], date.max), pair[0])):
        done = run.end_min[:, columns].max(axis=1)
        last = closes.get(phase) or max(jobs[at].placed.night for at in columns)
        over = datetime.combine(last + timedelta(days=1), NIGHTS_ARE_OVER, tzinfo=UTC)
        yield PhaseOutlook(
            phase=phase,
            orders=len(columns),
            closes=last,
            planned=max(jobs[at].placed.end for at in columns),
            p10=_quantile(done, 0.1),
            p50=_quantile(done, HALF),
            p80=_quantile(done, MOST),
            p90=_quantile(done, 0.9),
            spills=float((done > minute(over)).mean()),
        )


def _quantile(done: Floats, share: float) -> datetime | None:
    """Return by when a share of the courses is done; None where fewer are done at all."""
    found = float(np.quantile(done, share, method="inverted_cdf"))
    return None if np.isinf(found) else EPOCH + timedelta(minutes=round(found))
