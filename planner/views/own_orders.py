"""The guard before orders: people with the role crew see and carry out those of their own crews alone."""

from collections.abc import Callable
from functools import wraps
from html import unescape
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string

from inventory.core.roles import Capability
from inventory.views.guard import may, may_any_order, person, refuse
from planner.models import Order
from planner.services.crews import crews_of

SENT_BY_SCRIPT = "X-Kept-Entry"
FORBIDDEN = 403
OrderView = Callable[[HttpRequest, Order], HttpResponseBase]
NumberedView = Callable[[HttpRequest, int], HttpResponseBase]


def own_crews(request: HttpRequest) -> tuple[str, ...]:
    """Return the crews of the person who asks, read once a request."""
    if not hasattr(request, "crews_read"):
        request.crews_read = crews_of(person(request))  # type: ignore[attr-defined]
    found: tuple[str, ...] = request.crews_read  # type: ignore[attr-defined]
    return found


def visible(request: HttpRequest, orders: QuerySet[Order]) -> QuerySet[Order]:
    """Return those of the orders that the person who asks may see."""
    return orders if may_any_order(request, Capability.SEE) else orders.filter(crew__in=own_crews(request))


def may_with(request: HttpRequest, capability: Capability, order: Order) -> bool:
    """Tell whether the person who asks may do it to this order."""
    return may_any_order(request, capability) or (may(request, capability) and order.crew in own_crews(request))


def shown(request: HttpRequest, order: Order | None) -> dict[str, Any]:
    """Return an order for a page about something else: nothing but that there is one, where another crew has it."""
    hidden = order is not None and not may_with(request, Capability.SEE, order)
    return {"order": None if hidden else order, "others_order": hidden}


def about_crews(request: HttpRequest) -> dict[str, Any]:
    """Return what a page with orders says about whose they are: `of_crews` is None for those who see all."""
    return {"of_crews": None if may_any_order(request, Capability.SEE) else own_crews(request)}


def requires_order(capability: Capability) -> Callable[[OrderView], NumberedView]:
    """Let only those in who may do it to this order, and give the view the order itself."""

    def guard(view: OrderView) -> NumberedView:
        @wraps(view)
        def guarded(request: HttpRequest, pk: int) -> HttpResponseBase:
            if not may(request, capability):
                return refuse(request, capability)
            order = get_object_or_404(Order.objects.select_related("building", "plan__brief"), pk=pk)
            return view(request, order) if may_with(request, capability, order) else refuse_order(request, order)

        guarded.capability = capability  # type: ignore[attr-defined]
        return guarded

    return guard


def refuse_order(request: HttpRequest, order: Order) -> HttpResponse:
    """Answer 403, with words about whose order it is and what to do; to a script that sends what was kept, the words alone."""
    context = {"order": order, "of_crews": own_crews(request)}
    if SENT_BY_SCRIPT in request.headers:
        words = render_to_string("planner/parts/not_yours.html", context)
        return JsonResponse({"refused": unescape(words).strip()}, status=FORBIDDEN)
    return render(request, "planner/order_refused.html", context, status=FORBIDDEN)
