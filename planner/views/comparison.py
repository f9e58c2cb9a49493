"""Plans side by side."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import Capability
from inventory.views.guard import requires
from inventory.views.numbers import row_number
from planner.models import Plan
from planner.services.comparison import compared
from planner.views.plans import plans_page

FEWEST, MOST, SHOWN_ROWS = 2, 4, 100


@requires(Capability.PLANS)
def compare(request: HttpRequest) -> HttpResponse:
    """Compare two plans or more; the first is the one that the others are held against."""
    asked = [one for one in map(row_number, request.GET.getlist("plan")) if one is not None]
    found = Plan.objects.select_related("brief").in_bulk(asked)
    plans = [found[pk] for pk in dict.fromkeys(asked) if pk in found]
    if not FEWEST <= len(plans) <= MOST:
        refusal = f"Choose {FEWEST} to {MOST} plans to compare; {len(plans)} were chosen."
        return plans_page(request, refusal=refusal, chosen=[plan.pk for plan in plans])
    result = compared(plans)
    context = {
        "comparison": result,
        "rows": [(row, tuple(zip(result.sides, row.cells, strict=True))) for row in result.rows[:SHOWN_ROWS]],
        "not_shown": max(len(result.rows) - SHOWN_ROWS, 0),
        "finishes": [
            (phase, [(side, dict(side.sums.finish_by_phase).get(phase)) for side in result.sides])
            for phase in result.phases
        ],
    }
    return render(request, "planner/compare.html", context)
