"""A plan that goes on from another is held against the plain list only in what was free to be planned, and says so."""

import pytest
from django.test import Client
from django.urls import reverse

from planner.models import Plan
from planner.store.plans import load_plan
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    people = whole_campus()
    made = Client()
    made.force_login(people["reader"])
    return made


def page(client: Client, **figures: int) -> str:
    """Return the page of the plan of seven orders, with these figures; whole words, blanks as blanks."""
    Plan.objects.update(**figures)
    said = client.get(reverse("plan", args=[Plan.objects.get().pk])).content.decode()
    return " ".join(said.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ").split())


# objective 120, bound 118, plain list 150
def test_a_plan_made_afresh_is_compared_as_a_whole(client: Client) -> None:
    said = page(client)
    assert "<dd>25.0 % <small>worse</small></dd>" in said
    assert "settled when it was made" not in said
    assert "of what was free" not in said


def test_what_was_settled_is_taken_out_of_both_and_the_page_says_so(client: Client) -> None:
    # 100 of each is settled: the free part is 20 by the plan and 50 by the list, and at best 18
    said = page(client, settled=5, settled_objective=100)
    assert "<dd>150.0 % <small>worse, of what was free</small></dd>" in said
    assert "<dd>10.0 % <small>at most, of what was free</small></dd>" in said
    assert "5 of the 7 orders were settled when it was made" in said
    assert "count only the 2 that were free to be planned" in said
    assert "No plan of this brief that keeps what is settled can be better by more than 10.0 %" in said


def test_where_nothing_was_free_nothing_is_claimed(client: Client) -> None:
    said = page(client, settled=7, settled_objective=120)
    assert "None was free to be planned, so there is nothing to hold it against" in said
    assert "nothing to choose" in said
    assert "that is proved" not in said
    assert "as good" not in said


def test_what_was_settled_is_kept_with_the_plan(client: Client) -> None:
    page(client, settled=5, settled_objective=100)
    record = load_plan(Plan.objects.get())
    assert (record.settled, record.settled_objective) == (5, 100)
