"""What the sheet of one plan shows: its figures, nights drawn and listed, phases, what is left out and why, what changed."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date
from itertools import groupby
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from planner.core.plans import OrderState, PhaseSummary
from planner.core.replanning import Fate, Shift
from planner.core.settled import worth_of
from planner.filters.orders import orders_of
from planner.handover.nights_chart import CrewNight, month_drawing, months_of
from planner.models import Order, Plan
from planner.store.plans import load_settings
from planner.store.records import from_json
from planner.store.stops import load_stops

SHOWN_ORDERS, SHOWN_LEFT_OUT, SHOWN_SHIFTS = 60, 30, 60
MOST_SQUARES = 260  # of the drawn calendar on one sheet
TONES = {"accepted": "good", "under way": "wait", "booked": "pair", "drafted": "rest", "backed out": "bad"}
WORST_FIRST = ("backed out", "under way", "drafted", "booked", "accepted")


def plan_context(plan: Plan, night: str | None, path: str) -> dict[str, Any]:
    """Return what the sheet of a plan shows, from a night on where one is asked for."""
    orders: list[Any] = list(orders_of(plan).order_by("start", "key"))
    backed_out = {order.key for order in orders if order.stands == OrderState.BACKED_OUT}
    placed = [order for order in orders if order.start is not None]
    left_out = [order for order in orders if order.start is None]
    nights = crew_nights(placed)
    first = _date(night) or min((each.night for each in nights), default=None)
    shown = [order for order in placed if first and order.night and order.night >= first][:SHOWN_ORDERS]
    shifts = [from_json(Shift, each) for each in plan.changes]
    return {
        "plan": plan,
        "phases": [from_json(PhaseSummary, line) for line in plan.phases],
        "drawings": drawings_of(nights, plan.brief.crews.values_list("key", flat=True), first, path),
        "nights": [(each, list(found)) for each, found in groupby(shown, key=lambda order: order.night)],
        "earlier": _earlier(placed, first),
        "later": _later(placed, shown),
        "crew_nights": len(nights),
        "crews": sorted({each.crew for each in nights}),
        "placed": placed,
        "finish": max((each.night for each in nights), default=None),
        "left_out": left_out[:SHOWN_LEFT_OUT],
        "left_out_count": len(left_out),
        "orders": len(orders),
        "backed_out": len(backed_out),
        "unsaid": len(backed_out & {stop.order for stop in load_stops()}) if backed_out else 0,
        "reasons": Counter(order.reason_code for order in left_out).most_common(),
        "stations": sum(order.stations for order in placed),
        "holds": all(line["holds"] for line in plan.check_lines),
        "worth": worth_of(
            orders=len(orders),
            settled=plan.settled,
            settled_objective=plan.settled_objective,
            figures=(plan.objective, plan.bound, plan.list_objective),
        ),
        "beside_shifts": max(len(orders) - len(shifts), 0),
        "shifts": _told(shifts)[:SHOWN_SHIFTS],
        "waiting_weighs": load_settings(plan).weight_sooner,
        "fates": dict(
            Counter(shift.fate.value for shift in shifts)
        ),  # a template would ask a Counter for the count of "items"
        "adoptions": list(plan.adoptions.select_related("by", "in_place_of")),
        "followers": list(plan.followers.select_related("brief").order_by("pk")),
    }


def _date(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        return None


def crew_nights(placed: Iterable[Any]) -> list[CrewNight]:
    """Return what each crew does in each night, in order of time."""
    found: dict[tuple[date, str], list[Any]] = defaultdict(list)
    for order in placed:
        if order.night is not None and order.crew is not None:
            found[order.night, order.crew].append(order)
    return [
        CrewNight(
            night=night,
            crew=crew,
            orders=len(mine),
            phase=mine[0].phase or "",
            tone=TONES[min((order.stands for order in mine), key=WORST_FIRST.index)],
        )
        for (night, crew), mine in sorted(found.items())
    ]


def drawings_of(nights: list[CrewNight], crews: Iterable[str], first: date | None, path: str) -> list[SafeString]:
    """Return the drawn months from a night's on, as many as one sheet bears; `crews` have a row whether they work or not."""
    rows = tuple(sorted({*crews, *(each.crew for each in nights)}))
    months = [month for month in months_of(nights) if first is None or month >= (first.year, first.month)]
    drawn: list[SafeString] = []
    squares = 0
    for year, month in months:
        mine = [each for each in nights if (each.night.year, each.night.month) == (year, month)]
        squares += len(mine)
        if drawn and squares > MOST_SQUARES:
            break
        address = lambda night: f"{path}?night={night}#nights"  # noqa: E731 - an address is made where it is used
        drawn.append(mark_safe(month_drawing(year, month, mine, rows, address)))  # noqa: S308 - escaped where drawn
    return drawn


def _earlier(placed: list[Order], first: date | None) -> date | None:
    """Return the night from which the sheet before this one begins; None where this is the first."""
    before = [order.night for order in placed if first and order.night and order.night < first]
    return before[max(len(before) - SHOWN_ORDERS, 0)] if before else None


def _later(placed: list[Order], shown: list[Order]) -> date | None:
    """Return the night with which the sheet after this one begins; None where this is the last."""
    if not shown or shown[-1].pk == placed[-1].pk:
        return None
    position = next(index for index, order in enumerate(placed) if order.pk == shown[-1].pk)
    return placed[position + 1].night


def _told(shifts: list[Shift]) -> list[Shift]:
    """Return the shifts worth telling: booked ones that do not stay first, by the day to tell their rooms."""
    moved = [shift for shift in shifts if shift.fate is not Fate.STAYS]
    return sorted(moved, key=lambda shift: (not shift.booked, shift.tell_by or date.max, shift.order))
