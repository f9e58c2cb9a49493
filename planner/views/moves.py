"""What a planner does to a dated order by hand: move it, put it off; and planning again from there."""

from datetime import UTC
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.views.guard import person, requires
from planner.core.replanning import BEGUN
from planner.forms.moves import MendForm, MoveForm, PutOffForm
from planner.models import Order, Plan
from planner.services import hand_moves, jobs
from planner.services.delays import DelayRefused
from planner.services.delays import put_off as put_order_off
from planner.services.mending import MendRefused, mend
from planner.services.plan import DEFAULT_SECONDS
from planner.store.briefs import campus_zone
from planner.views.plans import order_page


def _order(pk: int) -> Order:
    return get_object_or_404(Order.objects.select_related("building", "plan__brief", "plan__assessment"), pk=pk)


def _zone(order: Order) -> str:
    return order.building.time_zone or campus_zone()


@requires(Capability.PLAN)
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask where an order is to go, tell what that breaks, and keep it as a new version of the plan when told to."""
    order = _order(pk)
    zone = _zone(order)
    keeping = request.method == "POST"
    data = request.POST if keeping else request.GET if "crew" in request.GET else None
    form = MoveForm(data, order=order, zone=zone, initial=_initial(order, zone))
    context = _context(order, form, _put_off_form(order))
    if data is None or not form.is_valid():
        return render(request, "planner/order_move.html", context, status=400 if form.errors else 200)
    crew, start = form.cleaned_data["crew"], form.start().astimezone(UTC)
    try:
        if keeping:
            plan = hand_moves.keep(order, crew, start, by=person(request))
            messages.success(request, f"Kept as plan {plan.pk}; plan {order.plan_id} stays as it was.")
            return redirect("plan", pk=plan.pk)
        context["looked"] = hand_moves.look(order, crew, start)
    except hand_moves.MoveRefused as refusal:
        form.add_error(None, str(refusal))
    return render(request, "planner/order_move.html", context, status=400 if form.errors else 200)


def _context(order: Order, form: MoveForm, put_off: PutOffForm) -> dict[str, Any]:
    """Return what the page shows; what is always refused is not offered."""
    return {
        "order": order,
        "form": form,
        "zone": _zone(order),
        "put_off": put_off,
        "may_move": order.state in hand_moves.MOVABLE,
        "may_put_off": order.state not in BEGUN,
    }


def _initial(order: Order, zone: str) -> dict[str, object]:
    if order.start is None:
        return {}
    local = timezone.localtime(order.start, ZoneInfo(zone))
    return {"crew": order.crew, "day": local.date(), "clock": local.time()}


def _put_off_form(order: Order) -> PutOffForm:
    return PutOffForm(initial={"not_before": order.not_before})


@requires(Capability.PLAN)
@require_POST
def put_off(request: HttpRequest, pk: int) -> HttpResponse:
    """Put an order off to a night or later; the next plan goes by that."""
    order = _order(pk)
    form = PutOffForm(request.POST)
    if form.is_valid():
        try:
            put_order_off(order, form.cleaned_data["not_before"], by=person(request), why=form.cleaned_data["why"])
        except DelayRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(
                request, f"Kept. Plan again to find order {order.key} its place; this plan stays as it is."
            )
            return redirect("order", pk=pk)
    zone = _zone(order)
    move_form = MoveForm(order=order, zone=zone, initial=_initial(order, zone))
    return render(request, "planner/order_move.html", _context(order, move_form, form), status=400)


@requires(Capability.MEND)
@require_POST
def mended(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep what was done about the reason for which an order was backed out; the next plan dates it again."""
    order = _order(pk)
    form = MendForm(request.POST)
    if form.is_valid():
        try:
            mend(order, form.cleaned_data["what"], by=person(request))
        except MendRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"Kept. The next plan may date order {order.key} again.")
            return redirect("order", pk=pk)
    return order_page(request, order, {}, mend_form=form, status=400)


@requires(Capability.PLAN)
@require_POST
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Plan again from a plan: what is begun stays, what is booked stays where it can."""
    plan = get_object_or_404(Plan.objects.select_related("brief"), pk=pk)
    demand = {"brief": plan.brief.name, "seconds": DEFAULT_SECONDS, "seed": plan.seed, "goes_on_from": plan.pk}
    job = jobs.ask_once("plan", demand, by=person(request))
    return redirect("job", pk=job.pk)
