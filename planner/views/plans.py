"""Plans: when, by whom, for how much."""

from collections import Counter
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.models import Part
from inventory.views.guard import person, requires
from planner.core.plans import Order as OrderRecord
from planner.core.plans import PhaseSummary
from planner.forms.briefs import BriefForm, PlanForm
from planner.models import Brief, Crew, Job, Order, Phase, Plan
from planner.models.briefs import FIRST_BRIEF
from planner.services import jobs
from planner.services.adoption import PlanNotFit, adopt
from planner.services.briefs import brief_texts, keep_brief
from planner.store.records import from_json

SHOWN_PLANS = 20


@requires(Capability.SEE)
def plans(request: HttpRequest) -> HttpResponse:
    """List the plans, the briefs behind them, and the work that is on its way."""
    context = {
        "plans": Plan.objects.select_related("brief", "by")[:SHOWN_PLANS],
        "briefs": Brief.objects.all(),
        "crews": Crew.objects.filter(brief__name=FIRST_BRIEF),
        "phases": Phase.objects.filter(brief__name=FIRST_BRIEF),
        "under_way": Job.objects.filter(kind="plan", state__in=("queued", "running")).defer("upload", "output"),
    }
    return render(request, "planner/plans.html", context)


@requires(Capability.PLAN)
def brief(request: HttpRequest) -> HttpResponse:
    """Ask for the brief, keep it, and begin to plan by it."""
    name = request.GET.get("brief", FIRST_BRIEF)
    if request.method != "POST":
        forms = PlanForm(initial={"name": name}), BriefForm(texts=brief_texts(name))
        return _brief_page(request, name, *forms, status=200)
    plan_form, brief_form = PlanForm(request.POST), BriefForm(request.POST)
    if not (plan_form.is_valid() & brief_form.is_valid()):
        return _brief_page(request, name, plan_form, brief_form, status=400)
    asked = plan_form.cleaned_data
    kept = keep_brief(asked["name"], brief_form.texts(), by=person(request))
    demand = {"brief": kept.name, "seconds": asked["seconds"], "seed": asked["seed"]}
    job = jobs.ask_once("plan", demand, by=person(request))
    return redirect("job", pk=job.pk)


def _brief_page(
    request: HttpRequest, name: str, plan_form: PlanForm, brief_form: BriefForm, *, status: int
) -> HttpResponse:
    context = {
        "plan_form": plan_form,
        "brief_form": brief_form,
        "crews": Crew.objects.filter(brief__name=name),
        "phases": Phase.objects.filter(brief__name=name),
    }
    return render(request, "planner/brief.html", context, status=status)


@requires(Capability.SEE)
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one plan by night and by phase, what it leaves out and why, and the check."""
    one = get_object_or_404(Plan.objects.select_related("brief", "by", "assessment", "adopted_by"), pk=pk)
    orders = list(one.orders.select_related("building").defer("data").order_by("start", "key"))
    placed = [order for order in orders if order.start is not None]
    left_out = [order for order in orders if order.start is None]
    context: dict[str, Any] = {
        "plan": one,
        "phases": [from_json(PhaseSummary, line) for line in one.phases],
        "nights": [(night, list(found)) for night, found in groupby(placed, key=lambda order: order.night)],
        "placed": placed,
        "left_out": left_out,
        "orders": len(orders),
        "reasons": Counter(order.reason_code for order in left_out).most_common(),
        "stations": sum(order.stations for order in placed),
        "holds": all(line["holds"] for line in one.check_lines),
    }
    return render(request, "planner/plan.html", context)


@requires(Capability.ADOPT)
@require_POST
def adopt_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Agree on a plan."""
    one = get_object_or_404(Plan, pk=pk)
    try:
        adopt(one, by=person(request))
    except PlanNotFit as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The plan is adopted: its dated orders are booked.")
    return redirect("plan", pk=pk)


@requires(Capability.PLAN)
@require_POST
def hand_over(request: HttpRequest, pk: int) -> HttpResponse:
    """Have the hand-over files of a plan made, in the background."""
    one = get_object_or_404(Plan, pk=pk)
    job = jobs.ask_once("handover", {"plan": one.pk}, by=person(request))
    return redirect("job", pk=job.pk)


@requires(Capability.SEE)
def order(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one order: when, who, what goes dark, what it needs."""
    one = get_object_or_404(Order.objects.select_related("building", "plan__brief"), pk=pk)
    record = from_json(OrderRecord, one.data)
    costs = {
        "parts": record.cost_parts,
        "labour": record.cost_labour,
        "outage": record.cost_outage,
        "call-out": record.cost_call_out,
    }
    said = dict(Part.objects.filter(key__in=[need.part for need in record.parts]).values_list("key", "description"))
    context = {
        "order": one,
        "data": record,
        "parts": [(need, said.get(need.part)) for need in record.parts],
        "costs": [(what, amount) for what, amount in costs.items() if amount],
    }
    return render(request, "planner/order.html", context)
