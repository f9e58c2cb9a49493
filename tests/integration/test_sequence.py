"""One order after another by hand: said on the page of the order, kept by segments, planned by, and taken back."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Building
from planner.core.plans import Order as OrderRecord
from planner.core.plans import OrderState
from planner.models import Order, OrderChoice, Plan, Precedence
from planner.services.assess import assess_campus
from planner.services.order_choices import ChoiceRefused, Desk, keep
from planner.services.plan import plan_campus
from planner.store.records import from_json
from tests.integration.test_commands import CAMPUS, ran
from tests.moments import planning_day
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    people = whole_campus()
    made = Client()
    made.force_login(people["planning"])
    # each order of the small campus has a segment of its own
    for order in Order.objects.filter(building__key="B1"):
        order.data["segments"] = [f"B1-L{order.key[-1]}"]
        order.save(update_fields=["data"])
    return made


def said(client: Client, order: Order, first: str, why: str = "") -> str:
    answer = client.post(reverse("order-after", args=[order.pk]), {"first": first, "why": why}, follow=True)
    return answer.content.decode()


def drafted(key: str = "B1-O0") -> Order:
    return Order.objects.get(key=key)


def test_it_is_kept_with_who_and_why_and_shown_on_both_orders(client: Client) -> None:
    page = said(client, drafted(), "b1-o1", "one key for both")
    assert "B1-O0 comes after B1-O1 in every plan made from now on" in page
    row = Precedence.objects.get()
    assert (row.earlier, row.later, row.why, row.by.username) == (["B1-L1"], ["B1-L0"], "one key for both", "planning")
    assert "It comes after" in page
    assert "from the next plan on" in page
    other = client.get(reverse("order", args=[drafted("B1-O1").pk])).content.decode()
    assert "Before" in other
    assert "one key for both" in other
    assert "B1-L0 after B1-L1" in client.get(reverse("order-choices"), {"building": "B1"}).content.decode()


def test_said_twice_it_is_kept_once(client: Client) -> None:
    for _ in range(2):
        said(client, drafted(), "B1-O1")
    assert Precedence.objects.count() == 1


@pytest.mark.parametrize(
    ("key", "first", "words"),
    [
        ("B1-O0", "B1-O9", "has no order"),
        ("B1-O0", "", "has no order"),
        ("B1-O0", "B1-O0", "cannot come after itself"),
        ("B1-O2", "B1-O0", "it has begun, so nothing can come before it"),
        ("B1-O3", "B1-O0", "it has begun, so nothing can come before it"),
    ],
)
def test_what_cannot_hold_is_refused_beside_the_field_and_what_was_typed_stays(
    client: Client, key: str, first: str, words: str
) -> None:
    order = drafted(key)
    answer = client.post(reverse("order-after", args=[order.pk]), {"first": first, "why": "keys"})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert words in page
    if order.state not in {OrderState.UNDER_WAY, OrderState.ACCEPTED}:
        assert 'value="keys"' in page
    assert not Precedence.objects.exists()


def test_a_ring_is_refused_with_the_orders_that_would_wait_for_each_other(client: Client) -> None:
    said(client, drafted("B1-O1"), "B1-O0")
    said(client, drafted("B1-O4"), "B1-O1")
    page = said(client, drafted("B1-O0"), "B1-O4")
    assert "Order B1-O0 cannot come after B1-O4" in page
    assert "B1-O0 after B1-O4, B1-O4 after B1-O1, B1-O1 after B1-O0" in page
    assert Precedence.objects.count() == 2


def test_taken_back_it_is_gone_and_the_audit_page_knows_who_did_both(client: Client) -> None:
    said(client, drafted(), "B1-O1")
    row = Precedence.objects.get()
    client.post(reverse("sequence-drop", args=[row.pk]), {"order": drafted().pk})
    assert not Precedence.objects.exists()
    assert [(each.history_type, each.history_user.username) for each in Precedence.history.all()] == [
        ("-", "planning"),
        ("+", "planning"),
    ]


@pytest.mark.parametrize("back", ["", "x", "999999999999999999999999", "0"])
def test_taking_back_from_nowhere_leads_to_the_orders_by_hand(client: Client, back: str) -> None:
    said(client, drafted(), "B1-O1")
    answer = client.post(reverse("sequence-drop", args=[Precedence.objects.get().pk]), {"order": back})
    assert answer.headers["Location"] == reverse("order-choices")


def holding(plan: Plan, part: tuple[str, ...]) -> OrderRecord:
    """Return the order of a plan that holds all of these segments."""
    found = [from_json(OrderRecord, data) for data in plan.orders.values_list("data", flat=True)]
    return next(each for each in found if set(part) <= set(each.segments))


def split_one() -> tuple[tuple[str, ...], ...]:
    """Split the first order of the campus that can be split, one segment from the rest; return its two parts."""
    for building in Building.objects.order_by("key"):
        for order in Desk(building).orders():
            for segment in order.segments if len(order.segments) > 1 else ():
                try:
                    choice = keep(building, "apart", [segment], "tenants", by=None)
                except ChoiceRefused:
                    continue
                return tuple(map(tuple, choice.parts))
    pytest.fail("no order of the demo campus can be split")


def test_what_is_chosen_by_hand_survives_planning_again_on_the_demo_campus() -> None:
    """A split, and one half after the other: the next plan and the one that goes on from it both keep them."""
    with planning_day():
        ran("intake", CAMPUS)
        assess_campus(by=None)
        late, early = split_one()
        Precedence.objects.create(earlier=list(early), later=list(late), first="early", then="late", at=timezone.now())
        plans = [plan_campus(seconds=0.5).plan]
        plans.append(plan_campus(seconds=0.5, goes_on_from=plans[0]).plan)
    for plan in plans:
        one, two = holding(plan, late), holding(plan, early)
        assert one.key != two.key, "the split holds"
        assert one.predecessors == (two.key,)
        later, earlier = (Order.objects.get(plan=plan, key=key) for key in (one.key, two.key))
        assert later.start is None or (earlier.end is not None and earlier.end <= later.start)
        assert all(line["holds"] for line in plan.check_lines)
    assert holding(plans[1], late).key == holding(plans[0], late).key, "an order keeps its name with its segments"
    assert OrderChoice.objects.get().void is None
    assert Precedence.objects.get().void is None
