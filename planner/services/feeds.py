"""Private addresses for calendar programs: a building's or a crew's orders of the plan that the site works by."""

import secrets

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from inventory.core.roles import Capability, any_order
from inventory.models import Building, Room
from inventory.store.snapshot import Extent, load_part
from inventory.store.targets import By
from planner.core.materials import Takeoff
from planner.core.schedule import places_of
from planner.handover.facts import Handed
from planner.handover.ics import building_calendar, crew_calendar
from planner.models import Feed, Plan
from planner.services.crews import crews_of
from planner.store.plans import keys_over, load_orders, load_plan, load_settings

KINDS = {"building": building_calendar, "crew": crew_calendar}


@transaction.atomic
def open_feed(kind: str, key: str, *, by: By) -> Feed:
    """Make a new address for one building or crew; an older one of the same person for the same ends."""
    Feed.objects.filter(kind=kind, key=key, by=by, ended=None).update(ended=timezone.now())
    return Feed.objects.create(kind=kind, key=key, token=secrets.token_urlsafe(32), made=timezone.now(), by=by)


def may_read(person: User | None, kind: str, key: str) -> bool:
    """Tell whether a person may have these orders in a calendar: everyone's, or those of a crew that the person is on."""
    if person is None or not person.is_active:
        return False
    roles = person.groups.values_list("name", flat=True)
    return person.is_superuser or any_order(roles, Capability.SEE) or (kind == "crew" and key in crews_of(person))


def end_feed(feed: Feed) -> None:
    """Close an address: whoever has it reads nothing any more."""
    Feed.objects.filter(pk=feed.pk, ended=None).update(ended=timezone.now())


def calendar_of(feed: Feed) -> bytes | None:
    """Return the calendar behind an address as of now; None where no plan is adopted, or who opened it may not see it any more."""
    if feed.by is not None and not may_read(feed.by, feed.kind, feed.key):
        return None
    plan = Plan.objects.filter(adopted__isnull=False).order_by("-adopted", "-pk").select_related("brief").first()
    return None if plan is None else KINDS[feed.kind](light_facts(plan), feed.key)


def light_facts(plan: Plan) -> Handed:
    """Return what calendars and notices need of a plan: orders, places, times; no windows, materials or verdicts."""
    buildings = Building.objects.filter(orders__plan=plan)
    rooms = Room.objects.filter(building__in=buildings).values_list("pk", flat=True)
    none: frozenset[int] = frozenset()
    snapshot = load_part(Extent(nodes=none, runs=none, buses=none, rooms=frozenset(rooms)))
    return Handed(
        campus=settings.CAMPUS_NAME,
        made=plan.adopted or plan.made,
        snapshot=snapshot,
        brief=load_settings(plan),
        reports=(),
        orders=load_orders(plan),
        windows=(),
        plan=load_plan(plan),
        takeoff=Takeoff(lines=(), by_order=(), cost_by_currency=()),
        time_zone=places_of(snapshot).time_zone,
        over=keys_over(plan),
    )
