"""The stations: what is on the walls, how old, and what is to be done."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from inventory.core.ageing import age_years, life_left_years
from inventory.core.roles import Capability
from inventory.filters import stations as all_stations
from inventory.filters import stations_to_count
from inventory.forms import FailureForm
from inventory.models import Failure, Node
from inventory.services.failures import others_that_day, report_failure
from inventory.services.history import changes_of
from inventory.tables import today
from inventory.views.guard import person, requires
from inventory.views.lists import show_list
from inventory.workbook.sheets import NODES
from planner.filters.stations import JudgedStationFilter, judged
from planner.models import Order, Segment, StationRisk
from planner.services import jobs
from planner.services.standing import current_plan
from planner.store.verdicts import current_assessment
from planner.tables.stations import JudgedStationTable
from planner.views.own_orders import shown

NODE_PARTS = ("building", "room__building", "model__part", "bus", "bus_2", "bus_3", "bus_4")


@requires(Capability.SEE)
def stations(request: HttpRequest) -> HttpResponse:
    """List the stations."""
    rows, counted = judged(all_stations()), judged(stations_to_count())
    return show_list(request, "planner/stations.html", JudgedStationTable, JudgedStationFilter, rows, counted=counted)


@requires(Capability.SEE)
def station(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one station, or any other node: facts, verdict, failures, history."""
    node = get_object_or_404(Node.objects.select_related(*NODE_PARTS), pk=pk)
    return _page(request, node, FailureForm(initial={"date": today()}))


@requires(Capability.REPORT_FAILURE)
@require_POST
def report(request: HttpRequest, pk: int) -> HttpResponse:
    """Take down a failure of this node."""
    node = get_object_or_404(Node.objects.select_related(*NODE_PARTS), pk=pk)
    form = FailureForm(request.POST)
    failure = _take_down(form, node, request.user) if form.is_valid() else None
    if failure is None:
        return _page(request, node, form)
    jobs.ask_once("ageing", {}, by=person(request))
    again = " Another one of that day is too: one visit counts once." if others_that_day(failure) else ""
    messages.success(request, f"The failure of {node.key} is on record.{again}")
    return redirect("station", pk=node.pk)


def _take_down(form: FailureForm, node: Node, by: Any) -> Failure | None:
    """Put a failure on record; None where it cannot be, which the form then says."""
    said = form.cleaned_data
    try:
        return report_failure(node, said["date"], said["what_failed"], said["outcome"], by=by)
    except ValidationError as error:
        form.add_error(None, error)
        return None


def _page(request: HttpRequest, node: Node, form: FailureForm) -> HttpResponse:
    on = today()
    segments = list(_segments(node))
    context: dict[str, Any] = {
        "node": node,
        "buses": [bus for bus in (node.bus, node.bus_2, node.bus_3, node.bus_4) if bus],
        "age": age_years(node.installed, on),
        "life_left": life_left_years(node.installed, node.model.service_life_years, on),
        "today": on,
        "segments": segments,
        "risk": StationRisk.objects.filter(node=node).first(),
        **shown(request, _order(node, {segment.key for segment in segments})),
        "failures": node.failures.order_by("-date", "-pk"),
        "spares": node.model.spares.order_by("store", "pk"),
        "zones": node.zones.select_related("panel"),
        "scenes": node.scenes.all(),
        "changes": changes_of(node, NODES),
        "form": form,
    }
    return render(request, "planner/station.html", context, status=400 if form.errors else 200)


def _segments(node: Node) -> Any:
    mine = Segment.objects.filter(assessment=current_assessment(), members__node=node)
    return mine.only("key", "verdict", "why").order_by("key")


def _order(node: Node, segments: set[str]) -> Order | None:
    """Return the order of the current plan that converts one of these segments."""
    plan = current_plan()
    if plan is None or not segments:
        return None
    orders = Order.objects.filter(plan=plan, building=node.building).order_by("key")
    for pk, keys in orders.values_list("pk", "data__segments"):
        if segments & set(keys or ()):
            return Order.objects.select_related("building").defer("data").get(pk=pk)
    return None
