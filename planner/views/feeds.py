"""Calendars by a private address, and notices for the people in the rooms."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from inventory.core.roles import Capability
from inventory.views.guard import may, person, requires
from planner.handover.notices import notices_of
from planner.models import Feed, Order, Plan
from planner.services.crews import known_crews
from planner.services.feeds import KINDS, calendar_of, end_feed, light_facts, may_read, open_feed
from planner.services.standing import current_plan
from planner.views.own_orders import about_crews, own_crews, visible

NOT_THEIRS = "You can have the orders of your own crews in a calendar. Planning or facilities say who is on which crew."
CALENDAR = "text/calendar; charset=utf-8"


@requires(Capability.SEE)
def feeds(request: HttpRequest) -> HttpResponse:
    """List the addresses that the person who asks has opened, and what one can be opened for."""
    return _page(request)


def _page(request: HttpRequest, refusal: str = "", asked: str = "") -> HttpResponse:
    """Show the page; `refusal` is why no address was opened for what was asked."""
    plan, every = current_plan(), may(request, Capability.PLANS)
    orders = plan.orders.filter(start__isnull=False).order_by() if plan else Order.objects.none()
    context = {
        "feeds": [(one, request.build_absolute_uri(one.get_absolute_url())) for one in _mine(request)],
        "choices": {
            "building": sorted(set(orders.values_list("building__key", flat=True))) if every else [],
            "crew": sorted(known_crews() if every else own_crews(request)) if plan else [],
        },
        "plan": plan,
        "refusal": refusal,
        "asked": asked,
        **about_crews(request),
    }
    return render(request, "planner/feeds.html", context, status=400 if refusal else 200)


def _mine(request: HttpRequest) -> list[Feed]:
    return list(Feed.objects.filter(by=person(request), ended=None).order_by("kind", "key", "pk"))


@requires(Capability.SEE)
@require_POST
def open_one(request: HttpRequest) -> HttpResponse:
    """Open an address for one building or crew."""
    what = request.POST.get("what", "")
    kind, _, key = what.partition(":")
    if kind not in KINDS or not key:
        return _page(request, "Choose a building or a crew first.", what)
    if not may_read(person(request), kind, key):
        return _page(request, NOT_THEIRS, what)
    open_feed(kind, key, by=person(request))
    messages.success(
        request, f"The address for {kind} {key} is open. Whoever has it can read it: pass it on with care."
    )
    return redirect("feeds")


@requires(Capability.SEE)
@require_POST
def end_one(request: HttpRequest, pk: int) -> HttpResponse:
    """Close an address of one's own."""
    end_feed(get_object_or_404(Feed, pk=pk, by=person(request)))
    messages.success(request, "The address is closed: it answers nobody any more.")
    return redirect("feeds")


@login_not_required
@require_safe
def feed(_request: HttpRequest, token: str) -> HttpResponse:
    """Answer a calendar program that knows the secret in the address."""
    one = get_object_or_404(Feed, token=token, ended=None)
    content = calendar_of(one)
    if content is None:
        raise Http404
    return HttpResponse(content, content_type=CALENDAR, headers={"Cache-Control": "private, max-age=900"})


@requires(Capability.SEE)
def notices(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the notices of a plan's orders as they are hung up: one on each printed sheet."""
    plan = get_object_or_404(Plan.objects.select_related("brief"), pk=pk)
    building = request.GET.get("building", "")
    keys = set(visible(request, plan.orders.all()).values_list("key", flat=True))
    found = [one for one in notices_of(light_facts(plan)) if one.order in keys and building in ("", one.building)]
    buildings = sorted({one.building for one in found})
    context = {"plan": plan, "notices": found, "building": building, "buildings": buildings, **about_crews(request)}
    return render(request, "planner/notices.html", context)
