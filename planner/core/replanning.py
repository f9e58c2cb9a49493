"""Planning again: what is begun stays, what is booked stays where it can, and what moves is listed with its notice.

An order is the same order as long as it has the same segments; it keeps its name. An order that is under way or
accepted is taken as it was; its segments are no longer there to be planned.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from inventory.core.saying import day_words
from planner.core.audit import audit
from planner.core.choices import Sharing
from planner.core.demands import Demands
from planner.core.plans import Order, OrderState, Placed, Plan, Unplanned, Window, WindowsOfOrder
from planner.core.schedule.keeping import keep
from planner.core.sooner import what_binds

BEGUN = (OrderState.UNDER_WAY, OrderState.ACCEPTED)
MOST_TOLD = 12  # moved orders that are told what keeps them from an earlier night


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """An order of the last plan as it stands today. `not_before`: it was put off to this night or later."""

    order: Order
    placed: Placed | None
    state: OrderState
    not_before: date | None = None

    @property
    def begun(self) -> bool:
        """Whether it is under way or accepted."""
        return self.state in BEGUN

    @property
    def booked(self) -> bool:
        """Whether its rooms have been told."""
        return self.state is OrderState.BOOKED and self.placed is not None


class Fate(StrEnum):
    """What became of an order from one plan to the next."""

    STAYS = "stays"
    MOVES = "moves"
    COMES_IN = "comes in"
    LEAVES = "is left out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """What became of one order. Of a booked one: days of notice left, the day to tell its rooms by, and why.

    `price` is what the brief makes its move weigh in the plan, None where it has not moved.
    """

    order: str
    fate: Fate
    booked: bool
    old: Placed | None
    new: Placed | None
    notice_days: int | None = None
    tell_by: date | None = None
    why: str | None = None
    price: int | None = None


def begun_segments(standings: Iterable[Standing]) -> frozenset[str]:
    """Return the segments of orders that are under way or accepted, which no new order may take up."""
    return frozenset(segment for each in standings if each.begun for segment in each.order.segments)


def booked_groups(standings: Iterable[Standing]) -> tuple[Sharing, ...]:
    """Return that the segments of each booked order stay one order, and that nothing joins them."""
    return tuple(
        Sharing(name=f"booked order {each.order.key}", parts=(each.order.segments,), alone=True)
        for each in sorted(standings, key=lambda each: each.order.key)
        if each.booked
    )


def carried_over(standings: tuple[Standing, ...], fresh: tuple[Order, ...]) -> tuple[Order, ...]:
    """Return the orders to plan: those begun as they were, the others anew under the names they had.

    What an accepted order used is off the shelf and what it freed is on it, so neither counts again.
    """
    begun = {each.order.key: as_it_counts(each) for each in standings if each.begun}
    old_names = {each.order.segments: each.order.key for each in standings if not each.begun}
    taken = {each.order.key for each in standings}
    names: dict[str, str] = {}
    for order in sorted(fresh, key=lambda order: order.key):
        known = old_names.get(order.segments)
        names[order.key] = known if known is not None else _free_name(order.key, taken)
        taken.add(names[order.key])
    renamed = [
        replace(
            order, key=names[order.key], predecessors=tuple(sorted(names.get(key, key) for key in order.predecessors))
        )
        for order in fresh
    ]
    return tuple(sorted([*begun.values(), *renamed], key=lambda order: order.key))


def as_it_counts(standing: Standing) -> Order:
    """Return an order as it counts from now on: what an accepted one used is off the shelf, what it freed is on it."""
    done = standing.state is OrderState.ACCEPTED
    return replace(standing.order, parts=(), freed=()) if done else standing.order


def _free_name(key: str, taken: set[str]) -> str:
    """Return the name, or the next number of its building that no order has had.

    Examples
    --------
    >>> _free_name("B1-O002", {"B1-O002", "B1-O003"})
    'B1-O004'

    """
    if key not in taken:
        return key
    stem, _, number = key.rpartition("-O")
    return next(name for n in range(int(number) + 1, 10**9) if (name := f"{stem}-O{n:03}") not in taken)


def going_on(demands: Demands, standings: tuple[Standing, ...]) -> Demands:
    """Return the demands of a plan that goes on from another.

    A booked order may go where it is booked; to other nights only so far ahead that its rooms have their notice.
    Nothing is done before the night to which it was put off. What can stay, and has to, is pinned.
    """
    asked = _asked(demands, standings)
    kept = keep(asked)
    return replace(asked, pinned=kept.pinned, forced=kept.forced)


def _asked(demands: Demands, standings: tuple[Standing, ...]) -> Demands:
    placed = {each.order.key: each.placed for each in standings if each.placed is not None}
    booked = tuple(each.placed for each in standings if each.booked and each.placed is not None)
    begun = {each.order.key for each in standings if each.begun}
    earliest = {each.order.key: each.not_before for each in standings if each.not_before is not None}
    homes = {each.order: each for each in booked}
    notice = demands.now.date() + timedelta(days=demands.brief.notice_days)
    return replace(
        demands,
        windows=tuple(
            _windows(found, homes.get(found.order), notice, earliest.get(found.order)) for found in demands.windows
        ),
        fixed=tuple(placed[key] for key in sorted(begun) if key in placed),
        last=tuple(placed[key] for key in sorted(placed) if key not in begun),
        booked=tuple(sorted(booked, key=lambda each: each.order)),
    )


def _windows(found: WindowsOfOrder, home: Placed | None, notice: date, not_before: date | None) -> WindowsOfOrder:
    open_ = [window for window in found.windows if not_before is None or window.night >= not_before]
    if home is None:
        return _open(found, open_)
    stay = [_just(window, home) for window in open_ if _covers(window, home)][:1]
    return _open(found, [*stay, *(window for window in open_ if window.night >= notice)])


def _open(found: WindowsOfOrder, windows: list[Window]) -> WindowsOfOrder:
    """Return what was found with the windows that are left, and in words which was the last where none is."""
    if windows or not found.windows:
        return replace(found, windows=tuple(windows))
    last = max(window.night for window in found.windows)
    gone = f"the last night on which its rooms are free and a crew is on shift is that of {day_words(last)}"
    return replace(found, windows=(), problems=(gone, *found.problems))


def with_delays(plan: Plan, standings: Iterable[Standing]) -> Plan:
    """Return a plan whose left-out orders that were put off say so, before what binds them now."""
    nights = {each.order.key: each.not_before for each in standings if not each.begun}
    return replace(plan, unplanned=tuple(_with_delay(each, nights.get(each.order)) for each in plan.unplanned))


def _with_delay(left_out: Unplanned, night: date | None) -> Unplanned:
    if night is None:
        return left_out
    return replace(left_out, reason=f"{_put_off_words(night)}; {left_out.reason}")


def _put_off_words(night: date) -> str:
    return f"it was put off to the night of {day_words(night)} or later"


def _covers(window: Window, home: Placed) -> bool:
    same = (window.crew, window.night, window.phase) == (home.crew, home.night, home.phase)
    return same and window.start <= home.start and home.end <= window.end


def _just(window: Window, home: Placed) -> Window:
    return replace(window, start=home.start, end=home.end)


def shifts_between(demands: Demands, plan: Plan, standings: tuple[Standing, ...]) -> tuple[Shift, ...]:
    """Return what became of every order of two plans, by key; those that are begun stay, and are not listed.

    Parameters
    ----------
    demands : Demands
        With `last`, `booked` and `forced`.
    plan : Plan
        The new plan.
    standings : tuple of Standing
        The orders of the last plan.

    """
    fixed = {each.order for each in demands.fixed}
    old = {each.order: each for each in demands.last}
    new = {each.order: each for each in plan.placed if each.order not in fixed}
    reasons = {each.order: each.reason for each in plan.unplanned}
    stood = {each.order.key: each for each in standings}
    keys = sorted(old.keys() | new.keys())
    shifts = [_shift(old.get(key), new.get(key), demands, stood.get(key), reasons.get(key)) for key in keys]
    bound = [each.order for each in shifts if _is_asked_why(each, demands, stood.get(each.order))][:MOST_TOLD]
    return tuple(_with_bond(each, demands, plan, stood[each.order]) if each.order in bound else each for each in shifts)


def _is_asked_why(shift: Shift, demands: Demands, standing: Standing | None) -> bool:
    """Tell whether an order has moved since it had to: it was put off, or could not stay where it was booked."""
    if shift.fate is not Fate.MOVES or standing is None:
        return False
    return standing.not_before is not None or shift.order in demands.forced


def _with_bond(shift: Shift, demands: Demands, plan: Plan, standing: Standing) -> Shift:
    """Return the move of an order with what keeps it from an earlier night now."""
    if shift.new is None:
        return shift
    notice = demands.now.date() + timedelta(days=demands.brief.notice_days) if standing.booked else demands.now.date()
    since = max(notice, standing.not_before or notice)
    said = (shift.why, what_binds(demands, plan.placed, shift.new, since))
    return replace(shift, why="; ".join(each for each in said if each) or None)


def _shift(
    old: Placed | None, new: Placed | None, demands: Demands, standing: Standing | None, reason: str | None
) -> Shift:
    fate = _fate(old, new)
    some = [each for each in (old, new) if each is not None]
    plain = Shift(order=some[0].order, fate=fate, booked=False, old=old, new=new, why=reason if new is None else None)
    if old is None or standing is None or fate is Fate.STAYS:
        return replace(plain, booked=old is not None and standing is not None and standing.booked)
    held = _why(old, demands, standing) if standing.booked else _put_off(old, standing)
    tried = "it was backed out" if standing.state is OrderState.BACKED_OUT and new is not None else None
    price = demands.brief.weight_booked if standing.booked else demands.brief.weight_moves
    told = replace(plain, price=price, why="; ".join(each for each in (tried, held, plain.why) if each) or None)
    if not standing.booked:
        return told
    first = min(each.night for each in some)
    return replace(
        told,
        booked=True,
        notice_days=(first - demands.now.date()).days,
        tell_by=first - timedelta(days=demands.brief.notice_days),
    )


def _put_off(old: Placed, standing: Standing) -> str | None:
    """Return in words that an order was put off beyond its night; None where it was not."""
    night = standing.not_before
    return None if night is None or old.night >= night else _put_off_words(night)


def _fate(old: Placed | None, new: Placed | None) -> Fate:
    if old is None:
        return Fate.COMES_IN
    if new is None:
        return Fate.LEAVES
    return Fate.STAYS if (old.crew, old.start, old.end) == (new.crew, new.start, new.end) else Fate.MOVES


# number of the rule -> why a booked order cannot stay, for people
WHY: dict[int, str] = {
    1: "its rooms, its building or its crew are not free then any more",
    2: "its crew cannot do it then any more",
    3: "too much would be dark at once",
    4: "its phase cannot take it any more",
    5: "what must come before it is not done by then",
    6: "its parts cannot be there by then",
    7: "the stock it counted on is used elsewhere",
    8: "the spare pool would fall below its floor",
}


def _why(old: Placed, demands: Demands, standing: Standing) -> str:
    """Return in words why a booked order does not stay: what it would break, or that the plan is better so."""
    reasons = (
        (old.start < demands.now, "its night has begun without it"),
        (all(order.key != old.order for order in demands.orders), "its segments are not to be converted any more"),
        (old.order not in demands.forced, "the plan is better so, the price of the move included"),
    )
    said = _put_off(old, standing) or next((words for holds, words in reasons if holds), None)
    return said or _what_breaks(old, demands)


def _what_breaks(old: Placed, demands: Demands) -> str:
    """Return in words what an order would break where it was booked, with all that was booked where it was."""
    lines = audit(
        tuple({each.order: each for each in (*demands.booked, *demands.fixed)}.values()),
        demands.orders,
        demands.windows,
        demands.crews,
        demands.phases,
        demands.brief,
        demands.places,
        demands.parts,
        demands.spares,
        demands.now,
        demands.fixed,
        asked=frozenset({old.order}),
        wear=demands.wear,
    )
    broken = next((line for line in lines if not line.holds), None)
    return "another booked order needs its place" if broken is None else f"{WHY[broken.number]}: {broken.breach}"


def short_notice(shifts: Iterable[Shift], today: date) -> tuple[Shift, ...]:
    """Return the moves of booked orders whose rooms cannot be told in time any more."""
    return tuple(each for each in shifts if each.tell_by is not None and each.tell_by < today)
