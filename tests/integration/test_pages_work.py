"""Intake, segments, plans and background work as pages: what they say, refuse and survive."""

from collections.abc import Callable
from io import BytesIO
from typing import Any

import openpyxl
import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inventory.models import Failure, Intake, Node, Room
from planner.models import Brief, BriefSetting, Crew, Job, Order, Phase, Plan
from planner.models.jobs import DONE, FAILED, QUEUED
from planner.services import jobs
from planner.services.assess import silent
from planner.services.workbook import filled_workbook
from planner.tasks import WORK, in_words
from tests.integration.pages import in_wires, page, people_of_a_joined_campus, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def people() -> dict[str, User]:
    return people_of_a_joined_campus()


@pytest.fixture
def facilities(people: dict[str, User]) -> Client:
    return signed_in(people["facilities"])


@pytest.fixture
def planner(people: dict[str, User]) -> Client:
    return signed_in(people["planning"])


@pytest.fixture
def reader(people: dict[str, User]) -> Client:
    return signed_in(people["reader"])


def work(job: Job) -> Job:
    """Do a queued job as a worker does, within this test's own transaction."""
    claimed = jobs.claim(job.pk)
    assert claimed
    try:
        jobs.finish(claimed, WORK[job.kind](claimed, silent))
    except ValueError as error:
        jobs.fail(claimed, in_words(error))
    job.refresh_from_db()
    return job


def edited(change: Callable[[Any], object]) -> bytes:
    book = openpyxl.load_workbook(BytesIO(filled_workbook()))
    change(book)
    content = BytesIO()
    book.save(content)
    return content.getvalue()


def put(sheet: Any, row: int, heading: str, value: object) -> None:
    headings = [cell.value for cell in sheet[1]]
    sheet.cell(row, headings.index(heading) + 1).value = value


def upload(client: Client, content: bytes, name: str = "campus.xlsx") -> Any:
    return client.post(reverse("intake"), {"workbook": SimpleUploadedFile(name, content)})


def looked_at(client: Client, content: bytes, name: str = "campus.xlsx") -> Job:
    assert upload(client, content, name).status_code == 302
    return work(Job.objects.get(kind="intake", state=QUEUED))


# Intake


def test_a_look_shows_what_would_change_and_stores_nothing(facilities: Client) -> None:
    name = "<b>Tide room</b>"
    job = looked_at(facilities, edited(lambda book: put(book["Rooms"], 2, "Name", name)))
    said = page(facilities, "intake-job", job.pk)
    assert job.result["can_be_stored"], job.result["problems"]
    assert "can be taken in. Nothing is stored yet" in said
    assert "&lt;b&gt;Tide room&lt;/b&gt;" in said
    assert name not in said
    assert not Room.objects.filter(name=name).exists()


def test_the_same_workbook_again_is_all_unchanged(facilities: Client) -> None:
    job = looked_at(facilities, filled_workbook())
    assert {(one["new"], one["changed"], one["absent"]) for one in job.result["counts"].values()} == {(0, 0, 0)}


def test_taking_in_twice_is_taking_in_once(facilities: Client) -> None:
    job = looked_at(facilities, edited(lambda book: put(book["Rooms"], 2, "Name", "Tide room")))
    before = Intake.objects.count()
    first = facilities.post(reverse("intake-take", args=[job.pk]))
    second = facilities.post(reverse("intake-take", args=[job.pk]))
    assert first.headers["Location"] == second.headers["Location"]
    taken = Job.objects.get(kind="intake", state=QUEUED)
    assert work(taken).result["stored"]
    assert Intake.objects.count() == before + 1
    assert Room.objects.filter(name="Tide room").count() == 1
    third = facilities.post(reverse("intake-take", args=[job.pk]), follow=True)
    assert "Taken in" in text_of(third)
    assert f"/intake/{taken.pk}/" in page(facilities, "intake-job", job.pk)


def test_absent_rows_stay_unless_they_are_ticked(facilities: Client) -> None:
    node = Node.objects.filter(model__kind="station").earliest("key")
    kept, gone = (Failure.objects.create(node=node, date=f"2026-01-0{day}", what_failed="lamp") for day in (1, 2))
    content = edited(lambda book: book["Failures"].delete_rows(2, 5))
    job = looked_at(facilities, content)
    said = page(facilities, "intake-job", job.pk)
    assert f'value="failures:{kept.pk}"' in said
    assert "<legend>Failures</legend>" in said
    wrong = ["failures:x", "nonsense", "failures:-1", f"failures:{gone.pk}"]
    facilities.post(reverse("intake-take", args=[job.pk]), {"remove": wrong})
    assert work(Job.objects.get(kind="intake", state=QUEUED)).result["stored"]
    assert list(Failure.objects.all()) == [kept]


def test_a_workbook_with_errors_cannot_be_taken_in_and_comes_back_marked(facilities: Client) -> None:
    job = looked_at(facilities, edited(lambda book: put(book["Nodes"], 2, "Model", "NO-SUCH")))
    said = page(facilities, "intake-job", job.pk)
    assert "Nothing is stored until they are mended" in said
    assert "Take it in" not in said
    assert "<code>NO-SUCH</code>" in said
    assert "cells marked" in said
    refused = facilities.post(reverse("intake-take", args=[job.pk]), follow=True)
    assert "cannot be taken in as it is" in text_of(refused)
    marked = facilities.get(reverse("intake-marked", args=[job.pk]))
    book = openpyxl.load_workbook(BytesIO(marked.content))
    assert any(cell.comment for row in book["Nodes"].iter_rows() for cell in row)


@pytest.mark.parametrize("content", [b"nonsense", b"PK\x03\x04" + b"\0" * 50, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"])
def test_what_is_no_workbook_is_said_in_words(facilities: Client, content: bytes) -> None:
    job = looked_at(facilities, content)
    said = page(facilities, "intake-job", job.pk)
    assert "What to do" in said
    assert "Nothing is stored" in said
    assert "cells marked" not in said
    assert facilities.get(reverse("intake-marked", args=[job.pk])).status_code == 200


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("campus.xlsx", b"", "This file is empty. Choose another."),
        (
            "campus.csv",
            b"x",
            "campus.csv does not end in .xlsx or .xlsm. Save it as such in the program that made it, then choose that.",
        ),
        ("<i>.txt", b"x", "&lt;i&gt;.txt does not end in"),
    ],
)
def test_a_wrong_upload_is_refused_beside_its_field(facilities: Client, name: str, content: bytes, words: str) -> None:
    answer = upload(facilities, content, name)
    assert answer.status_code == 400
    assert words in text_of(answer)
    assert not Job.objects.exists()


def test_no_file_and_a_huge_one_are_refused_with_what_to_do(facilities: Client, settings: Any) -> None:
    assert "Choose a workbook first." in text_of(facilities.post(reverse("intake")))
    settings.UPLOAD_LIMIT_BYTES = 10
    assert upload(facilities, b"x" * 10).status_code == 302
    answer = upload(facilities, b"x" * 11)
    assert answer.status_code == 400
    assert "Split it, or ask for a higher limit." in text_of(answer)


CALENDAR = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\nEND:VCALENDAR\r\n"


def test_calendars_go_on_file_all_or_none(facilities: Client) -> None:
    good = SimpleUploadedFile("room-1.ics", CALENDAR)
    bad = SimpleUploadedFile("room-2.ics", b"BEGIN:VCALENDAR\r\nno calendar")
    answer = facilities.post(reverse("intake-calendars"), {"calendars": [good, bad]})
    assert answer.status_code == 400
    assert "room-2.ics" in text_of(answer)
    good.seek(0)
    assert facilities.post(reverse("intake-calendars"), {"calendars": [good]}).status_code == 302
    assert facilities.post(reverse("intake-calendars")).status_code == 400


@pytest.mark.parametrize(("name", "most"), [("segments", 13), ("plans", 15), ("intake", 13), ("brief", 15)])
def test_pages_take_a_fixed_number_of_queries(
    people: dict[str, User], django_assert_max_num_queries: Any, name: str, most: int
) -> None:
    client = signed_in(people["super"])
    with django_assert_max_num_queries(most):
        assert client.get(reverse(name)).status_code == 200


def test_plan_order_segment_and_job_take_a_fixed_number_of_queries(
    people: dict[str, User], django_assert_max_num_queries: Any
) -> None:
    client = signed_in(people["super"])
    job = jobs.ask("assess", {}, by=people["super"])
    ones = {
        "plan": (Plan.objects.get().pk, 15),
        "order": (Order.objects.earliest("pk").pk, 15),
        "segment": (in_wires().key, 28),
        "job": (job.pk, 9),
    }
    for name, (key, most) in ones.items():
        with django_assert_max_num_queries(most):
            assert client.get(reverse(name, args=[key])).status_code == 200


# Plans


def asked(**changes: str) -> dict[str, str]:
    return {"name": "First plan", "seconds": "1", "seed": "1", **changes}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": ""}, "Give the brief a name"),
        ({"name": "   "}, "Give the brief a name"),
        ({"name": "x" * 81}, "at most 80 characters"),
        ({"seconds": "0"}, "how many seconds, 1 to 600."),
        ({"seconds": "601"}, "how many seconds, 1 to 600."),
        ({"seconds": "soon"}, "how many seconds, 1 to 600."),
        ({"seed": str(2**31)}, "Give a whole number from 0 to 2147483647, such as 1."),
        ({"longest_outage_min": "ages"}, "Write a whole number of minutes, such as 480."),
        ({"work_from_min": "25:00"}, "such as"),
        ({"currency": "<script>"}, "ISO 4217"),
        ({"labour_rate": "9" * 501}, "at most 500 characters"),
        ({"name": "a\0b"}, "Null characters are not allowed"),
    ],
)
def test_a_wrong_brief_is_refused_beside_its_field_and_keeps_what_was_typed(
    planner: Client, changes: dict[str, str], words: str
) -> None:
    answer = planner.post(reverse("brief"), asked(**changes, setup_min="17"))
    assert answer.status_code == 400
    said = text_of(answer)
    assert words in said
    assert 'value="17"' in said
    assert "<script>" not in said
    assert not Job.objects.exists()


def test_a_choice_shows_what_was_chosen_and_words_that_a_workbook_brought(planner: Client) -> None:
    brief, _ = Brief.objects.get_or_create(name="First plan")
    BriefSetting.objects.create(brief=brief, setting="Work on holidays", value="Y")
    assert '<option value="Y" selected>' in page(planner, "brief")
    answer = planner.post(reverse("brief"), asked(work_on_holidays="Y", setup_min="wrong"))
    assert '<option value="Y" selected>' in text_of(answer)


def test_a_brief_is_kept_under_its_name_and_two_clicks_make_one_plan(planner: Client) -> None:
    name = "<b>Z</b> " + "x" * 60
    own = Brief.objects.get_or_create(name="First plan")[0]
    Crew.objects.create(brief=own, key="Night A", people=2, days="Mon Tue", shift_from="21:00", shift_to="05:00")
    Phase.objects.create(brief=own, key="Phase 1", start="2027-01-11", end="2027-03-26")
    first = planner.post(reverse("brief"), asked(name=name, setup_min="25"))
    second = planner.post(reverse("brief"), asked(name=name, setup_min="25"))
    assert first.status_code == second.status_code == 302
    assert Job.objects.filter(kind="plan").count() == 1
    assert BriefSetting.objects.get(brief__name=name, setting="Setting up").value == "25"
    said = page(planner, "plans")
    assert "&lt;b&gt;Z&lt;/b&gt;" in said
    assert name not in said


def test_a_brief_that_cannot_work_says_which_demands_clash_each_on_its_own_line(planner: Client) -> None:
    job = jobs.ask("plan", {"brief": "First plan", "seconds": 1, "seed": 1}, by=None)
    jobs.claim(job.pk)
    jobs.fail(job, "There is no crew.\nPhase <1> ends before it starts.")
    said = page(planner, "job", job.pk)
    assert "There is no crew.<br>Phase &lt;1&gt; ends before it starts." in said
    assert "Start it again" in said
    assert "Change the brief" in said


def test_a_plan_says_how_many_orders_are_dated_and_why_the_others_are_not(planner: Client) -> None:
    plan = Plan.objects.get()
    said = page(planner, "plan", plan.pk)
    dated = plan.orders.filter(start__isnull=False).count()
    assert f"{dated} <small>of {plan.orders.count()}</small>" in said
    assert "No window is long enough: the longest found has 90 min." in said


def test_an_order_without_a_night_has_no_crew_yet_and_one_with_a_night_needs_no_reason(planner: Client) -> None:
    said = page(planner, "plan-orders", Plan.objects.get().pk)
    assert "none yet" in said
    assert "it is dated" in said


def test_the_cost_of_an_order_adds_up_on_its_page(reader: Client) -> None:
    # 224.40 parts + 206.80 labour + 60.00 call-out = 491.20
    order = Order.objects.earliest("pk")
    order.data = {**order.data, "cost_call_out": "60.00"}
    order.cost = "491.20"
    order.save()
    said = page(reader, "order", order.pk)
    assert "491.20 EUR (parts 224.40 EUR, labour 206.80 EUR, call-out 60.00 EUR)" in said


def test_crews_and_phases_that_are_missing_are_asked_for(planner: Client) -> None:
    assert not Crew.objects.exists()
    assert not Phase.objects.exists()
    assert "Give them on the sheet Crews" in page(planner, "brief")


# Background work


def test_a_job_page_moves_while_it_works_and_stands_still_after(planner: Client) -> None:
    job = jobs.ask("assess", {}, by=None)
    said = page(planner, "job", job.pk)
    assert reverse("job-state", args=[job.pk]) in said
    assert "Look again" in said  # without JavaScript
    jobs.claim(job.pk)
    jobs.fail(job, "No.")
    state = planner.get(reverse("job-state", args=[job.pk]))
    assert state.headers["HX-Refresh"] == "true"
    ended = planner.get(reverse("job", args=[job.pk]))
    assert "hx-get" not in text_of(ended)
    assert "no-store" in ended.headers["Cache-Control"]


def test_stop_and_again_are_for_those_who_may(planner: Client, reader: Client) -> None:
    job = jobs.ask("assess", {}, by=None)
    assert reader.post(reverse("job-stop", args=[job.pk])).status_code == 403
    planner.post(reverse("job-stop", args=[job.pk]))
    job.refresh_from_db()
    assert job.state == "stopped"
    assert reader.post(reverse("job-again", args=[job.pk])).status_code == 403
    assert planner.post(reverse("job-again", args=[job.pk])).status_code == 302
    refused = planner.post(reverse("job-again", args=[job.pk]))
    assert refused.status_code == 409
    assert "Only a failed or stopped job can be started again." in text_of(refused)


def test_assessing_twice_in_a_moment_is_one_job_and_after_a_failure_a_new_one(planner: Client) -> None:
    for _ in range(2):
        planner.post(reverse("assess"))
    job = Job.objects.get(kind="assess")
    jobs.claim(job.pk)
    jobs.fail(job, "No.")
    planner.post(reverse("assess"))
    assert Job.objects.filter(kind="assess").count() == 2
    assert Job.objects.filter(state=FAILED).count() == 1


def test_each_role_gets_the_pages_that_it_may(people: dict[str, User]) -> None:
    job = jobs.ask("intake", {"mode": "look", "file_name": "x.xlsx"}, by=people["facilities"])
    Job.objects.filter(pk=job.pk).update(state=DONE, result={"problems": []})
    for role in ("facilities", "planning", "purchasing", "crew", "reader"):
        client = signed_in(people[role])
        status = {name: client.get(reverse(name)).status_code for name in ("segments", "plans", "brief", "intake")}
        assert status["segments"] == 200
        assert status["plans"] == (403 if role == "crew" else 200), role
        assert status["brief"] == (200 if role == "planning" else 403), role
        assert status["intake"] == (200 if role == "facilities" else 403), role
        assert client.get(reverse("intake-job", args=[job.pk])).status_code == status["intake"]


def test_an_expired_session_leads_to_sign_in_and_back(people: dict[str, User]) -> None:
    client = signed_in(people["planning"])
    client.logout()
    answer = client.post(reverse("brief"), asked())
    assert answer.status_code == 401
    assert "What you typed is kept" in answer.content.decode()
    assert not Job.objects.exists()
