"""A plan that is not in force says how its orders stand by the one that is, not that they are drafts."""

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.plans import OrderState
from planner.models import Order, Plan
from tests.work import Site

pytestmark = pytest.mark.django_db


def test_an_order_booked_by_the_plan_in_force_is_booked_on_every_plan_that_has_it() -> None:
    site = Site()
    Plan.objects.filter(pk=site.order.plan_id).update(adopted=site.order.plan.made)
    other = Plan.objects.get(pk=site.order.plan_id)
    other.pk, other.adopted = None, None
    other.save()
    row, new = Order.objects.get(pk=site.order.pk), Order.objects.get(pk=site.order.pk)
    row.pk, row.plan, row.state = None, other, OrderState.DRAFTED
    row.save()
    new.pk, new.plan, new.state, new.key = None, other, OrderState.DRAFTED, "B1-O77"
    new.data = {**new.data, "segments": ["B1-L9"]}
    new.save()
    client = Client()
    client.force_login(site.people["planning"])
    says = f"by no. {site.order.plan_id}"
    for name in ("plan", "plan-orders"):
        assert client.get(reverse(name, args=[other.pk])).content.decode().count(says) == 1
    listed = client.get(reverse("plan-orders", args=[other.pk]), {"state": "booked"}).content.decode()
    assert (row.key in listed, ">B1-O77<" in listed) == (True, False)
    told = client.get(reverse("order", args=[row.pk])).content.decode()
    assert "which is in force, it is booked" in told
    assert "which is in force" not in client.get(reverse("order", args=[new.pk])).content.decode()
    assert says not in client.get(reverse("plan", args=[site.order.plan_id])).content.decode()
