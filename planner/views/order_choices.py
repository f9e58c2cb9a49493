"""Orders by hand: which segments of a building share an outage, what a choice costs, and keeping it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.models import Building
from inventory.views.guard import may, person, requires
from planner.core.findings import CONVERTIBLE
from planner.models import OrderChoice, Precedence, Segment, TakenWay
from planner.services.order_choices import ACTS, ChoiceRefused, Desk, Look, drop, is_newer_than, keep
from planner.services.standing import current_plan
from planner.store.verdicts import current_assessment

LONGEST_WHY = 500


@requires(Capability.PLANS)
def order_choices(request: HttpRequest) -> HttpResponse:
    """Show the orders of one building as the next plan would make them, and what a choice about them would mean."""
    buildings = list(Building.objects.filter(pk__in=_with_work()).order_by("key"))
    asked = request.GET.get("building")
    building = get_object_or_404(Building, key=asked) if asked else (buildings[0] if buildings else None)
    if building is None:
        return render(request, "planner/order_choices.html", {"buildings": ()})
    return _page(request, building, buildings, request.GET)


def _page(
    request: HttpRequest, building: Building, buildings: list[Building], asked: QueryDict, kept_not: str | None = None
) -> HttpResponse:
    """Show the orders of a building; `asked` is what was ticked and typed, `kept_not` why that was not kept."""
    desk = Desk(building)
    ticked = asked.getlist("segment")
    look, refusal = (None, kept_not) if kept_not else _looked(desk, asked.get("act"), ticked)
    orders = desk.orders()
    choices = list(OrderChoice.objects.filter(building=building).select_related("by").order_by("at", "pk"))
    plan = current_plan()
    context: dict[str, Any] = {
        "buildings": buildings,
        "building": building,
        "orders": orders,
        "toll": desk.toll(orders),
        "free_toll": desk.free_toll() if choices else None,
        "choices": [(row, is_newer_than(row, plan)) for row in choices],
        "sequences": [(row, is_newer_than(row, plan)) for row in Precedence.objects.select_related("by")],
        "ticked": ticked,
        "act": asked.get("act"),
        "why": asked.get("why", ""),
        "look": look,
        "refusal": refusal,
        "may_choose": may(request, Capability.PLAN),
    }
    return render(request, "planner/order_choices.html", context, status=400 if refusal else 200)


def _with_work() -> Any:
    """Return the ids of the buildings that have anything to convert."""
    ticked = TakenWay.objects.filter(void=None).values("segment")
    rows = Segment.objects.filter(assessment=current_assessment())
    return (rows.filter(verdict__in=CONVERTIBLE) | rows.filter(key__in=ticked)).values("building")


def _looked(desk: Desk, act: str | None, ticked: list[str]) -> tuple[Look | None, str | None]:
    if act not in ACTS:
        return None, None
    try:
        return desk.look(act, ticked), None
    except ChoiceRefused as refusal:
        return None, str(refusal)


@requires(Capability.PLAN)
@require_POST
def keep_choice(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep which segments of a building share an order."""
    building = get_object_or_404(Building, pk=pk)
    act = request.POST.get("act", "")
    try:
        if act not in ACTS:
            raise ChoiceRefused("Say whether the ticked segments stay together or apart.")  # noqa: EM101, TRY301 - one refusal for all
        keep(
            building,
            act,
            request.POST.getlist("segment"),
            request.POST.get("why", "")[:LONGEST_WHY],
            by=person(request),
        )
    except ChoiceRefused as refusal:
        buildings = list(Building.objects.filter(pk__in=_with_work()).order_by("key"))
        return _page(request, building, buildings, request.POST, str(refusal))
    messages.success(request, "The choice is kept: it holds for every plan from now on, until it is taken back.")
    return redirect(_address(building))


@requires(Capability.PLAN)
@require_POST
def drop_choice(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a choice back."""
    row = OrderChoice.objects.select_related("building").filter(pk=pk).first()
    if row is None:
        messages.info(request, "This choice is taken back already.")
        return redirect("order-choices")
    building = row.building
    drop(row, by=person(request))
    messages.success(request, "The choice is taken back: the next plan groups these segments as is cheapest.")
    return redirect(_address(building))


def _address(building: Building) -> str:
    return f"{reverse('order-choices')}?building={building.key}"
