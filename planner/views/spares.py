"""Spares: whether they last until the plan has replaced what they keep alive."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import mark_safe

from inventory.core.roles import Capability
from inventory.core.spares import BEARABLE_ODDS, COURSES, Pool, PoolCourse
from inventory.views.guard import requires
from planner.handover.pool_chart import month_named, pool_drawing
from planner.models import Plan
from planner.services.ageing import SparesAlong, spares_along


@requires(Capability.SEE)
def spares(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the spare pool of each old model along one plan."""
    plan = get_object_or_404(Plan.objects.select_related("brief"), pk=pk)
    along = spares_along(plan, timezone.localdate())
    context: dict[str, Any] = {
        "plan": plan,
        "rows": [_row(*row, along) for row in along.rows],
        "listed": bool(along.list_courses),
        "untold": along.found.untold,
        "guessed": along.found.guessed_ages,
        "last": month_named(along.start, along.months - 1),
        "courses": COURSES,
        "bearable": BEARABLE_ODDS,
        "scrapped": along.scrapped_share,
    }
    return render(request, "planner/spares.html", context)


def _row(pool: Pool, course: PoolCourse, by_list: PoolCourse | None, along: SparesAlong) -> dict[str, Any]:
    freed = int((pool.leaves_month >= 0).sum())
    return {
        **_outlook(course, along),
        "by_list": None if by_list is None else _outlook(by_list, along),
        "pool": pool,
        "installed": pool.age_years.size,
        "freed": freed,
        "expected": float(course.expected_failures.sum()),
        "poisson": float(course.short_odds_poisson[-1]),
        "below_floor": float(course.below_floor_odds.max()),
        "free": course.free_least,
        "drawing": mark_safe(pool_drawing(pool, course, along.start, by_list)),  # noqa: S308 - escapes every word
    }


def _outlook(course: PoolCourse, along: SparesAlong) -> dict[str, Any]:
    """Return when the shelf may be empty, how likely that is to the end, and what would have to be bought."""
    return {
        "run_out": float(course.run_out_odds[-1]),
        "first": None if course.first_month is None else month_named(along.start, course.first_month),
        "buy": course.buy_least,
    }
