"""How sure the dates of a plan are."""

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from inventory.core.roles import Capability
from inventory.views.guard import requires
from planner.core.outlook import Odds, PhaseOutlook, odds_of
from planner.handover.sure_chart import phases_drawing
from planner.models import Plan
from planner.services.how_sure import how_sure

SHOWN_ORDERS = 40


@requires(Capability.PLANS)
def sure(request: HttpRequest, pk: int) -> HttpResponse:
    """Show when the phases of a plan are done in its simulated courses, and what is likely to overrun or to spill."""
    plan = get_object_or_404(Plan.objects.select_related("brief"), pk=pk)
    found = how_sure(plan)
    outlook = found.outlook
    at_risk = [one for one in outlook.orders if one.overruns > 0 or one.put_off > 0]
    failing = sorted((one for one in at_risk if odds_of(one) is Odds.FAILS), key=lambda one: (one.night, one.order))
    pages = dict(plan.orders.values_list("key", "pk"))
    context = {
        "plan": plan,
        "outlook": outlook,
        "done": found.done,
        "drawing": _drawing(outlook.phases) if outlook.phases else None,
        "orders": [(one, pages[one.order], odds_of(one)) for one in at_risk[:SHOWN_ORDERS]],
        "failing": [(one, pages[one.order]) for one in failing],
        "at_risk": len(at_risk),
        "calm": len(outlook.orders) - len(at_risk),
    }
    return render(request, "planner/how_sure.html", context)


def _drawing(phases: Sequence[PhaseOutlook]) -> SafeString:
    return mark_safe(phases_drawing(phases, timezone.get_current_timezone()))  # noqa: S308 - it escapes every word
