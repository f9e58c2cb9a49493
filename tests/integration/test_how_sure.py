"""The page on how sure a plan's dates are: led to from the plan, the same each time, honest where nothing is left to chance."""

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.plans import OrderState
from planner.models import Order, Plan
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
