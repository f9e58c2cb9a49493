"""Every upload of the site with what nobody should send: words beside the field, nothing stored, nothing done twice."""

import zipfile
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inventory.models import CalendarFile
from planner.forms.intake import MOST_CALENDARS
from planner.models import Job, Order, Photograph
from planner.services import jobs
from planner.services.assess import silent
from planner.tasks import WORK
from tests.bad_input import SCRIPT, stored, wrong_with
from tests.books import book, small
from tests.site_campus import whole_campus
from tests.work import work_order

pytestmark = pytest.mark.django_db

EVENT = "BEGIN:VEVENT\r\nUID:1\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:20270301T090000Z\r\nDTEND:20270301T100000Z\r\n{more}END:VEVENT\r\n"
FRAME = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//\r\n{events}END:VCALENDAR\r\n"


def calendar(more: str = "") -> bytes:
    return FRAME.format(events=EVENT.format(more=more)).encode()


def bomb() -> bytes:
    """Return a zip that unpacks to a thousand times its weight."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name in ("[Content_Types].xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"):
            package.writestr(name, b"\0" * 30_000_000)
    return out.getvalue()


NO_WORKBOOKS: dict[str, tuple[str, bytes]] = {
    "empty": ("campus.xlsx", b""),
    "text": ("campus.xlsx", b"Node,Building\r\nS1,B1"),
    "old format": ("campus.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600),
    "cut off": ("campus.xlsx", small()[:2000]),
    "bomb": ("campus.xlsx", bomb()),
    "another ending": ("campus.exe", small()),
    "no ending": ("campus", small()),
    "name that is a script": (f"{SCRIPT}.txt", small()),
    "name turned round": ("campus\u202exslx.exe", small()),
    "path": ("../../etc/campus.exe", small()),
    "hostile cells": ("c.xlsx", book({"Nodes": [("Node", "Building", "Model"), (SCRIPT, "=1+1", "' OR 1=1; --")]})),
    "hostile headings": ("c.xlsx", book({"Nodes": [("Node", SCRIPT, "Building", "Model")]})),
    "hostile sheet": ("c.xlsx", book({"<b>Nodes": [("Node",)]})),
    "no row": ("c.xlsx", book({"Nodes": [()]})),
    "half an address": ("c.xlsx", book({"Nodes": [("Node", "Building", "Model"), ("a\u202eb", "9" * 5000, "1e309")]})),
}
NO_CALENDARS: dict[str, tuple[str, bytes]] = {
    "empty": ("a.ics", b""),
    "text": ("a.ics", b"nonsense"),
    "another ending": ("a.txt", calendar()),
    "name that is a script": (f"{SCRIPT}.txt", calendar()),
    "endless count": ("a.ics", calendar(f"RRULE:FREQ=DAILY;COUNT={'9' * 5000}\r\n")),
    "other digits": ("a.ics", calendar("RRULE:FREQ=DAILY;COUNT=\N{SUPERSCRIPT TWO}\r\n")),
    "nothing between": ("a.ics", calendar("RRULE:FREQ=DAILY;INTERVAL=0\r\n")),
    "every second for ever": ("a.ics", calendar("RRULE:FREQ=SECONDLY\r\n")),
    "no day": ("a.ics", calendar("EXDATE:20261345T000000Z\r\n")),
    "cut off": ("a.ics", calendar()[:90]),
}
NO_PHOTOGRAPHS: dict[str, bytes] = {
    "empty": b"",
    "text": b"nonsense",
    "script": f'<svg xmlns="http://www.w3.org/2000/svg">{SCRIPT}</svg>'.encode(),
    "cut off": b"\xff\xd8\xff\xe0\0\x10JFIF" + b"\0" * 40,
    "claims to be enormous": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\x7f\xff\xff\xff\x7f\xff\xff\xff\x08\x02\0\0\0\0\0\0\0",
}


@pytest.fixture
def client(db: None) -> Client:
    whole_campus()
    work_order()
    made = Client()
    made.force_login(User.objects.get(username="super"))
    return made


def work() -> Job | None:
    """Do what is queued, as a worker does."""
    waiting = Job.objects.filter(state="queued").first()
    if waiting is None:
        return None
    job = jobs.claim(waiting.pk)
    assert job
    jobs.finish(job, WORK[job.kind](job, silent))
    job.refresh_from_db()
    return job


def text_of(answer: Any) -> str:
    text: str = answer.content.decode()
    return text


@pytest.mark.parametrize("kind", NO_WORKBOOKS)
def test_what_is_no_workbook_is_refused_in_words_and_leaves_everything_as_it_is(client: Client, kind: str) -> None:
    name, content = NO_WORKBOOKS[kind]
    before = stored()
    answer = client.post(reverse("intake"), {"workbook": SimpleUploadedFile(name, content)})
    assert wrong_with(answer) == []
    job = work()
    if job is None:
        assert answer.status_code == 400
        assert "errorlist" in text_of(answer)
    else:
        page = client.get(reverse("intake-job", args=[job.pk]))
        assert wrong_with(page) == []
        assert "Take it in" not in text_of(page) or not any(one["new"] for one in job.result["counts"].values())
        assert wrong_with(client.get(reverse("intake-marked", args=[job.pk]))) == []
        before["Job"] += 1  # the look itself, which stores no record
    assert stored() == before


@pytest.mark.parametrize("kind", NO_CALENDARS)
def test_what_is_no_calendar_is_refused_in_words_and_keeps_the_good_ones_out_too(client: Client, kind: str) -> None:
    name, content = NO_CALENDARS[kind]
    files = [SimpleUploadedFile("good.ics", calendar()), SimpleUploadedFile(name, content)]
    answer = client.post(reverse("intake-calendars"), {"calendars": files})
    assert wrong_with(answer) == []
    assert answer.status_code == 400
    assert "errorlist" in text_of(answer)
    assert not CalendarFile.objects.exists()


@pytest.mark.parametrize(("files", "kept"), [(MOST_CALENDARS, MOST_CALENDARS), (MOST_CALENDARS + 1, 0)])
def test_as_many_calendars_go_up_at_once_as_the_page_says(client: Client, files: int, kept: int) -> None:
    assert f"up to {MOST_CALENDARS} at once" in text_of(client.get(reverse("intake")))
    one = calendar()
    answer = client.post(
        reverse("intake-calendars"), {"calendars": [SimpleUploadedFile(f"{n}.ics", one) for n in range(files)]}
    )
    assert CalendarFile.objects.count() == kept
    assert kept or f"{files} files at once are too many" in text_of(answer)


def test_a_calendar_that_is_sent_twice_is_on_file_once(client: Client) -> None:
    for _ in range(2):
        answer = client.post(reverse("intake-calendars"), {"calendars": [SimpleUploadedFile("a.ics", calendar())]})
        assert answer.status_code == 302
    assert CalendarFile.objects.count() == 1


def test_two_calendars_of_one_name_are_refused_since_one_would_be_lost(client: Client) -> None:
    files = [SimpleUploadedFile("a.ics", calendar()), SimpleUploadedFile("a.ics", calendar("SUMMARY:other\r\n"))]
    answer = client.post(reverse("intake-calendars"), {"calendars": files})
    assert answer.status_code == 400
    assert "Two of the files are called a.ics" in text_of(answer)
    assert not CalendarFile.objects.exists()


def test_a_workbook_that_is_looked_at_twice_is_one_look(client: Client) -> None:
    same = small()  # made once: a workbook holds the second at which it was made
    places = {
        client.post(reverse("intake"), {"workbook": SimpleUploadedFile("a.xlsx", same)}).headers["Location"]
        for _ in range(2)
    }
    assert len(places) == 1
    assert Job.objects.filter(kind="intake").count() == 1


@pytest.mark.parametrize(
    ("name", "field", "ending"), [("intake", "workbook", "xlsx"), ("intake-calendars", "calendars", "ics")]
)
def test_what_is_larger_than_the_limit_is_refused_with_the_limit(
    client: Client, settings: Any, name: str, field: str, ending: str
) -> None:
    settings.UPLOAD_LIMIT_BYTES = 1024 * 1024
    answer = client.post(reverse(name), {field: SimpleUploadedFile(f"a.{ending}", b"x" * (1024 * 1024 + 1))})
    assert answer.status_code == 400
    assert "more than 1 MB" in text_of(answer)


@pytest.mark.parametrize("kind", NO_PHOTOGRAPHS)
def test_what_is_no_photograph_is_refused_in_words(client: Client, kind: str) -> None:
    order = Order.objects.get(key="B1-O1")
    typed = {
        "token": str(uuid4()),
        "act": "photograph",
        "ago_s": "0",
        "photograph": SimpleUploadedFile("p.jpg", NO_PHOTOGRAPHS[kind]),
    }
    before = stored()
    answer = client.post(reverse("order-entry", args=[order.pk]), typed)
    assert wrong_with(answer) == []
    assert answer.status_code == 400
    assert stored() == before
    assert not Photograph.objects.exists()


@pytest.mark.parametrize("typed", [{}, {"workbook": "no file"}, {"calendars": "no file"}])
def test_a_form_without_its_file_says_so_beside_the_field(client: Client, typed: dict[str, str]) -> None:
    for name in ("intake", "intake-calendars"):
        answer = client.post(reverse(name), typed)
        assert answer.status_code == 400
        assert "first." in text_of(answer)
