"""A room that needs a watch is named wherever its order is read: on the plan, the order and the pack."""

import pytest
from django.test import Client
from django.urls import reverse

from planner.models import Order, Plan
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db

STAIR = {"building": "B1", "room": "0.01", "why": "on a way out by its use (Stair 2)"}


@pytest.fixture
def client() -> Client:
    people = whole_campus()
    made = Client()
    made.force_login(people["planning"])
    return made


def test_plan_order_and_pack_say_where_to_post_a_watch_and_say_nothing_of_rooms_that_need_none(client: Client) -> None:
    plan = Plan.objects.get()
    watched, plain = Order.objects.filter(key__in=("B1-O0", "B1-O1")).order_by("key")
    asked = "post a watch, and keep required egress lighting working"

    def said(name: str, pk: int) -> str:
        return " ".join(client.get(reverse(name, args=[pk])).content.decode().split())

    assert asked not in said("plan", plan.pk)
    watched.data["watches"] = [STAIR]
    watched.save(update_fields=["data"])
    page = said("plan", plan.pk)
    assert f"go dark in 1 order: {asked}" in page
    assert f"1 of them must not fail, or lies on a way out of the building: {asked}" in said("order", watched.pk)
    for name, words in (("order", asked), ("order-pack", "Post a watch in")):
        assert words in said(name, watched.pk)
        assert "B1 0.01: on a way out by its use (Stair 2)" in said(name, watched.pk)
        assert words not in said(name, plain.pk)
