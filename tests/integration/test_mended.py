"""What stopped an order that was backed out: asked for on its page, kept with who said so, and planned by."""

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.plans import OrderState
from planner.models import Order, OrderEvent, Plan
from planner.services.adoption import PlanNotFit, adopt
from planner.services.delays import put_off
from planner.services.mending import MendRefused, mend, stops_of
from planner.services.order_states import bring, last_back_out
from planner.services.plan import plan_campus
from planner.store.stops import load_stops
from tests.integration.test_commands import CAMPUS, ran
from tests.integration.test_work import follower
from tests.moments import planning_day
from tests.work import Site

pytestmark = pytest.mark.django_db

WHY = "the opening is cracked."
SAID = "Opening plastered, looked at by M. Skerry."


@pytest.fixture
def site() -> Site:
    """Return the small campus with its order backed out, and every other order about segments of its own."""
    made = Site()
    for row in Order.objects.exclude(pk=made.order.pk):
        row.data["segments"] = [f"{row.key} line"]
        row.save()
    made.enter("begin")
    made.enter("back out", text=WHY)
    made.order = Order.objects.get(pk=made.order.pk)
    return made


def page(site: Site, who: str, order: Order) -> str:
    client = Client()
    client.force_login(site.people[who])
    return client.get(reverse("order", args=[order.pk])).content.decode()


def test_what_stopped_an_order_stops_it_under_every_plan_until_somebody_says_what_was_done(site: Site) -> None:
    again = follower(site.order)
    Order.objects.filter(pk=again.pk).update(state=OrderState.DRAFTED)
    again.refresh_from_db()
    (stop,) = stops_of(again)
    assert (stop.order, stop.why) == (site.order.key, WHY.rstrip("."))
    mend(again, SAID, by=site.people["facilities"])
    assert stops_of(again) == stops_of(site.order) == load_stops() == ()
    (kept,) = OrderEvent.objects.filter(mended=SAID)
    assert (kept.order, kept.by) == (site.order, site.people["facilities"])
    told = last_back_out([kept, *OrderEvent.objects.filter(order=site.order).exclude(pk=kept.pk)])
    assert told is not None
    assert (told.why, told.mended, told.mended_by) == (WHY.rstrip("."), SAID.rstrip("."), "facilities")


def test_a_plan_asks_for_what_was_done_only_until_it_is_said(site: Site) -> None:
    client = Client()
    client.force_login(site.people["planning"])
    address = reverse("plan", args=[site.order.plan_id])
    assert "Of 1 nobody has said yet what was done about it" in client.get(address).content.decode()
    mend(site.order, SAID, by=site.people["facilities"])
    said = client.get(address).content.decode()
    assert "What was done about it is on record" in said
    assert "nobody has said yet" not in said


def test_planning_and_facilities_are_asked_on_its_page_others_read_that_it_waits(site: Site) -> None:
    asks = f'action="{reverse("order-mended", args=[site.order.pk])}#mended"'
    waits = "nobody has said yet what was done about that"
    assert {who: (waits in page(site, who, site.order), asks in page(site, who, site.order)) for who in (
        "planning", "facilities", "purchasing", "crew", "reader",
    )} == {
        "planning": (True, True), "facilities": (True, True), "purchasing": (True, False), "crew": (True, False), "reader": (True, False),
    }  # fmt: skip
    client = Client()
    client.force_login(site.people["planning"])
    address = reverse("order-mended", args=[site.order.pk])
    refused = client.post(address, {"what": " "})
    assert refused.status_code == 400
    assert "the next crew goes by that." in refused.content.decode()
    assert client.post(address, {"what": SAID}, follow=True).status_code == 200
    after = page(site, "crew", site.order)
    assert waits not in after
    assert f"What was done about it: {SAID.rstrip('.')}, said by planning" in after
    client.post(address, {"what": SAID})  # the button twice
    assert OrderEvent.objects.filter(mended=SAID).count() == 1


def test_a_second_back_out_asks_again_and_putting_it_off_meanwhile_answers_nothing(site: Site) -> None:
    put_off(site.order, None, by=None, why="exams")
    assert [stop.why for stop in load_stops()] == [WHY.rstrip(".")]
    mend(site.order, SAID, by=None)
    again = follower(site.order)
    Order.objects.filter(pk=again.pk).update(state=OrderState.BOOKED)
    bring(again, OrderState.BACKED_OUT, by=None, why="the riser is locked")
    assert [stop.why for stop in load_stops()] == ["the riser is locked"]
    mend(again, "Keys with the porter.", by=None)
    assert load_stops() == ()
    with pytest.raises(MendRefused, match="Nothing stops order"):
        mend(again, "Once more.", by=None)


def test_a_plan_from_before_the_back_out_is_not_adopted_until_somebody_says_what_was_done(site: Site) -> None:
    Order.objects.exclude(pk=site.order.pk).delete()  # what is begun would have to stand in it, too
    older = Plan.objects.get(pk=site.order.plan_id)
    older.pk, older.adopted = None, None
    older.save()
    row = Order.objects.get(pk=site.order.pk)
    row.pk, row.plan, row.state = None, older, OrderState.DRAFTED
    row.save()
    with pytest.raises(PlanNotFit, match="nobody has said what was done about that"):
        adopt(older, by=None)
    assert Order.objects.get(pk=row.pk).state == OrderState.DRAFTED
    mend(site.order, SAID, by=None)
    adopt(older, by=None)
    assert Order.objects.get(pk=row.pk).state == OrderState.BOOKED


def test_planning_again_and_afresh_leave_it_out_by_name_and_date_it_once_it_is_mended() -> None:
    with planning_day():
        ran("intake", CAMPUS)
        first = adopt(plan_campus(seconds=0.5).plan, by=None)
        row = first.orders.filter(start__isnull=False).order_by("start").first()
        assert row is not None
        bring(row, OrderState.BACKED_OUT, by=None, why=WHY)
        stopped = [plan_campus(seconds=0.5, goes_on_from=first).plan, plan_campus(seconds=0.5).plan]
        mend(row, SAID, by=None)
        mended = plan_campus(seconds=0.5, goes_on_from=first).plan
    for plan in stopped:
        left = next(one for one in plan.orders.all() if one.data["segments"] == row.data["segments"])
        assert (left.start, left.reason_code) == (None, "backed out")
        assert f"order {row.key} was backed out" in (left.reason or "")
        assert WHY.rstrip(".") in (left.reason or "")
    (shift,) = [one for one in stopped[0].changes if one["order"] == row.key]
    assert (shift["fate"], shift["why"]) == ("is left out", stopped[0].orders.get(key=row.key).reason)
    again = mended.orders.get(key=row.key)
    assert (again.start is not None, again.data["segments"]) == (True, row.data["segments"])
