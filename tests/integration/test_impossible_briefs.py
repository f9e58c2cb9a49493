"""Briefs that cannot work, through the command, the page and the background: named in words before anything is solved."""

import json
from collections.abc import Callable
from datetime import date, time
from decimal import Decimal
from pathlib import Path

import pytest
from django.contrib.auth.models import Group
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.core.calendars import MOST_EVENTS, calendar_faults
from inventory.core.roles import Role
from inventory.models import Building, CalendarFile, Node
from planner.models import Brief, Closure, Crew, Job, Phase, Plan, Precedence
from planner.models.briefs import FIRST_BRIEF
from planner.services import jobs
from planner.services.assess import assess_campus
from planner.services.order_choices import Desk
from planner.tasks import run_job
from tests.integration.test_commands import CAMPUS, PROBLEMS, ran
from tests.moments import planning_day
from tests.site_campus import person

pytestmark = pytest.mark.on_any_database

MANY = 100_000


def no_crew() -> None:
    Crew.objects.all().delete()


def no_phase() -> None:
    Phase.objects.all().delete()


def no_window() -> None:
    """Crews are on shift on Mondays, the brief lets work start on Tuesdays, and no building makes an exception."""
    Closure.objects.all().delete()
    Crew.objects.update(days="Mon")
    Brief.objects.get(name=FIRST_BRIEF).settings.update_or_create(setting="Work days", defaults={"value": "Tue"})


def phases_overlap() -> None:
    first, second = Phase.objects.order_by("start")[:2]
    Phase.objects.filter(pk=second.pk).update(start=first.end)


def budget_of_zero() -> None:
    Phase.objects.update(budget=Decimal(0))


def orders_too_long() -> None:
    Crew.objects.update(shift_from=time(20, 0), shift_to=time(20, 15))


def cycle() -> None:
    """Two orders wait for each other: the page refuses that, a database may say it all the same."""
    assess_campus(by=None)
    first, second = next(
        orders for building in Building.objects.order_by("key") if len(orders := Desk(building).orders()[:2]) > 1
    )
    for one, two in ((first, second), (second, first)):
        Precedence.objects.create(
            earlier=list(one.segments), later=list(two.segments), first=one.key, then=two.key, at=timezone.now()
        )


# what is done to a good brief -> the words that must be told
CLASHES: dict[str, tuple[Callable[[], None], tuple[str, ...]]] = {
    "no crew": (no_crew, ("There is no crew. Add one with its days and shift.",)),
    "no phase": (no_phase, ("There is no phase to work in. Add one with start and end.",)),
    "no window": (no_window, ("No order has a window", "the brief lets work start on some days of the week alone")),
    "phases overlap": (phases_overlap, ("overlap from", "so that a night there would have two budgets")),
    "budget of zero": (
        budget_of_zero,
        (
            "No phase can pay for a single order",
            "has a budget of 0.00",
            "It takes at the least: the budget of",
        ),
    ),
    "orders longer than any window": (orders_too_long, ("the longest free time found is 15 min", "min longer")),
    "cycle": (cycle, ("each wait for another of them, so none can be first",)),
}


@pytest.mark.django_db
def test_each_demand_that_cannot_hold_is_named_by_the_command_before_anything_is_solved() -> None:
    with planning_day():
        ran("intake", CAMPUS)
        for name, (spoil, words) in CLASHES.items():
            with transaction.atomic():
                spoil()
                code, text = ran("plan", "--seconds", "1")
                missing = [each for each in words if each not in text]
                assert (code, missing) == (PROBLEMS, []), f"{name}: {text}"
                assert not Plan.objects.exists(), name
                transaction.set_rollback(True)


@pytest.mark.django_db
def test_in_the_background_the_reason_is_told_and_no_search_was_begun() -> None:
    with planning_day():
        ran("intake", CAMPUS)
        budget_of_zero()
        code, text = ran("plan", "--seconds", "1", "--json", "-")
        problems = {problem["code"]: problem for problem in json.loads(text)["problems"]}
        assert code == PROBLEMS
        assert problems["clash"]["reliefs"][0].startswith("the budget of ")
        job = jobs.ask("plan", {"brief": FIRST_BRIEF, "seconds": 1}, by=None)
        run_job(job.pk)
    job = Job.objects.get(pk=job.pk)
    assert job.state == "failed"
    assert "No phase can pay for a single order" in (job.reason or "")
    assert "best" not in (job.result or {}), "a search was begun"
    assert not Plan.objects.exists()


@pytest.mark.django_db
def test_the_page_of_the_brief_names_what_cannot_work_and_asks_for_no_plan() -> None:
    planner = person("ada")
    planner.groups.add(Group.objects.get(name=Role.PLANNING))
    client = Client()
    client.force_login(planner)
    brief = Brief.objects.create(name=FIRST_BRIEF)
    said = client.get(reverse("brief")).content.decode()
    assert "There is no crew." in said
    assert "There is no phase to work in." in said
    Crew.objects.create(brief=brief, key="Night A", people=2, days="Mon", shift_from="20:00", shift_to="05:00")
    for key, start in (("P1", date(2027, 1, 4)), ("P2", date(2027, 1, 31))):
        Phase.objects.create(brief=brief, key=key, start=start, end=start.replace(month=start.month + 1, day=28))
    asked = {"name": FIRST_BRIEF, "seconds": "1", "seed": "1"}
    answer = client.post(reverse("brief"), asked)
    assert answer.status_code == 400
    assert "P1 and P2 overlap from 31 Jan 2027 to 28 Feb 2027" in answer.content.decode()
    assert not Job.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(("budget", "told"), [("0", True), ("0.01", False), (None, False)])
def test_a_phase_whose_budget_is_nothing_is_told_of_on_both_pages_of_the_brief(budget: str | None, told: bool) -> None:  # noqa: FBT001 - a case
    planner = person("ada")
    planner.groups.add(Group.objects.get(name=Role.PLANNING))
    client = Client()
    client.force_login(planner)
    brief = Brief.objects.create(name=FIRST_BRIEF)
    Crew.objects.create(brief=brief, key="Night A", people=2, days="Mon", shift_from="20:00", shift_to="05:00")
    for key, month, money in (("P1", 1, budget), ("P2", 2, "900")):
        start = date(2027, month, 4)
        Phase.objects.create(brief=brief, key=key, start=start, end=start.replace(day=20), budget=money)
    for address in (reverse("brief"), reverse("scenario", args=[brief.pk])):
        said = client.get(address).content.decode().replace("\N{NO-BREAK SPACE}", " ")
        assert ("P1 has a budget of 0.00 EUR: no order that costs anything is dated in it" in said) is told
        assert "P2 has a budget" not in said


def crowded(events: int = MANY) -> bytes:
    """Return a calendar of so many bookings, as calendar programs write them."""
    event = "BEGIN:VEVENT\r\nUID:{0}@campus.invalid\r\nDTSTART:20270104T0800{1:02}Z\r\nDTEND:20270104T090000Z\r\nSUMMARY:Seminar\r\nEND:VEVENT\r\n"
    body = "".join(event.format(at, at % 60) for at in range(events))
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{body}END:VCALENDAR\r\n".encode()


def test_a_calendar_of_a_hundred_thousand_events_is_refused_by_its_count_before_it_is_read() -> None:
    (fault,) = calendar_faults(crowded())
    assert "100,000 events" in fault.why
    assert f"{MOST_EVENTS:,}" in fault.why


@pytest.mark.django_db
def test_through_the_command_that_calendar_is_named_and_nothing_is_stored(tmp_path: Path) -> None:
    (tmp_path / "B01.ics").write_bytes(crowded())
    code, text = ran("intake", CAMPUS, "--calendars", str(tmp_path))
    assert code == PROBLEMS
    assert "B01.ics" in text
    assert "100,000 events" in text
    assert "export the calendar again from this year on" in text
    assert not Node.objects.exists()
    assert not CalendarFile.objects.exists()


@pytest.mark.django_db
def test_on_the_page_that_calendar_is_named_beside_its_field_and_not_kept() -> None:
    facilities = person("kim")
    facilities.groups.add(Group.objects.get(name=Role.FACILITIES))
    client = Client()
    client.force_login(facilities)
    answer = client.post(
        reverse("intake-calendars"),
        {"calendars": SimpleUploadedFile("hall.ics", crowded(), content_type="text/calendar")},
    )
    said = answer.content.decode()
    assert "100,000 events" in said
    assert "hall.ics" in said
    assert not CalendarFile.objects.exists()
