"""Crews, phases and closures of a brief on one page: what was typed in any of them is kept by any button, or none of it."""

from datetime import date

import pytest
from django.forms import BoundField
from django.test import Client
from django.urls import reverse

from planner.models import Brief, Closure, Crew, Phase
from planner.services.briefs import copy_brief
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk() -> tuple[Client, Brief]:
    people = whole_campus()
    client = Client()
    client.force_login(people["planning"])
    first = Brief.objects.get()
    Crew.objects.create(brief=first, key="Day", people=2, days="Mon", shift_from="08:00", shift_to="16:00")
    Phase.objects.create(brief=first, key="P9", start=date(2029, 1, 8), end=date(2029, 2, 2), budget=900)
    Closure.objects.create(brief=first, start="2027-03-01 08:00", end="2027-03-05 18:00", why="examinations")
    return client, copy_brief(first.name, "Summer only", by=people["planning"])


def typed(client: Client, brief: Brief) -> dict[str, str]:
    """Return what the page of a brief would send as it stands."""
    sections = client.get(reverse("scenario", args=[brief.pk])).context["sections"]
    forms = [form for _, _, rows in sections for form in (rows.management_form, *rows)]
    sent = {field.html_name: _as_browsers_send(field) for form in forms for field in form}
    return {name: "" if value is None else str(value) for name, value in sent.items() if value is not False}


def _as_browsers_send(field: BoundField) -> object:
    """Return the value of a field; of a choice where nothing is chosen the first one, as browsers have it."""
    value, choices = field.value(), getattr(field.field.widget, "choices", None)
    return next(iter(choices))[0] if choices and value in (None, "") else value


def crew(brief: Brief) -> Crew:
    return Crew.objects.filter(brief=brief).earliest("key")


def send(client: Client, brief: Brief, sent: dict[str, str], what: str) -> int:
    return client.post(reverse("scenario-keep", args=[brief.pk, what]), sent).status_code


def test_what_was_typed_beside_is_kept_too(desk: tuple[Client, Brief]) -> None:
    client, brief = desk
    sent = {**typed(client, brief), "crews-0-people": "5", "phases-0-budget": "12345"}
    assert send(client, brief, sent, "crews") == 302
    assert crew(brief).people == 5
    assert Phase.objects.filter(brief=brief).earliest("start").budget == 12345


def test_where_one_section_is_wrong_none_is_kept_and_all_that_was_typed_stands_there_again(
    desk: tuple[Client, Brief],
) -> None:
    client, brief = desk
    before = crew(brief).people
    sent = {**typed(client, brief), "crews-0-people": "5", "phases-0-budget": "plenty"}
    page = client.post(reverse("scenario-keep", args=[brief.pk, "crews"]), sent)
    assert page.status_code == 400
    assert crew(brief).people == before
    assert 'value="5"' in page.content.decode()
    assert 'value="plenty"' in page.content.decode()


def test_which_closures_hold_is_kept_with_the_rest(desk: tuple[Client, Brief]) -> None:
    client, brief = desk
    held = client.get(reverse("scenario", args=[brief.pk])).context["campus_closures"]
    assert held
    assert send(client, brief, {**typed(client, brief), "lifting": "yes"}, "phases") == 302
    assert brief.lifted.count() == len(held)
