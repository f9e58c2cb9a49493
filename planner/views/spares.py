"""Spares: whether they last until the plan has replaced what they keep alive."""

from math import ceil
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import mark_safe

from inventory.core.roles import Capability
from inventory.core.spares import BEARABLE_ODDS, COURSES, Pool, PoolCourse
from inventory.views.guard import requires
from planner.core.pools import Forward
from planner.handover.pool_chart import month_named, pool_drawing
from planner.models import Order, Plan
from planner.services.ageing import SparesAlong, spares_along

MADE, TODAY = "made", "today"  # what addresses say of the day from which pools are told
MOST_MONTH_ROWS = 120  # of all pools together; a page must stay small
FLOOR_RULE = 8  # of the independent check


@requires(Capability.PLANS)
def spares(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the spare pool of each old model along one plan: from today, or as it stood on the day the plan was made.

    A plan that another has gone on from is told as it stood, unless the address asks for today.
    """
    plan = get_object_or_404(Plan.objects.select_related("brief", "goes_on_from__brief"), pk=pk)
    asked = request.GET.get("from")
    as_made = asked == MADE or (asked != TODAY and _is_succeeded(plan))
    along = spares_along(plan, timezone.localdate(), as_made=as_made)
    orders = {row.key: row for row in plan.orders.defer("data")}
    context: dict[str, Any] = {
        "plan": plan,
        "as_made": as_made,
        "begins": along.start,
        "rows": [_row(row, along, orders) for row in along.rows],
        "listed": bool(along.list_courses),
        "same": along.same_as_list,
        "untold": along.found.untold,
        "guessed": along.found.guessed_ages,
        "overdue": [orders[key] for key in along.overdue],
        "last": month_named(along.start, along.months - 1),
        "courses": COURSES,
        "bearable": BEARABLE_ODDS,
        "scrapped": along.scrapped_share,
        "rule": next((line for line in plan.check_lines if line["number"] == FLOOR_RULE), None),
    }
    return render(request, "planner/spares.html", context)


def _is_succeeded(plan: Plan) -> bool:
    """Tell whether a plan that was adopted later goes on from this one."""
    return Plan.objects.filter(goes_on_from=plan).exclude(adopted=None).exists()


Told = tuple[Pool, PoolCourse, PoolCourse | None, Forward | None]


def _row(told: Told, along: SparesAlong, orders: dict[str, Order]) -> dict[str, Any]:
    pool, course, by_list, forward = told
    freed = int((pool.leaves_month >= 0).sum())
    later = 0 if course.first_month is None else int((pool.leaves_month >= course.first_month).sum())
    return {
        **_outlook(course, along),
        "by_list": None if by_list is None else _outlook(by_list, along),
        "pool": pool,
        "installed": pool.age_years.size,
        "freed": freed,
        "expected": float(course.expected_failures.sum()),
        "poisson": float(course.short_odds_poisson[-1]),
        "below_floor": float(course.below_floor_odds.max()),
        "later": later,
        "free": course.free_least,
        "forward": forward,
        "forward_orders": [orders[key] for key in forward.orders] if forward else [],
        "months": _months(course, by_list, along),
        "drawing": mark_safe(pool_drawing(pool, course, along.start, by_list)),  # noqa: S308 - escapes every word
    }


def _months(course: PoolCourse, by_list: PoolCourse | None, along: SparesAlong) -> list[dict[str, Any]]:
    """Return the figures month by month; of many pools or months every second, third ..., with the first short one and the last."""
    step = ceil(along.months * len(along.rows) / MOST_MONTH_ROWS)
    shown = {
        *range(0, along.months, step),
        along.months - 1,
        *([] if course.first_month is None else [course.first_month]),
    }
    return [
        {
            "month": month_named(along.start, month),
            "installed": int(course.installed[month]),
            "failures": float(course.expected_failures[month]),
            "freed": float(course.freed[month]),
            "level": float(course.level[month]),
            "low": float(course.level_low[month]),
            "high": float(course.level_high[month]),
            "run_out": float(course.run_out_odds[month]),
            "short": float(course.short_odds[month]),
            "poisson": float(course.short_odds_poisson[month]),
            "by_list": None if by_list is None else float(by_list.run_out_odds[month]),
        }
        for month in sorted(shown)
    ]


def _outlook(course: PoolCourse, along: SparesAlong) -> dict[str, Any]:
    """Return when the shelf may be empty, how likely that is to the end, and what would have to be bought."""
    return {
        "run_out": float(course.run_out_odds[-1]),
        "first": None if course.first_month is None else month_named(along.start, course.first_month),
        "buy": course.buy_least,
    }
