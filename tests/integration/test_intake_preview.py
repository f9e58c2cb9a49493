"""What a look at a workbook shows: new rows, changed cells, absent rows, and problems with the whole row they are in."""

from collections.abc import Sequence
from io import BytesIO

import openpyxl
import pytest
from django.contrib.auth.models import Group, User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inventory.core.roles import Role
from inventory.models import CalendarFile, Intake, Node
from inventory.services.calendars import put_calendars
from inventory.services.intake import preview, take_in
from inventory.services.taking_back import take_back
from planner.models import Job
from planner.services import jobs
from planner.services.assess import silent
from planner.store.intake import ALL_TARGETS
from planner.tasks import WORK
from tests.books import SMALL, book, small
from tests.html_rules import wrong_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk(db: None) -> Client:
    user = User.objects.create_user("kim")
    user.groups.add(Group.objects.get(name=Role.FACILITIES))
    client = Client()
    client.force_login(user)
    return client


def look(client: Client, content: bytes) -> tuple[Job, str]:
    """Look at a workbook as a person does; return the job and its page."""
    client.post(reverse("intake"), {"workbook": SimpleUploadedFile("campus.xlsx", content)})
    job = jobs.claim(Job.objects.get(kind="intake", state="queued").pk)
    assert job
    jobs.finish(job, WORK["intake"](job, silent))
    job.refresh_from_db()
    said = client.get(reverse("intake-job", args=[job.pk])).content.decode().replace("\N{NO-BREAK SPACE}", " ")
    assert wrong_in(said) == []
    assert len(said) < 100_000
    return job, said


def listed(client: Client, job: Job) -> dict[str, list[tuple[object, ...]]]:
    """Return the workbook of what would change: sheet title -> rows without headings."""
    answer = client.get(reverse("job-file", args=[job.pk]))
    pages = openpyxl.load_workbook(BytesIO(answer.content))
    return {page.title: [tuple(cell.value for cell in row) for row in page.iter_rows(min_row=2)] for page in pages}


def rows(title: str, *more: Sequence[object]) -> list[list[object]]:
    return [*(list(row) for row in SMALL[title]), *(list(row) for row in more)]


def test_new_rows_are_shown_with_all_that_the_file_says_of_them() -> None:
    assert take_in(small(), "first.xlsx", ALL_TARGETS, None).stored
    seen = preview(small(Rooms=rows("Rooms", ("B1", "2.01", "2"))), ALL_TARGETS)
    (row,) = seen.new["rooms"]
    assert (row.row, row.key) == (4, "B1, 2.01")
    assert [(cell.column, cell.text) for cell in row.cells] == [("Building", "B1"), ("Room", "2.01"), ("Floor", "2")]
    assert set(seen.new) == {"rooms"}


def test_the_page_shows_new_changed_unchanged_and_absent(clerk: Client) -> None:
    assert take_in(small(), "first.xlsx", ALL_TARGETS, None).stored
    nodes = rows("Nodes", ("S3", "B1", "1.01", "WS-1", "L1", None, None, 4, None, "<b>loose</b>"))
    nodes[1][7] = 5
    del nodes[3]
    job, said = look(clerk, small(Nodes=nodes))
    assert "<span>Condition</span> 4" in said  # the new row
    assert "&lt;b&gt;loose&lt;/b&gt;" in said
    assert (
        '>Condition</td><td data-label="Now on file">2</td><td data-label="In the workbook">5</td>' in said
    )  # the changed one
    assert f'value="nodes:{Node.objects.get(key="S2").pk}"> S2' in said  # the absent one
    counts = job.result["counts"]["Nodes"]
    assert (counts["new"], counts["changed"], counts["unchanged"], counts["absent"]) == (1, 1, 1, 1)
    book_of_changes = listed(clerk, job)
    assert [row[:3] for row in book_of_changes["New"]] == [("Nodes", 4, "S3")]
    assert "Note: <b>loose</b>" in str(book_of_changes["New"][0][3])
    assert book_of_changes["Changed"] == [("Nodes", 2, "G1", "Condition", "2", "5")]
    assert book_of_changes["Absent"] == [("Nodes", "S2")]


def test_of_very_many_rows_the_first_are_shown_and_the_workbook_has_them_all(clerk: Client) -> None:
    many = [("B1", f"9.{number:03d}", "9") for number in range(700)]  # more than are kept for the page
    job, said = look(clerk, small(Rooms=rows("Rooms", *many)))
    assert "more new on Rooms: the workbook above has them all." in said
    assert len(listed(clerk, job)["New"]) == sum(one["new"] for one in job.result["counts"].values())
    assert [row[2] for row in listed(clerk, job)["New"] if row[0] == "Rooms"][-1] == "B1, 9.699"


def test_a_problem_is_shown_with_the_whole_row_and_the_bad_cell_marked_in_it(clerk: Client) -> None:
    nodes = rows("Nodes")
    nodes[2][7] = "worn"  # the condition of S1
    runs = [("Run", "Bus", "From", "To", "Cable", "Length (ft)"), ("R1", "L1", "G1", "S1", "2x2", "far")]
    _, said = look(clerk, small(Nodes=nodes, Runs=runs))
    assert "<span>Node</span> S1" in said
    assert "<span>Note</span> stiff" in said
    assert '<li class="bad"><span>Condition</span> worn</li>' in said
    assert '<li class="bad"><span>Length (ft)</span> far</li>' in said  # though it would be kept in metres
    assert "<span>Run</span> R1" in said
    assert "<span>Node</span> G1" not in said  # a row without a problem


def test_a_needed_cell_that_is_blank_is_marked_as_nothing(clerk: Client) -> None:
    nodes = rows("Nodes")
    nodes[2][3] = None
    _, said = look(clerk, small(Nodes=nodes))
    assert '<li class="bad"><span>Model</span> <em>nothing</em></li>' in said


def test_each_bad_cell_of_the_marked_copy_is_coloured_and_says_why_and_no_other_is(clerk: Client) -> None:
    nodes = rows("Nodes")
    nodes[2][7], nodes[3][3] = "worn", "NO-SUCH"
    job, _ = look(clerk, small(Nodes=nodes))
    answer = clerk.get(reverse("intake-marked", args=[job.pk]))
    sheet = openpyxl.load_workbook(BytesIO(answer.content))["Nodes"]
    marked = {cell.coordinate: cell.comment.text for row in sheet.iter_rows(min_row=2) for cell in row if cell.comment}
    coloured = {cell.coordinate for row in sheet.iter_rows(min_row=2) for cell in row if cell.fill.fill_type}
    assert set(marked) == coloured == {"H3", "D4"}
    assert "This must be" in marked["H3"]
    assert "To do:" in marked["H3"]
    assert "Models" in marked["D4"]


def test_problems_and_rows_beyond_measure_keep_the_page_light(clerk: Client) -> None:
    note = "x" * 5000
    many = [(f"N{number}", "B1", "1.01", "NO-SUCH", "L1", None, None, "bad", "maybe", note) for number in range(900)]
    _, said = look(clerk, small(Nodes=rows("Nodes", *many)))
    assert "more on Nodes: the marked workbook shows all" in said


CALENDAR = b"\r\n".join(
    [b"BEGIN:VCALENDAR", b"VERSION:2.0", b"PRODID:-//test//", b"BEGIN:VEVENT", b"UID:1", b"DTSTAMP:20260101T000000Z",
     b"DTSTART:20270301T090000Z", b"DTEND:20270301T100000Z", b"END:VEVENT", b"END:VCALENDAR", b""]
)  # fmt: skip


def test_taking_back_leaves_calendars_and_says_so_beforehand_with_the_reason(clerk: Client) -> None:
    assert take_in(small(), "first.xlsx", ALL_TARGETS, None).stored
    heading, *body = rows("Rooms")
    named = [[*heading, "Calendar"], *([*row, "mill.ics"] for row in body)]
    put_calendars({"mill.ics": CALENDAR}, None)
    taken = take_in(small(Rooms=named), "named.xlsx", ALL_TARGETS, None)
    assert taken.intake
    said = clerk.get(reverse("intake-back", args=[taken.intake])).content.decode()
    assert "Calendars stay as they are now." in said
    assert "a crew would be sent into a room that is taken" in said
    assert take_back(taken.intake, ALL_TARGETS, None).done
    assert bytes(CalendarFile.objects.get().content) == CALENDAR
    assert Intake.objects.get(pk=taken.intake).taken_back


def test_a_workbook_of_nothing_changes_nothing(clerk: Client) -> None:
    job, said = look(clerk, book({"Nodes": [SMALL["Nodes"][0]]}))
    assert "New rows" not in said
    assert job.result["counts"].get("Nodes", {"new": 0})["new"] == 0
