"""The spare pools of old models along a plan: who is on the wall until when, and what each order frees or takes."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from inventory.core.ageing import DAYS_PER_YEAR
from inventory.core.campus_risk import CampusRisk, spares_on_hand
from inventory.core.model_lives import ModelLife
from inventory.core.snapshot import Floats, Ints, Snapshot
from inventory.core.spares import MONTHS_PER_YEAR, NEVER, Pool, PoolCourse, run_pools
from inventory.core.weibull import Weibull
from planner.core.plans import Order, Placed, Wear

DAYS_PER_STEP = 30  # in which the losses to expect are counted at once, at its begin


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolsFound:
    """The pools that can be told of, and of the others why not: (model, reason), both sorted by model.

    guessed_ages : (model, units) whose age is not known and is taken as the median of the model's known ones. movers : of
    each pool, the orders that take its units off the wall, by name.
    """

    pools: tuple[Pool, ...]
    untold: tuple[tuple[str, str], ...]
    guessed_ages: tuple[tuple[str, int], ...]
    movers: tuple[tuple["Mover", ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Mover:
    """An order that takes units of a pool off the wall: in which month of the plan (NEVER: it is not planned), which rows."""

    order: str
    month: int
    rows: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Forward:
    """Orders that make a pool last if they are done before a month of the plan, and what the odds to run out then are."""

    orders: tuple[str, ...]
    units: int
    before_month: int
    run_out_odds: float


def month_of(day: date, start: date) -> int:
    """Return the month of a plan in which a day lies, 0 the first.

    Examples
    --------
    >>> month_of(date(2028, 1, 15), date(2027, 11, 20))
    2

    """
    return (day.year - start.year) * MONTHS_PER_YEAR + day.month - start.month


def pools_along(
    snapshot: Snapshot,
    risk: CampusRisk,
    orders: Sequence[Order],
    placed: Iterable[Placed],
    *,
    start: date,
    floor: int = 0,
    scrapped_share: float = 0.0,
) -> PoolsFound:
    """Return the spare pool of each old model along a plan.

    Parameters
    ----------
    snapshot : Snapshot
        The campus, with the methods that say which models are old.
    risk : CampusRisk
        Of the same snapshot.
    orders, placed : sequence of Order, iterable of Placed
        The orders still to be done, and when they are; one that is not placed frees nothing.
    start : date
        Any day of the first month of the plan; what is done before it counts as done in that month.
    floor : int
        Least spares of each old model that should be on the shelf.
    scrapped_share : float
        Share of the stations taken down that are no use as spares.

    """
    at = {model.key: position for position, model in enumerate(snapshot.catalogue.models)}
    old = sorted({method.old_model for method in snapshot.catalogue.methods} & set(at))
    placed = tuple(placed)
    leaves, taken = _moves(snapshot, orders, placed, start)
    by_unit = _movers_by_unit(snapshot, orders)
    on_hand = spares_on_hand(snapshot.catalogue)
    pools, untold, guessed, movers = [], [], [], []
    for key in old:
        rows = np.flatnonzero((snapshot.nodes.model == at[key]) & risk.lives.on_wall)
        ages, unknown = _ages(risk.lives.age_years[rows])
        life = risk.spare_lives[at[key]]
        if life.curve is None or np.isnan(ages).any():
            untold.append((key, life.says if life.curve is None else "no unit's day of installation is known"))
            continue
        guessed += [(key, unknown)] if unknown else []
        shelf = _Shelf(int(on_hand[at[key]]), floor, scrapped_share)
        pools.append(_pool(life, life.curve, shelf, _Units(ages, leaves[rows]), taken[key]))
        movers.append(_movers(by_unit[rows], leaves[rows], orders))
    return PoolsFound(pools=tuple(pools), untold=tuple(untold), guessed_ages=tuple(guessed), movers=tuple(movers))


def bring_forward(
    pool: Pool, movers: Sequence[Mover], course: PoolCourse, *, months: int, seed: int = 1
) -> Forward | None:
    """Return the fewest orders that make a short pool last if they are done before the month in which it may run out.

    Those that free most come first, planned ones before those that are not planned. The pool is simulated again with them
    done earlier; whether a night, a crew and the parts are there for them is not asked.

    Returns
    -------
    Forward, or None
        None where the pool lasts anyway, or not even all of them suffice.

    """
    first = course.first_month
    later = [each for each in movers if each.month == NEVER or (first is not None and each.month >= first)]
    later.sort(key=lambda each: (each.month == NEVER, -each.rows.size, each.order))
    if not first or not later:
        return None

    def odds(count: int) -> PoolCourse:
        return run_pools([_earlier(pool, later[:count], first - 1)], months, seed=seed)[0]

    low, high, best = 0, len(later), odds(len(later))
    if best.first_month is not None:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        tried = odds(middle)
        low, high, best = (middle, high, best) if tried.first_month is not None else (low, middle, tried)
    return Forward(
        orders=tuple(each.order for each in later[:high]),
        units=sum(int(each.rows.size) for each in later[:high]),
        before_month=first,
        run_out_odds=float(best.run_out_odds[-1]),
    )


def _earlier(pool: Pool, movers: Sequence[Mover], month: int) -> Pool:
    leaves = pool.leaves_month.copy()
    for each in movers:
        leaves[each.rows] = month
    return replace(pool, leaves_month=leaves)


def _movers_by_unit(snapshot: Snapshot, orders: Sequence[Order]) -> Ints:
    """Return the position of the order that takes each node off the wall, -1 none."""
    at = {key: position for position, key in enumerate(snapshot.nodes.key)}
    found = np.full(len(snapshot.nodes), -1, dtype=np.int32)
    for number, order in enumerate(orders):
        found[[at[station] for station in order.stations if station in at]] = number
    return found


def _movers(by_unit: Ints, leaves: Ints, orders: Sequence[Order]) -> tuple[Mover, ...]:
    found = []
    for number in np.unique(by_unit[by_unit >= 0]).tolist():
        rows = np.flatnonzero(by_unit == number).astype(np.int32)
        found.append(Mover(order=orders[number].key, month=int(leaves[rows[0]]), rows=rows))
    return tuple(found)


def wear_of(snapshot: Snapshot, risk: CampusRisk | None) -> tuple[Wear, ...]:
    """Return how the old models wear whose life and ages are told, by model; none where no failure is on record."""
    if risk is None or snapshot.taken_on is None:
        return ()
    at = {model.key: position for position, model in enumerate(snapshot.catalogue.models)}
    found = []
    for key in sorted({method.old_model for method in snapshot.catalogue.methods} & set(at)):
        rows = np.flatnonzero((snapshot.nodes.model == at[key]) & risk.lives.on_wall)
        ages, _ = _ages(risk.lives.age_years[rows])
        curve = risk.spare_lives[at[key]].curve
        if curve is None or np.isnan(ages).any():
            continue
        named = sorted((snapshot.nodes.key[row], age) for row, age in zip(rows.tolist(), ages.tolist(), strict=True))
        found.append(
            Wear(
                model=key,
                shape=curve.shape,
                scale_years=curve.scale_years,
                as_of=snapshot.taken_on,
                ages=tuple(named),
            )
        )
    return tuple(found)


def losses(wear: Wear, until: date) -> list[tuple[date, float]]:
    """Return the failures to expect if nothing is replaced, step by step: (first day of a step, failures to its end).

    Examples
    --------
    >>> even = Wear(model="old", shape=1.0, scale_years=1.0, as_of=date(2027, 1, 1), ages=(("s", 5.0),))
    >>> [(day, round(365.2425 * count)) for day, count in losses(even, date(2027, 2, 15))]
    [(datetime.date(2027, 1, 1), 30), (datetime.date(2027, 1, 31), 60)]

    """
    curve = Weibull(shape=wear.shape, scale_years=wear.scale_years)
    ages = np.array([age for _, age in wear.ages])
    before = curve.cumulative_hazard(ages).sum()
    return [
        (
            wear.as_of + timedelta(days=days),
            float(curve.cumulative_hazard(ages + (days + DAYS_PER_STEP) / DAYS_PER_YEAR).sum() - before),
        )
        for days in range(0, (until - wear.as_of).days + 1, DAYS_PER_STEP)
    ]


@dataclass(frozen=True, slots=True)
class _Shelf:
    """Spares on hand, the least that should be there, and the share of freed ones that are scrapped."""

    on_hand: int
    floor: int
    scrapped_share: float


@dataclass(frozen=True, slots=True)
class _Units:
    """Ages of what is on the wall, and the month in which each leaves."""

    ages: Floats
    leaves: Ints


def _pool(life: ModelLife, curve: Weibull, shelf: _Shelf, units: _Units, taken: dict[int, int]) -> Pool:
    return Pool(
        model=life.model,
        on_hand=shelf.on_hand,
        curve=curve,
        age_years=units.ages,
        leaves_month=units.leaves,
        floor=shelf.floor,
        scrapped_share=shelf.scrapped_share,
        behind_rate=life.behind_rate,
        taken=tuple(sorted(taken.items())),
    )


def _moves(
    snapshot: Snapshot, orders: Sequence[Order], placed: Iterable[Placed], start: date
) -> tuple[Ints, dict[str, dict[int, int]]]:
    """Return the month in which each node leaves the wall, and the spares that orders take, by model and month."""
    at = {key: position for position, key in enumerate(snapshot.nodes.key)}
    by_key = {order.key: order for order in orders}
    leaves = np.full(len(snapshot.nodes), NEVER, dtype=np.int32)
    taken: dict[str, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for each in placed:
        order = by_key.get(each.order)
        if order is None:
            continue
        month = max(0, month_of(each.night, start))
        leaves[[at[station] for station in order.stations if station in at]] = month
        for model, count in order.freed:
            if count < 0:
                taken[model][month] -= count
    return leaves, taken


def _ages(ages: Floats) -> tuple[Floats, int]:
    """Return ages with the unknown ones at the median of the known, and how many those are."""
    unknown = np.isnan(ages)
    if unknown.all():
        return ages, int(unknown.sum())
    return np.where(unknown, np.median(ages[~unknown]), ages), int(unknown.sum())
