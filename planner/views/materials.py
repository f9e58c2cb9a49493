"""Materials: what to buy by when."""

from collections import Counter, defaultdict
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.db.models import Count, F, Min, Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.core.roles import Capability
from inventory.core.saying import plain_number
from inventory.filters import NONE
from inventory.models import Delivery, Part
from inventory.tables import today
from inventory.views.guard import requires
from inventory.views.lists import show_list
from inventory.views.numbers import row_number
from planner.core.purchases import Purchase, Urgency
from planner.filters.materials import TakeoffFilter
from planner.forms.materials import OrderedForm
from planner.models import Plan, TakeoffLine
from planner.services.materials import changed_since, to_buy
from planner.services.standing import current_plan
from planner.tables.materials import TakeoffTable
from planner.views.buying import coming

SHOWN = 20  # purchases with a form each; narrowed to find the others


@requires(Capability.SEE)
def materials(request: HttpRequest) -> HttpResponse:
    """List the take-off of the current plan, or of the plan that the address names; late lines stand in front."""
    plan = _plan(request.GET.get("plan", ""))
    if plan is None:
        return render(request, "planner/materials_none.html")
    lines = TakeoffLine.objects.filter(plan=plan)
    found = to_buy(plan, today())
    context: dict[str, Any] = {
        "plan": plan,
        "is_current": plan == current_plan(),
        "stale": changed_since(plan),
        "pressing": _pressing(found, request),
        "urgencies": _counts(found),
        "deliveries": coming(),
        "today": today(),
        "overdue": Delivery.objects.filter(due__lt=today()).count(),
        "by_phase": _sums(lines, "phase"),
        "by_supplier": _sums(lines, "supplier"),
        "totals": _totals(lines),
        "late": lines.filter(net__gt=0, order_by__lt=today()).count(),
        "unpriced": lines.filter(net__gt=0, cost=None).count(),
    }
    return show_list(request, "planner/materials.html", TakeoffTable, TakeoffFilter, lines, context)


def _pressing(found: tuple[Purchase, ...], request: HttpRequest) -> dict[str, Any]:
    """Return the most pressing purchases that the address does not narrow away, each with the form to order it."""
    asked = {name: request.GET.get(name, "") for name in ("phase", "supplier", "part")}
    kept = [one for one in found if _is_asked(one, asked)]
    keys = dict(Part.objects.filter(key__in=[one.line.part for one in kept[:SHOWN]]).values_list("key", "pk"))
    return {
        "rows": [(one, keys.get(one.line.part), _form(one, number)) for number, one in enumerate(kept[:SHOWN])],
        "more": max(len(kept) - SHOWN, 0),
    }


def _is_asked(one: Purchase, asked: dict[str, str]) -> bool:
    supplier = asked["supplier"]
    return (
        asked["phase"] in ("", one.line.phase)
        and (supplier in ("", one.line.supplier) or (supplier == NONE and not one.line.supplier))
        and asked["part"].casefold() in one.line.part.casefold()
    )


def _counts(found: tuple[Purchase, ...]) -> list[tuple[str, int]]:
    counted = Counter(one.urgency for one in found)
    return [(urgency.value, counted[urgency]) for urgency in Urgency]


def _form(one: Purchase, number: int) -> OrderedForm:
    known = {"token": uuid4(), "part": one.line.part, "quantity": plain_number(one.line.bought), "due": one.usable_on}
    return OrderedForm(initial=known, auto_id=f"id_order{number}_%s")


def _plan(asked: str) -> Plan | None:
    number = row_number(asked)
    return current_plan() if number is None else get_object_or_404(Plan.objects.select_related("brief"), pk=number)


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
