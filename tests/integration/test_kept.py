"""Rows that are put in again are those that were made; where they could be others, they are made."""

from collections.abc import Callable
from datetime import timedelta
from itertools import count

import pytest
from django.contrib.auth.models import Group, User
from django.utils import timezone

from inventory.models import Building, Node
from planner.models import Order
from tests import kept
from tests.bad_input import put_back
from tests.kept import begin_with, rows_of_all_tables
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def make() -> Callable[[], object]:
    """Return what makes a building named by how often it was called."""
    calls = count(1)
    return lambda: Building.objects.create(key=f"B{next(calls)}", name="Weir House")


def test_the_whole_campus_put_in_again_is_row_for_row_what_was_made() -> None:
    kept.forget()
    with put_back():
        whole_campus()
        made = rows_of_all_tables()
    with put_back():
        people = whole_campus()
        assert rows_of_all_tables() == made
        assert {Node, Order, User, Node.history.model, User.groups.through} <= set(made)
        assert people["crew"].groups.get().name == "crew"
        assert Building.objects.create(key="B9").pk not in made[Building]


def test_what_is_put_in_again_is_not_made_again(make: Callable[[], object]) -> None:
    for _ in range(3):
        with put_back():
            begin_with(make)
            assert Building.objects.get().key == "B1"


def test_where_other_rows_stand_it_is_made(make: Callable[[], object]) -> None:
    with put_back():
        begin_with(make)
    with put_back():
        Group.objects.create(name="watch")
        begin_with(make)
        assert Building.objects.get().key == "B2"
    with put_back():
        Group.objects.filter(name="crew").update(name="crews")
        begin_with(make)
        assert Building.objects.get().key == "B3"


def test_rows_of_long_ago_are_made_anew(make: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> None:
    with put_back():
        begin_with(make)
    later = timezone.now() + timedelta(hours=1)
    monkeypatch.setattr(timezone, "now", lambda: later)
    with put_back():
        begin_with(make)
        assert Building.objects.get().key == "B2"


def test_what_changes_rows_that_stood_there_is_made_each_time() -> None:
    def rename() -> None:
        Group.objects.filter(name="crew").update(name="crews")

    for _ in range(2):
        with put_back():
            begin_with(rename)
            assert Group.objects.filter(name="crews").exists()


@pytest.mark.django_db(transaction=True)
def test_where_rows_are_committed_they_are_made_each_time(make: Callable[[], object]) -> None:
    begin_with(make)
    Building.objects.all().delete()
    Building.history.all().delete()
    begin_with(make)
    assert Building.objects.get().key == "B2"
