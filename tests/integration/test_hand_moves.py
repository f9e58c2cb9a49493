"""Moving an order by hand stands on the campus of the day: what an accepted order freed is on the shelf already."""

import pytest

from planner.core.plans import OrderState
from planner.models import Order, Plan
from planner.services import hand_moves
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
