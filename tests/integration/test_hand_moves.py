"""Moving an order by hand stands on the campus of the day: what an accepted order freed is on the shelf already."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.plans import OrderState
from planner.models import Crew, Order, Phase, Plan
from planner.services import hand_moves
from planner.services.adoption import PlanNotFit, adopt
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("state", "counts"), [(OrderState.ACCEPTED, False), (OrderState.UNDER_WAY, True), (OrderState.BOOKED, True)]
)
def test_what_an_order_frees_counts_until_it_is_accepted(state: OrderState, counts: bool) -> None:  # noqa: FBT001 - a case
    whole_campus()
    order = Order.objects.filter(state=OrderState.BOOKED.value, night__isnull=False).earliest("pk")
    order.state, order.data["freed"] = state.value, [["WS-10", 2]]
    order.save(update_fields=["state", "data"])
    ground = hand_moves._ground_of(Plan.objects.get(pk=order.plan_id), frozenset())
    (mine,) = (one for one in ground.demands.orders if one.key == order.key)
    assert (mine.freed == (("WS-10", 2),)) is counts
    assert bool(mine.parts) is (counts and bool(order.data["parts"]))


@pytest.mark.parametrize(("days", "told"), [(1, True), (0, False)])
def test_a_move_before_the_night_to_which_an_order_was_put_off_is_told_and_cannot_be_adopted(
    days: int,
    told: bool,  # noqa: FBT001 - a case
) -> None:
    people = whole_campus()
    order = Order.objects.get(key="B1-O1")
    assert order.night
    assert order.start
    Crew.objects.create(
        brief=order.plan.brief, key="Night A", people=2, days="Sun-Sat", shift_from="18:00", shift_to="06:00"
    )
    year = order.night.year
    Phase.objects.create(brief=order.plan.brief, key="Phase 1", start=date(year, 1, 1), end=date(year, 12, 31))
    order.not_before = order.night + timedelta(days=days)
    order.save(update_fields=["not_before"])
    client = Client()
    client.force_login(people["planning"])
    asked = {"crew": "Night A", "day": f"{order.night:%Y-%m-%d}", "clock": "19:30"}
    said = client.get(reverse("order-move", args=[order.pk]), asked)
    assert said.status_code == 200
    assert ("a plan that has it sooner cannot be adopted" in said.content.decode()) is told
    made = hand_moves.keep(order, "Night A", order.start + timedelta(minutes=30), by=people["planning"])
    Plan.objects.filter(pk=made.pk).update(
        check_lines=[]
    )  # of what the small campus breaks otherwise, nothing is asked
    made.refresh_from_db()
    refused = ""
    try:
        adopt(made, by=people["planning"])
    except PlanNotFit as refusal:
        refused = str(refusal)
    assert ("has been put off to a later night" in refused) is told


@pytest.mark.parametrize(
    ("state", "shown"),
    [
        (OrderState.BOOKED, {"Work on it", "Move it or put it off", "Where to", "Put it off"}),
        (OrderState.UNDER_WAY, {"Work on it"}),
        (OrderState.ACCEPTED, {"See its steps"}),
        (OrderState.BACKED_OUT, {"Work on it", "Put it off"}),
    ],
)
def test_an_order_offers_only_what_is_not_always_refused(state: OrderState, shown: set[str]) -> None:
    people = whole_campus()
    order = Order.objects.filter(state=OrderState.BOOKED.value, night__isnull=False).earliest("pk")
    Order.objects.filter(pk=order.pk).update(state=state)
    client = Client()
    client.force_login(people["super"])
    pages = "".join(client.get(reverse(name, args=[order.pk])).content.decode() for name in ("order", "order-move"))
    offers = ("Work on it", "See its steps", "Move it or put it off", "Where to", "Put it off")
    assert {words for words in offers if f">{words}<" in pages} == shown
