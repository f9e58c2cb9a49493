"""What purchasing does about materials: order, take deliveries, expect them later, hand workbooks to suppliers."""

import re
from uuid import uuid4

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.core.saying import plain_number
from inventory.models import Delivery, Part
from inventory.tables import today
from inventory.views.downloads import XLSX, download
from inventory.views.guard import person, requires
from inventory.views.numbers import row_number
from planner.forms.materials import DeliveredForm, ExpectedForm, OnceForm, OrderedForm, told
from planner.models import Plan
from planner.services.buying import purchase_workbook
from planner.services.materials import (
    count_anew,
    expect_delivery,
    order_part,
    record_of,
    take_delivery,
    usable_if_ordered,
)
from planner.services.standing import current_plan

COUNTED_BEFORE = "This form was counted before; nothing was counted twice."


@requires(Capability.SEE)
def part(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one part: stock, what is due, its record along the plan by day; order it, take what comes."""
    one = get_object_or_404(Part, pk=pk)
    plan = current_plan()
    record = record_of(one.key, plan, today())
    wanted = {"token": uuid4(), "part": one.key, "due": usable_if_ordered(one, plan, today()) if plan else None}
    return render(
        request,
        "planner/material.html",
        {
            "part": one,
            "plan": plan,
            "record": record,
            "to_buy": [day for day in record if day.receipt],
            "deliveries": coming(one),
            "today": today(),
            "form": OrderedForm(initial=wanted),
            "entries": one.stock_entries.select_related("by").order_by("-at", "-pk")[:20],
        },
    )


def coming(one: Part | None = None) -> list[tuple[Delivery, DeliveredForm, ExpectedForm]]:
    """Return what is still to come, late ones first, each with the two forms about it."""
    rows = Delivery.objects.select_related("part").order_by("due", "part__key", "pk")
    return [
        (
            row,
            DeliveredForm(initial={"token": uuid4(), "quantity": plain_number(row.quantity)}, prefix=f"came-{row.pk}"),
            ExpectedForm(initial={"due": row.due}, prefix=f"due-{row.pk}"),
        )
        for row in (rows if one is None else rows.filter(part=one))
    ]


@requires(Capability.STOCK)
@require_POST
def ordered(request: HttpRequest) -> HttpResponse:
    """Put on record that a part is ordered."""
    form = OrderedForm(request.POST)
    if form.is_valid():
        what = form.ordered()
        done = f"{plain_number(what.quantity)} of {what.part} are on their way."
        try:
            return _back(request, done, first_time=order_part(form.cleaned_data["token"], what, person(request)))
        except ValidationError as error:
            told(error, form)
    return _again(request, form, "Ordered", "material-ordered")


@requires(Capability.STOCK)
@require_POST
def delivered(request: HttpRequest, pk: int) -> HttpResponse:
    """Put what came on the shelf."""
    form = DeliveredForm(request.POST, prefix=f"came-{pk}")
    if form.is_valid():
        token, quantity = form.cleaned_data["token"], form.cleaned_data["quantity"]
        try:
            first = take_delivery(token, pk, quantity, person(request))
            said = f"{plain_number(quantity)} {'unit is' if quantity == 1 else 'units are'} on the shelf."
            return _back(request, said, first_time=first)
        except ValidationError as error:
            told(error, form)
    return _again(request, form, "Delivered", "material-delivered", pk)


@requires(Capability.STOCK)
@require_POST
def expected(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the day on which a delivery is expected."""
    form = ExpectedForm(request.POST, prefix=f"due-{pk}")
    if form.is_valid():
        try:
            expect_delivery(pk, form.cleaned_data["due"], person(request))
            return _back(request, "The delivery is expected on the day you gave.", first_time=True)
        except ValidationError as error:
            told(error, form)
    return _again(request, form, "Expected on another day", "material-expected", pk)


@requires(Capability.STOCK)
@require_POST
def counted(request: HttpRequest) -> HttpResponse:
    """Count the take-off of the current plan anew."""
    plan = current_plan()
    if plan is not None:
        count_anew(plan)
        messages.success(request, "Counted anew from stock, deliveries and orders as they are now.")
    return redirect("materials")


@requires(Capability.SEE)
def workbook(request: HttpRequest) -> HttpResponse:
    """Hand out what is to be bought as a workbook: of one supplier or of all, for one phase or for all."""
    asked = row_number(request.GET.get("plan", ""))
    plan = current_plan() if asked is None else get_object_or_404(Plan, pk=asked)
    if plan is None:
        return redirect("materials")
    supplier, phase = request.GET.get("supplier"), request.GET.get("phase")
    content = purchase_workbook(plan, supplier, phase, timezone.now())
    named = [one or "supplier not known" for one in (supplier, phase) if one is not None]
    name = re.sub(r"[^A-Za-z0-9]+", "-", " ".join(named) or "all").strip("-").lower() or "some"
    return download(content, f"purchases-{name}.xlsx", XLSX)


def _back(request: HttpRequest, done: str, *, first_time: bool) -> HttpResponse:
    """Say what was done, and go back to the materials or the part that was looked at."""
    messages.add_message(
        request, messages.SUCCESS if first_time else messages.INFO, done if first_time else COUNTED_BEFORE
    )
    here = row_number(request.POST.get("back", ""))
    return redirect("materials") if here is None else redirect("material", pk=here)


def _again(
    request: HttpRequest, form: ExpectedForm | OnceForm, title: str, address: str, pk: int | None = None
) -> HttpResponse:
    """Show one form once more, with what was typed and what is wrong beside it."""
    context = {"form": form, "title": title, "address": address, "pk": pk, "back": request.POST.get("back", "")}
    return render(request, "planner/material_form.html", context, status=400)
