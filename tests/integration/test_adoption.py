"""Adopting a plan: who, when, what becomes booked, and what an earlier plan gives back."""

from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.utils import timezone

from inventory.models import Building
from planner.core.plans import OrderState
from planner.models import Assessment, Brief, Order, Plan
from planner.services.adoption import PlanNotFit, adopt
from planner.store.records import to_json
from tests.unit.planner.nights import order as record

pytestmark = pytest.mark.django_db


def a_plan(*, holds: bool = True) -> Plan:
    """Return a plan with one dated order and one left out."""
    now = timezone.now()
    plan = Plan.objects.create(
        brief=Brief.objects.get_or_create(name="First plan")[0],
        assessment=Assessment.objects.create(at=now),
        made=now,
        method="list",
        objective=1,
        bound=1,
        gap=0,
        list_objective=1,
        seed=1,
        seconds=1,
        check_lines=[{"number": 1, "rule": "inside one window", "holds": holds, "breach": None}],
    )
    building = Building.objects.get_or_create(key="B1")[0]
    facts = {
        "building": building,
        "stations": 1,
        "people": 2,
        "outage_min": 60,
        "onsite_min": 90,
        "benefit": 1,
        "cost": 1,
    }
    first, second = (to_json(record(key, building="B1")) for key in ("O1", "O2"))
    later = now + timedelta(hours=2)
    times = {"start": now, "end": later, "dark_from": now, "dark_to": later, "night": now.date()}
    Order.objects.create(plan=plan, key="O1", currency="EUR", data=first, crew="Red", phase="P1", **times, **facts)
    Order.objects.create(plan=plan, key="O2", currency="EUR", data=second, reason="no window", **facts)
    return plan


def states(plan: Plan) -> dict[str, str]:
    return dict(plan.orders.values_list("key", "state"))


def test_adopting_records_who_and_when_and_books_the_dated_orders_only() -> None:
    who = User.objects.create(username="planner")
    plan = adopt(a_plan(), by=who)
    assert (plan.adopted_by, plan.adopted is not None) == (who, True)
    assert states(plan) == {"O1": OrderState.BOOKED, "O2": OrderState.DRAFTED}


def test_a_newer_plan_changes_nothing_until_it_is_adopted_then_the_older_gives_its_nights_back() -> None:
    older, newer = a_plan(), a_plan()
    adopt(older, by=None)
    assert Plan.objects.current() == older
    adopt(newer, by=None)
    assert Plan.objects.current() == newer
    assert states(older)["O1"] == OrderState.DRAFTED
    assert states(newer)["O1"] == OrderState.BOOKED


def test_what_is_under_way_stays_so() -> None:
    older = a_plan()
    older.orders.filter(key="O1").update(state=OrderState.UNDER_WAY)
    adopt(a_plan(), by=None)
    assert states(older)["O1"] == OrderState.UNDER_WAY


def test_adopting_twice_keeps_the_first_date() -> None:
    plan = adopt(a_plan(), by=None)
    assert adopt(plan, by=None).adopted == plan.adopted


def test_a_plan_that_fails_its_check_is_refused_in_words() -> None:
    plan = a_plan(holds=False)
    with pytest.raises(PlanNotFit, match="Make a new one"):
        adopt(plan, by=None)
    assert states(plan)["O1"] == OrderState.DRAFTED
