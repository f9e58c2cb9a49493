"""The commands: what they answer to people and to machines, and with which exit code."""

import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.core.management import CommandError, ManagementUtility, call_command, get_commands, load_command_class

from inventory.models import Intake, Node
from planner.core.findings import Verdict
from planner.management.answers import AnsweringCommand
from planner.models import Plan
from planner.models.briefs import FIRST_BRIEF, Brief
from tests.moments import PLANNING_DAY, planning_day

ROOT = Path(__file__).resolve().parents[2]
CAMPUS = str(ROOT / "fixtures" / "campus.xlsx")
GOOD, PROBLEMS, WRONG_USE = 0, 1, 2
SEGMENT_KEYS = {
    "segment", "building", "buses", "verdict", "old_stations", "gateways", "others", "extras", "questions", "findings",
}  # fmt: skip
FINDING_KEYS = {"rule", "outcome", "measured", "limit", "unit", "margin", "why", "source"}
ORDER_KEYS = {"order", "building", "segments", "rooms", "crew", "start", "end", "phase", "cost", "reason"}

pytestmark = pytest.mark.django_db


@pytest.fixture
def campus() -> Iterator[None]:
    """Take the demo campus in, on a day before its phases: by the clock of the machine they will be over one day."""
    with planning_day():
        ran("intake", CAMPUS)
        yield


def ran(*words: str) -> tuple[int, str]:
    """Run a command as the shell would, and return its exit code and what it wrote."""
    written = StringIO()
    try:
        call_command(*words, stdout=written, stderr=written)
    except SystemExit as left:
        return int(left.code or 0), written.getvalue()
    except CommandError as refused:
        return refused.returncode, str(refused)
    return GOOD, written.getvalue()


def answered(*words: str) -> dict[str, Any]:
    """Run a command with --json - and return what it answered."""
    code, text = ran(*words, "--json", "-")
    assert code == GOOD, text
    found: dict[str, Any] = json.loads(text)
    return found


def broken_copy(folder: Path, sheet: str, cell: str, value: object) -> str:
    """Write a copy of the demo workbook in which one cell is wrong."""
    book = openpyxl.load_workbook(CAMPUS)
    book[sheet][cell] = value
    path = folder / "broken.xlsx"
    book.save(path)
    return str(path)


def test_intake_counts_what_is_new_and_the_second_time_nothing_changes() -> None:
    first = answered("intake", CAMPUS)
    assert first["stored"]
    assert first["counts"]["Nodes"]["new"] == Node.objects.count() > 500
    second = answered("intake", CAMPUS)
    assert all(one["new"] == one["changed"] == 0 for one in second["counts"].values())


def test_intake_with_check_stores_nothing() -> None:
    seen = answered("intake", CAMPUS, "--check")
    assert seen["counts"]["Nodes"]["new"] > 500
    assert not seen["stored"]
    assert not Node.objects.exists()
    assert not Intake.objects.exists()


@pytest.mark.parametrize("check", [(), ("--check",)])
def test_intake_of_a_broken_cell_names_its_place_and_stores_nothing(tmp_path: Path, check: tuple[str, ...]) -> None:
    path = broken_copy(tmp_path, "Runs", "F2", "far")
    code, text = ran("intake", path, *check, "--json", "-")
    (problem,) = [one for one in json.loads(text)["problems"] if one["severity"] == "error"]
    assert code == PROBLEMS
    assert (problem["sheet"], problem["row"], problem["value"]) == ("Runs", 2, "far")
    assert problem["column"] == "Length (m)"
    assert problem["message"]
    assert problem["remedy"]
    assert not Node.objects.exists()


def test_intake_of_an_unreadable_calendar_names_file_and_line_and_stores_nothing(tmp_path: Path) -> None:
    (tmp_path / "B01.ics").write_bytes(b"BEGIN:VCALENDAR\r\nthis is no calendar\r\nEND:VCALENDAR\r\n")
    code, text = ran("intake", CAMPUS, "--calendars", str(tmp_path))
    assert code == PROBLEMS
    assert "B01.ics, line 2" in text
    assert not Node.objects.exists()


@pytest.mark.parametrize(
    "words",
    [
        ("intake", "nowhere.xlsx"),
        ("intake", str(ROOT)),
        ("plan", "--seconds", "0"),
        ("plan", "--brief", "Nobody's"),
        ("handover", "--to", "out"),
        ("handover", "--to", "out", "--plan", "77"),
        ("blank", "/dev/null/campus.xlsx"),
    ],
)
def test_wrong_use_ends_with_2_and_says_what_is_wrong(words: tuple[str, ...]) -> None:
    code, text = ran(*words)
    assert code == WRONG_USE
    assert text.strip()


@pytest.mark.parametrize("words", [("intake",), ("assess", "--nonsense"), ("plan", "--seconds", "soon")])
def test_words_that_the_command_does_not_know_end_with_2(words: tuple[str, ...]) -> None:
    with pytest.raises(SystemExit) as left:
        ManagementUtility(["manage.py", *words]).execute()
    assert left.value.code == WRONG_USE


def test_a_file_that_is_no_workbook_is_a_problem_not_a_traceback(tmp_path: Path) -> None:
    path = tmp_path / "notes.xlsx"
    path.write_bytes(b"not a workbook at all")
    code, text = ran("intake", str(path))
    assert code == PROBLEMS
    assert "nothing was stored" in text


def test_assess_answers_every_segment_with_all_findings(campus: None) -> None:
    answer = answered("assess")
    assert sum(answer["counts"].values()) == len(answer["segments"])
    assert {verdict.value for verdict in Verdict} == set(answer["counts"])
    assert all(answer["counts"].values()), "the demo campus has every verdict"
    for segment in answer["segments"]:
        assert segment.keys() >= SEGMENT_KEYS
        assert all(finding.keys() >= FINDING_KEYS for finding in segment["findings"])


def test_assess_of_an_empty_campus_says_what_to_do() -> None:
    code, text = ran("assess")
    assert code == PROBLEMS
    assert "intake" in text


def test_plan_dates_orders_passes_its_check_and_gives_a_reason_for_every_other(campus: None) -> None:
    answer = answered("plan", "--seconds", "2")
    assert answer["objective"] >= answer["bound"]
    assert answer["objective"] <= answer["list_objective"]
    assert answer["check"]
    assert all(line["holds"] for line in answer["check"])
    for order in answer["orders"]:
        assert order.keys() >= ORDER_KEYS
        assert (order["start"] is None) == (order["reason"] is not None)
    assert any(order["start"] for order in answer["orders"])
    assert all(order["start"] is None or order["start"] > PLANNING_DAY.isoformat() for order in answer["orders"])


def test_plan_by_an_impossible_brief_says_which_demands_clash(campus: None) -> None:
    brief = Brief.objects.get(name=FIRST_BRIEF)
    brief.settings.update_or_create(setting="Longest outage", defaults={"value": "1"})
    code, text = ran("plan", "--seconds", "2")
    assert "min" in text
    assert code in {GOOD, PROBLEMS}
    assert not Plan.objects.filter(orders__start__isnull=False).exists()


def test_handover_writes_a_workbook_and_a_calendar_for_each_building_and_crew(campus: None, tmp_path: Path) -> None:
    ran("plan", "--seconds", "1")
    answer = answered("handover", "--to", str(tmp_path))
    names = {one["name"] for one in answer["files"]}
    assert names == {path.name for path in tmp_path.iterdir()}
    assert sum(name.endswith(".xlsx") for name in names) == 1
    assert any(name.startswith("building-") for name in names)
    assert any(name.startswith("crew-") for name in names)


def test_the_filled_workbook_takes_in_again_without_a_change(campus: None, tmp_path: Path) -> None:
    path = str(tmp_path / "filled.xlsx")
    ran("blank", path, "--filled")
    again = answered("intake", path)
    assert sum(one["unchanged"] for one in again["counts"].values()) > 1000
    other = {title: one for title, one in again["counts"].items() if one["new"] or one["changed"] or one["absent"]}
    assert other == {}


def test_the_blank_workbook_takes_in_and_changes_nothing(tmp_path: Path) -> None:
    path = str(tmp_path / "blank.xlsx")
    ran("blank", path)
    assert sum(one["new"] for one in answered("intake", path)["counts"].values()) == 0


@pytest.mark.parametrize("command", ["intake", "assess", "plan", "handover", "blank", "demo", "serve"])
def test_help_says_what_the_command_does_and_its_exit_codes(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(command, "--help")[0] == GOOD
    text = capsys.readouterr().out
    assert "Exit code: 0 good, 1 problems found, 2 wrong use." in text
    assert "manage.py " + command in text


@pytest.fixture
def someone_elses_campus(campus: None) -> Callable[[], bool]:
    Intake.objects.update(sha256="0" * 64)  # the name is the demo's, as the README would have it; the content is not
    return Intake.objects.filter(sha256="0" * 64).exists


def test_the_demo_never_touches_a_campus_of_ones_own(someone_elses_campus: Callable[[], bool]) -> None:
    code, text = ran("demo", "--no-serve")
    assert code == WRONG_USE
    assert "CHANGEOVER_HOME" in text
    assert someone_elses_campus()


def test_the_demo_says_that_its_port_is_taken_before_it_does_anything() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        code, text = ran("demo", "--port", str(other.getsockname()[1]))
    assert code == WRONG_USE
    assert "--port" in text
    assert not Intake.objects.exists()


def test_a_plan_of_nothing_is_a_problem_that_says_what_to_do() -> None:
    code, text = ran("plan", "--seconds", "1")
    assert code == PROBLEMS
    assert "manage.py intake" in text


def test_help_shows_only_what_the_command_is_about(capsys: pytest.CaptureFixture[str]) -> None:
    ran("plan", "--help")
    text = capsys.readouterr().out
    assert "--seconds" in text
    assert "--pythonpath" not in text


MAKE_IT_THEMSELVES = {"demo", "serve"}  # tests/integration/test_serve.py begins with them
LOOK_FIRST = sorted({name for name, app in get_commands().items() if app == "planner"} - MAKE_IT_THEMSELVES)


@pytest.mark.parametrize("name", LOOK_FIRST)
def test_every_other_command_looks_first_whether_there_is_a_database(name: str) -> None:
    command = load_command_class("planner", name)
    assert command.requires_migrations_checks
    assert type(command).check_migrations is AnsweringCommand.check_migrations


@pytest.mark.on_any_database
def test_the_first_command_of_all_makes_the_embedded_database(tmp_path: Path) -> None:
    names = ("DATABASE_URL", "BROKER_URL")
    environment = {name: value for name, value in os.environ.items() if name not in names}
    environment["CHANGEOVER_HOME"] = str(tmp_path / "home")
    manage = [sys.executable, str(ROOT / "manage.py"), "blank", "campus.xlsx", "--filled"]
    ended = subprocess.run(manage, env=environment, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert "Traceback" not in ended.stderr
    assert (tmp_path / "home" / "campus.sqlite3").exists()
