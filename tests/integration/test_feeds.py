"""Calendars by a private address and notices: what they say, who may read them, and how they end."""

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from planner.handover.notices import write_notices
from planner.models import Crew, Feed, Plan
from planner.services.crews import put_on_crews
from planner.services.feeds import light_facts
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


def signed_in(role: str) -> Client:
    client = Client()
    client.force_login(whole_campus()[role])
    return client


def opened(client: Client, what: str = "crew:Night A") -> Feed:
    client.post(reverse("feed-open"), {"what": what})
    return Feed.objects.latest("pk")


def test_whoever_has_the_address_reads_the_crews_orders_without_signing_in() -> None:
    feed = opened(signed_in("crew"))
    answer = Client().get(feed.get_absolute_url())
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    events = Calendar.from_ical(answer.content).walk("VEVENT")
    assert len(events) == 6, "the dated orders of the crew"
    assert all(event["dtstart"].dt.tzinfo is not None for event in events)


def test_a_buildings_calendar_holds_its_orders_alone() -> None:
    feed = opened(signed_in("reader"), "building:B2")
    events = Calendar.from_ical(Client().get(feed.get_absolute_url()).content).walk("VEVENT")
    assert [str(event["summary"]) for event in events] == ["Wall stations out of use"]


def test_a_crew_without_a_dated_order_has_an_address_too_and_a_calendar_without_events() -> None:
    client = signed_in("crew")
    plan = Plan.objects.get()
    Crew.objects.create(brief=plan.brief, key="Ebb crew", people=2)
    put_on_crews(User.objects.get(username="crew"), ["Ebb crew"], by=None)
    assert 'value="crew:Ebb crew"' in client.get(reverse("feeds")).content.decode()
    answer = Client().get(opened(client, "crew:Ebb crew").get_absolute_url())
    assert (answer.status_code, Calendar.from_ical(answer.content).walk("VEVENT")) == (200, [])
    planner = Client()
    planner.force_login(User.objects.get(username="planning"))
    drawn = planner.get(reverse("plan", args=[plan.pk])).content.decode().split("<svg", 1)[1]
    assert "Ebb crew" in drawn, "a row of its own among the nights by crew"


def test_no_other_secret_opens_it_and_a_closed_one_answers_nobody() -> None:
    client = signed_in("crew")
    feed = opened(client)
    assert len(feed.token) >= 32
    assert Client().get(reverse("feed", args=["guess"])).status_code == 404
    client.post(reverse("feed-end", args=[feed.pk]))
    assert Client().get(feed.get_absolute_url()).status_code == 404


def test_a_new_address_ends_the_old_one_and_nobody_ends_anothers() -> None:
    client = signed_in("crew")
    first, second = opened(client), opened(client)
    assert Client().get(first.get_absolute_url()).status_code == 404
    assert Client().get(second.get_absolute_url()).status_code == 200
    other = Client()

    other.force_login(User.objects.get(username="planning"))
    assert other.post(reverse("feed-end", args=[second.pk])).status_code == 404


@pytest.mark.parametrize("what", ["", "crew", "crew:", "room:1", "building"])
def test_an_address_for_nothing_is_refused_in_words(what: str) -> None:
    client = signed_in("crew")
    page = client.post(reverse("feed-open"), {"what": what}, follow=True).content.decode()
    assert "Choose a building or a crew first" in page
    assert not Feed.objects.exists()


def test_without_an_adopted_plan_the_address_is_silent() -> None:
    feed = opened(signed_in("crew"))
    Plan.objects.update(adopted=None)
    assert Client().get(feed.get_absolute_url()).status_code == 404


def test_notices_tell_the_rooms_when_and_whom_to_ask() -> None:
    client = signed_in("planning")
    plan = Plan.objects.get()
    page = client.get(reverse("plan-notices", args=[plan.pk])).content.decode()
    dated = plan.orders.filter(start__isnull=False)
    over = dated.filter(state__in=["accepted", "backed out"])
    assert dated.count() > over.count() > 0
    assert page.count('<article class="notice"') == dated.count() - over.count()
    assert "WALL STATIONS OUT OF USE" in page
    assert "150 minutes" in page
    one = client.get(reverse("plan-notices", args=[plan.pk]), {"building": "B2"}).content.decode()
    assert one.count('<article class="notice"') == 1


def test_the_text_of_the_notices_leaves_out_what_is_over_as_the_page_does() -> None:
    """A notice of a night that is done, or that was given up, hangs at a door for nothing."""
    whole_campus()
    plan = Plan.objects.get()
    text = write_notices(light_facts(plan))["notices.txt"].decode()
    dated = plan.orders.filter(start__isnull=False)
    over = dated.filter(state__in=["accepted", "backed out"])
    assert over.count() == 2
    assert text.count("WALL STATIONS OUT OF USE") == dated.count() - 2
    assert not any(f"Order {order.key}." in text for order in over)
    plan.orders.update(state="accepted")
    assert write_notices(light_facts(plan)) == {}
