"""History of an intake: one row for each row that is new, changed or removed, with who, when and from which file."""

import pytest
from django.contrib.auth.models import Group, User
from django.test import Client
from django.urls import reverse

from inventory.core.roles import Role
from inventory.models import Node, ProtocolRate, Room
from inventory.services.intake import take_in
from planner.models import BriefSetting
from planner.store.intake import ALL_TARGETS
from tests.books import SMALL, book, small

pytestmark = pytest.mark.django_db


@pytest.fixture
def person() -> User:
    return User.objects.create_user("kim")


def test_new_rows_have_a_first_page_of_history_equal_to_themselves(person: User) -> None:
    assert take_in(small(), "first.xlsx", ALL_TARGETS, person).stored
    for model, owned in ((Node, {}), (Room, {}), (ProtocolRate, {"built_in": False})):
        pages, stored = model.history.filter(history_change_reason="first.xlsx"), model.objects.filter(**owned)
        fields = [field.attname for field in model._meta.concrete_fields]
        assert stored.exists()
        assert list(pages.order_by("id").values_list(*fields)) == list(stored.order_by("id").values_list(*fields))
        assert {(page.history_type, page.history_user) for page in pages} == {("+", person)}


def test_only_the_changed_row_gets_a_new_page(person: User) -> None:
    take_in(small(), "first.xlsx", ALL_TARGETS, None)
    rows = [list(row) for row in SMALL["Nodes"]]
    rows[1][7] = 5
    take_in(small(Nodes=rows), "second.xlsx", ALL_TARGETS, person)
    (page,) = Node.history.filter(history_change_reason="second.xlsx")
    assert (page.key, page.history_type, page.history_user, page.condition) == ("G1", "~", person, 5)
    assert page.prev_record.condition == 2
    assert page.history_date > page.prev_record.history_date


def test_the_page_of_a_record_says_which_workbook_changed_it(person: User, client: Client) -> None:
    take_in(small(), "first.xlsx", ALL_TARGETS, person)
    client.force_login(person)
    person.groups.add(Group.objects.get(name=Role.READER))
    page = client.get(reverse("station", args=[Node.objects.get(key="G1").pk])).content.decode()
    assert 'put on record <span class="quiet">(first.xlsx)</span>' in page


def test_settings_of_the_brief_have_history_too(person: User) -> None:
    for value in ("240", "300"):
        take_in(book({"Brief": [("Setting", "Value"), ("Longest outage", value)]}), "b.xlsx", ALL_TARGETS, person)
    pages = list(BriefSetting.history.order_by("history_id").values_list("history_type", "value"))
    assert pages == [("+", "240"), ("~", "300")]
