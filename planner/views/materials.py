"""Materials: what to buy by when."""

from collections import defaultdict
from decimal import Decimal
from typing import Any

from django.db.models import Count, F, Min, Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.core.roles import Capability
from inventory.tables import today
from inventory.views.guard import requires
from inventory.views.lists import show_list
from planner.filters.materials import TakeoffFilter
from planner.models import Plan, TakeoffLine
from planner.services.standing import current_plan
from planner.tables.materials import TakeoffTable


@requires(Capability.SEE)
def materials(request: HttpRequest) -> HttpResponse:
    """List the take-off of the current plan, or of the plan that the address names; late lines stand in front."""
    plan = _plan(request.GET.get("plan", ""))
    if plan is None:
        return render(request, "planner/materials_none.html")
    lines = TakeoffLine.objects.filter(plan=plan)
    context: dict[str, Any] = {
        "plan": plan,
        "by_phase": _sums(lines, "phase"),
        "by_supplier": _sums(lines, "supplier"),
        "totals": _totals(lines),
        "late": lines.filter(net__gt=0, order_by__lt=today()).count(),
        "unpriced": lines.filter(net__gt=0, cost=None).count(),
    }
    return show_list(request, "planner/materials.html", TakeoffTable, TakeoffFilter, lines, context)


def _plan(asked: str) -> Plan | None:
    if asked.isdecimal():
        return get_object_or_404(Plan.objects.select_related("brief"), pk=int(asked))
    return current_plan()


def _sums(lines: QuerySet[TakeoffLine], field: str) -> list[dict[str, Any]]:
    """Return a row for each value of the field: lines to buy, late ones, first order-by date, sum in each currency."""
    bought = lines.filter(net__gt=0)
    late = Count("pk", filter=Q(order_by__lt=today()))
    unpriced = Count("pk", filter=Q(cost=None))
    rows = bought.order_by(F(field).asc(nulls_last=True)).values(value=F(field))
    sums = bought.filter(cost__isnull=False).order_by("currency").values_list(field, "currency").annotate(Sum("cost"))
    by_value: dict[str | None, list[tuple[Decimal, str | None]]] = defaultdict(list)
    for value, currency, cost in sums:
        by_value[value].append((cost, currency))
    counted = rows.annotate(lines=Count("pk"), late=late, first=Min("order_by"), unpriced=unpriced)
    return [{**row, "sums": by_value[row["value"]]} for row in counted]


def _totals(lines: QuerySet[TakeoffLine]) -> list[tuple[str | None, Decimal]]:
    rows = lines.filter(cost__isnull=False).order_by("currency").values_list("currency").annotate(Sum("cost"))
    return list(rows)
