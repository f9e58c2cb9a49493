"""An order that was backed out, under the plan that dates it again: its pages say by whom and why, until the next try."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.plans import OrderState
from planner.models import Order
from planner.services.order_states import bring
from tests.integration.test_work import follower
from tests.work import Site

pytestmark = pytest.mark.django_db


def test_an_order_planned_again_after_it_was_backed_out_says_by_whom_and_why_until_it_is_begun() -> None:
    site = Site()
    said = "by crew: the opening is cracked.</strong> See that this is mended before the next try."
    client = Client()
    client.force_login(site.people["crew"])

    def told(row: Order) -> set[str]:
        pages = {name: client.get(reverse(name, args=[row.pk])) for name in ("order", "order-work", "order-pack")}
        return {name for name, answer in pages.items() if said in answer.content.decode()}

    assert told(site.order) == set()
    site.enter("begin")
    site.enter("back out", text="the opening is cracked.")
    site.order = follower(Order.objects.get(pk=site.order.pk))
    bring(site.order, OrderState.BOOKED, by=site.people["planning"])
    assert told(site.order) == {"order", "order-work", "order-pack"}
    assert "Nothing has to be done before" not in client.get(reverse("order", args=[site.order.pk])).content.decode()
    site.enter("begin")
    assert told(site.order) == set()


def test_campus_and_plan_tell_of_orders_backed_out_until_they_are_planned_again() -> None:
    site = Site()
    client = Client()
    client.force_login(site.people["planning"])
    listed = f"{reverse('plan-orders', args=[site.order.plan_id])}?state=backed+out"

    def told(name: str, *args: int) -> int:
        page = client.get(reverse(name, args=args)).content.decode()
        found = re.search(rf'"{re.escape(listed)}">(\d+)', page)
        return int(found[1]) if found else 0

    before = Order.objects.filter(plan=site.order.plan_id, state=OrderState.BACKED_OUT).count()
    assert told("campus") == told("plan", site.order.plan_id) == before
    site.enter("begin")
    site.enter("back out", text="the opening is cracked.")
    assert told("campus") == told("plan", site.order.plan_id) == before + 1
    assert site.order.key in client.get(listed).content.decode()
