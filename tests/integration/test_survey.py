"""The survey goes out as a workbook and comes back: what was found changes verdicts, what stays blank changes nothing."""

import json
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from inventory.models import Cable, Node, Run
from inventory.services.intake import take_in
from planner.models import Job, Segment
from planner.services import ways_out
from planner.services.assess import assess_campus, silent
from planner.services.surveys import make_survey, survey_workbook
from planner.store.intake import ALL_TARGETS
from planner.store.verdicts import current_assessment
from tests.site_campus import person, whole_campus

pytestmark = pytest.mark.django_db

CAMPUS = Path(__file__).resolve().parents[2] / "fixtures" / "campus.xlsx"


@pytest.fixture
def campus() -> None:
    take_in(CAMPUS.read_bytes(), "campus.xlsx", ALL_TARGETS, None)
    assess_campus(by=None)


def verdict(segment: str) -> str:
    return Segment.objects.get(assessment=current_assessment(), key=segment).verdict


def sheet_rows(book: openpyxl.Workbook, title: str) -> list[dict[Any, Any]]:
    rows = list(book[title].iter_rows(values_only=True))
    return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]


def put(book: openpyxl.Workbook, title: str, key: str, heading: str, value: object) -> None:
    """Write one answer where a surveyor would."""
    page = book[title]
    headings = [cell.value for cell in page[1]]
    row = next(row for row in page.iter_rows(min_row=2) if row[0].value == key)
    row[headings.index(heading)].value = value


def saved(book: openpyxl.Workbook) -> bytes:
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.mark.usefixtures("campus")
def test_a_survey_that_comes_back_as_it_went_changes_nothing() -> None:
    result = take_in(survey_workbook(make_survey()), "survey.xlsx", ALL_TARGETS, None)
    assert not [problem for problem in result.problems if problem.code == "unknown-sheet"]
    assert {(one.new, one.changed) for one in result.counts.values()} == {(0, 0)}


@pytest.mark.usefixtures("campus")
def test_one_answer_filled_in_settles_its_segment() -> None:
    asked = next(one for one in make_survey().asked if one.question.startswith("Cable of run "))
    (segment,), ((_, run),) = asked.segments, asked.rows
    assert verdict(segment) == "survey first"
    book = openpyxl.load_workbook(BytesIO(survey_workbook(make_survey())))
    assert asked.question in {row["Question"] for row in sheet_rows(book, "Survey")}
    put(book, "Runs", run, "Cable", "2x2x18")
    result = take_in(saved(book), "survey.xlsx", ALL_TARGETS, None)
    assert result.counts["runs"].changed == 1
    assert Run.objects.get(key=run).cable.key == "2x2x18"
    assess_campus(by=None)
    assert verdict(segment) in ("in place", "together")
    assert asked.question not in {one.question for one in make_survey().asked}


@pytest.mark.usefixtures("campus")
def test_the_workbook_holds_just_the_rows_asked_about() -> None:
    survey = make_survey()
    book = openpyxl.load_workbook(BytesIO(survey_workbook(survey)))
    for code, title, key in (("nodes", "Nodes", "Node"), ("runs", "Runs", "Run")):
        assert {row[key] for row in sheet_rows(book, title)} == {
            k for one in survey.asked for c, k in one.rows if c == code
        }
    assert 0 < len(sheet_rows(book, "Nodes")) < Node.objects.count() / 5
    assert "Methods" not in book.sheetnames
    ranks = [row["Rank"] for row in sheet_rows(book, "Survey")]
    assert sorted(ranks) == list(range(1, len(survey.asked) + 1))


@pytest.mark.usefixtures("campus")
def test_the_survey_of_one_building_asks_only_there() -> None:
    whole = make_survey()
    building = whole.buildings[0]
    one = make_survey(building)
    assert {asked.spot.building for asked in one.asked} == {building}
    assert 0 < len(one.asked) < len(whole.asked)


def ran(*words: str, command: str = "survey") -> tuple[int, str]:
    written = StringIO()
    try:
        call_command(command, *words, stdout=written)
    except SystemExit as left:
        return int(left.code or 0), written.getvalue()
    except CommandError as refused:
        return refused.returncode, str(refused)
    return 0, written.getvalue()


@pytest.mark.usefixtures("campus")
def test_the_command_writes_the_workbook_and_says_what_comes_next(tmp_path: Path) -> None:
    path = tmp_path / "survey.xlsx"
    code, text = ran("--to", str(path))
    assert code == 0
    assert f"manage.py intake {path}" in text
    assert "Survey" in openpyxl.load_workbook(path).sheetnames
    data = json.loads(ran("--json", "-")[1])
    assert data["questions"][0]["rank"] == 1
    assert data["questions"][0]["rows"]
    assert data["stations"] == max(one["settled"] for one in data["questions"])


@pytest.mark.usefixtures("campus")
def test_the_command_that_judges_counts_the_questions_that_the_survey_asks() -> None:
    code, text = ran(command="assess")
    assert code == 0
    assert f"{len(make_survey().asked)} questions for a survey" in text


def test_the_command_says_what_is_missing(tmp_path: Path) -> None:
    assert ran("--to", str(tmp_path / "s.xlsx")) == (1, "The campus has not been assessed yet: manage.py assess\n")
    assert not list(tmp_path.iterdir())
    code, text = ran("--building", "B99")
    assert (code, text) == (2, "There is no building B99. Name one as on the sheet Buildings.")


@pytest.fixture
def reader() -> Client:
    client = Client()
    client.force_login(whole_campus()["reader"])
    return client


def test_the_page_shows_the_walk_and_hands_out_the_workbook(reader: Client) -> None:
    text = reader.get(reverse("survey")).content.decode()
    assert "Which bus is the node B2-X1 on?" in text
    assert reverse("survey") in reader.get(reverse("campus")).content.decode()
    assert reverse("survey") in reader.get(reverse("segments")).content.decode()
    answer = reader.get(reverse("survey-workbook"), {"building": "B1"})
    assert answer["Content-Disposition"].startswith('attachment; filename="survey-')
    assert openpyxl.load_workbook(BytesIO(answer.content)).sheetnames[0] == "Survey"
    assert reader.get(reverse("survey"), {"building": "no such"}).status_code == 404


def test_the_sheets_to_print_open_with_the_cautions_and_leave_room_to_sign(reader: Client) -> None:
    text = reader.get(reverse("survey-sheets")).content.decode()
    assert "Which bus is the node B2-X1 on?" in text
    assert text.index("Isolate and prove dead") < text.index("Which bus is the node B2-X1 on?")
    assert "Surveyed by" in text
    assert reverse("survey-sheets") in reader.get(reverse("survey")).content.decode()
    assert "Nothing to ask in B3" in reader.get(reverse("survey-sheets"), {"building": "B3"}).content.decode()
    assert reader.get(reverse("survey-sheets"), {"building": "no such"}).status_code == 404


@pytest.mark.usefixtures("campus")
def test_a_fact_that_cannot_change_a_verdict_is_on_no_sheet_and_the_segment_says_why() -> None:
    before = make_survey()
    lengths = [one for one in before.asked if one.question.startswith("Length of run ")]
    run = Run.objects.get(key=lengths[0].rows[0][1])
    segment = run.bus.key
    flat = Cable.objects.get(key="Flat 4")  # 62 ohm
    flat.screened = True
    flat.save()
    Run.objects.filter(pk=run.pk).update(cable=flat)
    assess_campus(by=None)
    assert verdict(segment) == "new cable"
    assert lengths[0].question not in {one.question for one in make_survey().asked}
    why = Segment.objects.get(assessment=current_assessment(), key=segment).report["why"]
    said, needless = why.split(" Not known, and no answer would make it convertible: ")
    assert said == "Flat 4 has 62 ohm, 95 to 140 ohm fit."
    assert lengths[0].question.removesuffix("?") in needless


def test_a_campus_that_was_never_assessed_has_nothing_to_ask() -> None:
    client = Client()
    client.force_login(person("super", is_superuser=True))
    assert b"not been assessed yet" in client.get(reverse("survey")).content


# --- ways out, kept with the verdicts ---


@pytest.mark.usefixtures("campus")
def test_assessing_keeps_a_priced_way_out_with_each_segment_that_needs_one() -> None:
    for segment in Segment.objects.filter(assessment=current_assessment()):
        way = segment.report["way_out"]
        assert (way is not None) == (segment.verdict not in ("in place", "together", "leave")), segment.key
        if way is not None and not way["questions_first"]:
            assert way["price"] is not None, segment.key
            assert way["currency"] == "EUR"
            assert {"changes", "leaves_close", "limited"} <= way.keys()


@pytest.mark.usefixtures("campus")
def test_a_campus_with_too_many_is_looked_at_one_by_one_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    before = {one.key: one.report["way_out"] for one in Segment.objects.filter(assessment=current_assessment())}
    monkeypatch.setattr(ways_out, "MOST_AT_ONCE", 3)
    assess_campus(by=None)
    key = next(key for key, way in before.items() if way is not None and way["passes"])
    row = Segment.objects.get(assessment=current_assessment(), key=key)
    assert row.report["way_out"] is None
    client = Client()
    client.force_login(person("super", is_superuser=True))
    page = client.get(reverse("segment", args=[key])).content.decode()
    assert reverse("way-out", args=[key]) in page
    assert client.post(reverse("way-out", args=[key])).status_code == 302
    ways_out.do(Job.objects.get(kind="way out"), silent)
    row.refresh_from_db()
    assert row.report["way_out"] == before[key]
    assert "Cheapest way out" in client.get(reverse("segment", args=[key])).content.decode()


@pytest.mark.usefixtures("campus")
def test_a_segment_that_is_gone_is_refused_in_words() -> None:
    with pytest.raises(ways_out.NoSuchSegment, match="no segment GONE any more"):
        ways_out.do(Job(kind="way out", demand={"segment": "GONE"}), silent)
