"""The page on how sure a plan's dates are: led to from the plan, the same each time, honest where nothing is left to chance."""

from datetime import UTC, date, datetime

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.outlook import Odds, odds_of
from planner.core.plans import OrderState
from planner.models import Order, OrderEvent, Plan
from planner.services.how_sure import how_sure
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    people = whole_campus()
    made = Client()
    made.force_login(people["reader"])
    return made


def page(client: Client, name: str) -> str:
    answer = client.get(reverse(name, args=[Plan.objects.get().pk]))
    assert answer.status_code == 200
    return answer.content.decode().replace("\N{NO-BREAK SPACE}", " ")


def test_the_plan_leads_to_the_page_and_the_page_tells_of_phases_and_orders(client: Client) -> None:
    plan = Plan.objects.get()
    assert reverse("plan-how-sure", args=[plan.pk]) in page(client, "plan")
    said = page(client, "plan-how-sure")
    assert "When each phase is done" in said
    assert 'role="img"' in said
    dated = plan.orders.filter(start__isnull=False).exclude(state=OrderState.ACCEPTED).first()
    assert dated is not None
    # a window that ends with the order leaves no room: about half of its courses overrun
    assert reverse("order", args=[dated.pk]) in said


def test_what_is_accepted_or_left_out_is_not_simulated_and_the_answer_is_the_same_twice(client: Client) -> None:
    plan = Plan.objects.get()
    found = how_sure(plan)
    open_orders = plan.orders.filter(start__isnull=False).exclude(state=OrderState.ACCEPTED)
    assert {one.order for one in found.outlook.orders} == set(open_orders.values_list("key", flat=True))
    assert found.done == plan.orders.filter(state=OrderState.ACCEPTED).count() == 1
    assert how_sure(plan) == found


def test_a_plan_with_nothing_left_to_do_says_so(client: Client) -> None:
    Order.objects.filter(start__isnull=False).update(state=OrderState.ACCEPTED)
    assert "nothing is left to chance" in page(client, "plan-how-sure")


def test_moments_are_told_by_the_clock_of_the_campus(client: Client) -> None:
    # Lisbon keeps UTC+1 in summer time (IANA tz database, from memory); read on the page, reckoned here by hand.
    Order.objects.filter(start__isnull=False).update(
        night=date(2027, 7, 6),
        start=datetime(2027, 7, 7, 0, 49, tzinfo=UTC),
        end=datetime(2027, 7, 7, 3, 49, tzinfo=UTC),
    )
    assert "7 Jul 2027, 04:49" in page(client, "plan-how-sure")


def test_what_happened_to_an_order_is_told_by_the_same_clock_on_each_of_its_pages(client: Client) -> None:
    order = Order.objects.filter(state=OrderState.BOOKED).earliest("pk")
    order.building.time_zone = "Asia/Tokyo"  # UTC+9 all year (IANA tz database, from memory)
    order.building.save(update_fields=["time_zone"])
    OrderEvent.objects.create(order=order, at=datetime(2027, 4, 7, 8, 39, tzinfo=UTC), state="under way")
    for name in ("order", "order-work"):
        said = client.get(reverse(name, args=[order.pk])).content.decode().replace("\N{NO-BREAK SPACE}", " ")
        assert "7 Apr 2027, 17:39" in said, name


def test_nights_that_are_likelier_to_fail_than_not_are_named_in_words_with_mark_and_tone(client: Client) -> None:
    failing = [one for one in how_sure(Plan.objects.get()).outlook.orders if odds_of(one) is Odds.FAILS]
    for one in failing:
        assert max(one.overruns, one.put_off) <= one.fails <= one.overruns + one.put_off
    said = page(client, "plan-how-sure")
    assert ("than not: the night" in said) == bool(failing)
    assert said.count('tone-wait"><svg class="mark" aria-hidden="true"><use href="#mark-likelier-to-fail"/>') == (
        len(failing) + bool(failing)
    )
