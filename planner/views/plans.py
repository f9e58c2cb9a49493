"""Plans: when, by whom, for how much."""

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.models import Part
from inventory.views.guard import may, person, requires
from inventory.views.lists import show_list
from planner.core.brief import Brief as BriefRecord
from planner.core.plans import Order as OrderRecord
from planner.core.replanning import BEGUN
from planner.core.stops import stop_words
from planner.filters.orders import OrderFilter, orders_of
from planner.forms.briefs import BriefForm, PlanForm
from planner.forms.moves import MendForm
from planner.models import Brief, Crew, Job, Order, Phase, Plan
from planner.models.briefs import FIRST_BRIEF
from planner.services import hand_moves, jobs
from planner.services.adoption import PlanNotFit, adopt
from planner.services.briefs import brief_texts, keep_brief
from planner.services.delays import events_of
from planner.services.mending import stops_of
from planner.services.order_states import last_back_out
from planner.services.scenarios import problems_of, scenarios
from planner.services.sequence import links_of, names_to_offer
from planner.services.standing import current_plan
from planner.store.lineage import as_it_stands
from planner.store.records import from_json
from planner.tables.orders import OrderTable
from planner.views.own_orders import about_crews, may_with, requires_order, visible
from planner.views.plan_sheet import plan_context

SHOWN_PLANS = 20


@requires(Capability.PLANS)
def plans(request: HttpRequest) -> HttpResponse:
    """List the plans, the briefs behind them, and the work that is on its way."""
    return plans_page(request)


def plans_page(request: HttpRequest, *, refusal: str = "", chosen: Sequence[int] = ()) -> HttpResponse:
    """Show the plans; `refusal` is why those chosen were not compared."""
    context = {
        "refusal": refusal,
        "chosen": chosen,
        "plans": Plan.objects.select_related("brief", "by")[:SHOWN_PLANS],
        "adopted": Plan.objects.adopted(),
        "scenarios": scenarios(),
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
    kept = keep_brief(asked["name"], brief_form.texts(), by=person(request), like=name)
    fatal = [problem.message for problem in problems_of(kept.name) if problem.fatal]
    if fatal:
        for message in (*fatal, f"Nothing is planned yet. The brief {kept.name} is kept as you typed it."):
            plan_form.add_error(None, message)
        return _brief_page(request, kept.name, plan_form, brief_form, status=400)
    demand = {"brief": kept.name, "seconds": asked["seconds"], "seed": asked["seed"]}
    adopted = Plan.objects.adopted() if asked["goes_on"] else None
    job = jobs.ask_once("plan", demand | ({"goes_on_from": adopted.pk} if adopted else {}), by=person(request))
    return redirect("job", pk=job.pk)


def _brief_page(
    request: HttpRequest, name: str, plan_form: PlanForm, brief_form: BriefForm, *, status: int
) -> HttpResponse:
    context = {
        "brief": Brief.objects.filter(name=name).first(),
        "plan_form": plan_form,
        "brief_form": brief_form,
        "adopted": Plan.objects.adopted(),
        "crews": Crew.objects.filter(brief__name=name),
        "phases": Phase.objects.filter(brief__name=name),
        "problems": problems_of(name),
        "currency": brief_form["currency"].value() or BriefRecord().currency,
    }
    return render(request, "planner/brief.html", context, status=status)


@requires(Capability.PLANS)
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one plan by night and by phase, what it leaves out and why, and the check."""
    related = ("brief", "by", "assessment", "adopted_by", "goes_on_from__brief")
    one = get_object_or_404(Plan.objects.select_related(*related), pk=pk)
    rows = one.orders.filter(start__isnull=False).order_by("start", "key").values_list("pk", "key", "data__watches")
    watched = [row for row in rows if row[2]]
    context = {**plan_context(one, request.GET.get("night"), request.path), "watched": watched}
    return render(request, "planner/plan.html", context)


@requires(Capability.SEE)
def orders(request: HttpRequest, pk: int) -> HttpResponse:
    """List all orders of a plan, dated or left out, to narrow, sort and keep."""
    one = get_object_or_404(Plan.objects.select_related("brief"), pk=pk)
    context = {"plan": one, **about_crews(request)}
    return show_list(
        request, "planner/plan_orders.html", OrderTable, OrderFilter, visible(request, orders_of(one)), context
    )


@requires(Capability.SEE)
def all_orders(request: HttpRequest) -> HttpResponse:
    """List the orders of the current plan, or of it those of one's own crews."""
    one = current_plan()
    context = {"plan": one, **about_crews(request)}
    rows = orders_of(one) if one else Order.objects.none()
    return show_list(request, "planner/orders.html", OrderTable, OrderFilter, visible(request, rows), context)


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


@requires_order(Capability.SEE)
def order(request: HttpRequest, one: Order) -> HttpResponse:
    """Show one order: when, who, what goes dark, what it needs."""
    return order_page(request, one, {})


def _in_force(one: Order) -> Any | None:
    """Return the order with how it stands by the plan in force, None where its own plan says the same."""
    found: Any = as_it_stands(Order.objects.filter(pk=one.pk).defer("data")).get()
    return found if found.stands != found.state else None


def order_page(
    request: HttpRequest, one: Order, typed: dict[str, str], *, mend_form: MendForm | None = None, status: int = 200
) -> HttpResponse:
    """Show one order; `typed` is what was typed to put it after another, and why that was refused."""
    record = from_json(OrderRecord, one.data)
    costs = {
        "parts": record.cost_parts,
        "pulling and moving": record.cost_changes,
        "labour": record.cost_labour,
        "outage": record.cost_outage,
        "call-out": record.cost_call_out,
    }
    said = dict(Part.objects.filter(key__in=[need.part for need in record.parts]).values_list("key", "description"))
    events = events_of(one)
    context = {
        "order": one,
        "in_force": _in_force(one),
        "data": record,
        "parts": [(need, said.get(need.part)) for need in record.parts],
        "costs": [(what, amount) for what, amount in costs.items() if amount],
        "events": events,
        "may_work": may_with(request, Capability.WORK, one),
        "may_move": one.state in hand_moves.MOVABLE,
        "may_put_off": one.state not in BEGUN,
        "backed_out": last_back_out(events),
        "stops": [stop_words(stop) for stop in stops_of(one)],
        "mend_form": mend_form or MendForm(),
        "before": list(one.plan.orders.filter(key__in=record.predecessors).order_by("key")),
        "links": links_of(one),
        "names": names_to_offer(one) if may(request, Capability.PLAN) else [],
        "typed": typed,
        **about_crews(request),
    }
    return render(request, "planner/order.html", context, status=status)
