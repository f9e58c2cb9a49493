"""What comes first by a planner's choice: from the page of an order."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.views.guard import person, requires
from inventory.views.numbers import row_number
from planner.models import Order, Precedence
from planner.services.sequence import SequenceRefused, put_after, take_back
from planner.views.plans import order_page

LONGEST_WHY = 500


@requires(Capability.PLAN)
@require_POST
def after(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep that an order comes after another of its plan."""
    order = get_object_or_404(Order.objects.select_related("building", "plan__brief"), pk=pk)
    first, why = (request.POST.get(name, "").replace("\0", "") for name in ("first", "why"))  # which no database takes
    typed = {"first": first[:200], "why": why[:LONGEST_WHY]}
    try:
        row = put_after(order, typed["first"], by=person(request), why=typed["why"].strip())
    except SequenceRefused as refusal:
        return order_page(request, order, {**typed, "refusal": str(refusal)}, status=400)
    messages.success(
        request, f"Kept: {row.then} comes after {row.first} in every plan made from now on. This plan stays as it is."
    )
    return redirect(f"{reverse('order', args=[pk])}#sequence")


@requires(Capability.PLAN)
@require_POST
def drop(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back that an order comes after another."""
    row = Precedence.objects.filter(pk=pk).first()
    if row is None:
        messages.info(request, "This choice is taken back already.")
    else:
        words = f"{row.then} need not come after {row.first} any more; the next plan goes by that."
        take_back(row, by=person(request))
        messages.success(request, words)
    back = row_number(request.POST.get("order", ""))
    if back is not None and Order.objects.filter(pk=back).exists():
        return redirect(f"{reverse('order', args=[back])}#sequence")
    return redirect("order-choices")
