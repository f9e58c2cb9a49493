"""Every page says in one line what it is for, and in its title block where its figures come from; the words are all explained."""

import re

import pytest
from django.test import Client
from django.urls import URLPattern, reverse

from inventory.models import Building, Intake, Node, Part, Room
from planner.models import Brief, Job, Order, Plan
from planner.site.purposes import PURPOSES, RECORD_PAGES, SHOWN_BY, purpose_of
from tests.bad_input import patterns
from tests.site_campus import whole_campus
from tests.work import work_order

pytestmark = pytest.mark.django_db

NO_PAGE = {
    "sign-in",
    "sign-out",
    "feed",
    "feed-end",
    "photograph",
    "work-offline",
    "assess",
    "way-out",
    "way-out-take",
    "way-out-give-up",
    "plan-again",
    "plan-adopt",
    "plan-handover",
    "order-choice-drop",
    "sequence-drop",
    "materials-counted",
    "materials-workbook",
    "survey-workbook",
    "intake-marked",
    "job-state",
    "job-stop",
    "job-file",
    "first",
    "workbook-blank",
    "workbook-filled",
}
TERMS = [
    "campus, building, floor, room",
    "protocol",
    "bus",
    "node",
    "side",
    "run",
    "segment",
    "model",
    "old station",
    "method",
    "finding",
    "verdict",
    "extra",
    "order",
    "window",
    "crew",
    "phase",
    "brief",
    "plan",
    "take-off",
    "hand-over",
    "survey",
]
MARKED = "in place, together, clear first, new cable, other method, survey first, leave, drafted, booked, under way, accepted, backed out"


def pages() -> list[URLPattern]:
    return [one for one in patterns() if one.name not in NO_PAGE]


def test_every_address_that_is_a_page_has_its_line_and_every_line_its_page() -> None:
    named = {one.name or "" for one in pages()}
    assert {name for name in named if purpose_of(name) is None} == set()
    assert {*PURPOSES, *SHOWN_BY} <= named
    assert {name.rpartition("-")[2] for name in named if name not in PURPOSES and name not in SHOWN_BY} == set(
        RECORD_PAGES
    )


def test_every_line_is_one_line_and_no_two_are_alike() -> None:
    lines = [one.line for one in (*PURPOSES.values(), *RECORD_PAGES.values())]
    assert len(set(lines)) == len(lines)
    for line in lines:
        assert line.endswith(".")
        assert len(line) <= 120, line


def numbers() -> dict[str, int | str]:
    """Return a row to look at for each part of an address."""
    job = Job.objects.get()
    return {
        "buildings": Building.objects.earliest("pk").pk,
        "rooms": Room.objects.earliest("pk").pk,
        "stations": Node.objects.filter(model__kind="station").earliest("pk").pk,
        "segments": "B1-L0",
        "plans": Plan.objects.earliest("pk").pk,
        "briefs": Brief.objects.get().pk,
        "orders": Order.objects.get(key="B1-O1").pk,
        "parts": Part.objects.get(key="P-1001").pk,
        "intake": job.pk,
        "taken": Intake.objects.get().pk,
        "jobs": job.pk,
    }


def address(one: URLPattern, found: dict[str, int | str]) -> str | None:
    """Return the address of a page with a row that is there; None where none is."""
    text = str(one.pattern)
    if "<" not in text:
        return reverse(one.name)
    before = text[: text.index("<")].strip("/").split("/")[-1]
    if before == "of":
        before = "segments"
    kind = re.findall(r"<\w+:(\w+)>", text)
    return reverse(one.name, args=[found[before]]) if before in found and len(kind) == 1 else None


def test_every_page_shows_its_line_once_and_where_its_figures_come_from() -> None:
    people = whole_campus()
    work_order()
    Job.objects.create(
        kind="intake",
        state="done",
        made=Plan.objects.get().made,
        upload=b"x",
        demand={"mode": "look", "file_name": "x.xlsx"},
        result={"can_be_stored": True, "problems": [], "counts": {}},
    )
    another = Plan.objects.get()
    another.pk = None
    another.adopted = None
    another.save()
    Intake.objects.update(counts={"rooms": {"new": 1}})
    client = Client()
    client.force_login(people["super"])
    found, seen = numbers(), set()
    for one in pages():
        at = address(one, found)
        if at is None or one.name in SHOWN_BY:
            continue
        answer = client.get(at, {"plan": [found["plans"], another.pk]} if one.name == "plan-compare" else {})
        if answer.status_code != 200 or not answer.headers["Content-Type"].startswith("text/html"):
            continue
        page, purpose = answer.content.decode(), purpose_of(one.name or "")
        assert purpose is not None
        assert re.findall(r'<p class="purpose">(.*?)</p>', page) == [purpose.line], one.name
        assert page.count("<dt>Figures from</dt>") == bool(purpose.figures), one.name
        assert reverse("words") in page
        seen.add(one.name)
    missed = {name for name in PURPOSES if name not in seen}
    assert missed == set(), "these were never looked at"


def test_pages_that_refuse_say_nothing_of_what_they_would_be_for() -> None:
    people = whole_campus()
    client = Client()
    client.force_login(people["nobody"])
    for name in ("campus", "audit", "intake"):
        assert 'class="purpose"' not in client.get(reverse(name)).content.decode()
    client.force_login(people["super"])
    assert 'class="purpose"' not in client.get("/orders/999999/").content.decode()


def test_every_word_of_the_job_is_explained() -> None:
    client = Client()
    client.force_login(whole_campus()["reader"])
    page = client.get(reverse("words")).content.decode()
    explained = re.findall(r"<dt>([^<]*)</dt>\s*<dd>[^<]", page)
    assert [term for term in TERMS if term not in explained] == []
    for word in MARKED.split(", "):
        assert re.search(rf"<(?:th scope=\"row\"|dt)>(?:<[^>]*>)*\s*(?:<svg.*?</svg>)?\s*{word}", page, re.DOTALL), word
