"""What keeps a workbook out, and that it then leaves no trace."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.contrib.auth.models import User

from inventory.core.problems import errors_in
from inventory.models import Building, Intake, Node, Run, Zone
from inventory.services.intake import IntakeResult, IntakeStopped, take_in
from planner.store.intake import ALL_TARGETS, PLANNER_CHECKS
from tests.books import SMALL, book, small

pytestmark = pytest.mark.django_db


def take(content: bytes, **more: Any) -> IntakeResult:
    return take_in(content, "campus.xlsx", ALL_TARGETS, None, checks=PLANNER_CHECKS, **more)


def refused(content: bytes, code: str, **more: Any) -> IntakeResult:
    before = tuple(_everything())
    result = take(content, **more)
    assert not result.stored
    assert code in {problem.code for problem in errors_in(result.problems)}, result.problems
    assert tuple(_everything()) == before, "a refused file leaves no trace"
    return result


def _everything() -> Iterator[object]:
    for target in ALL_TARGETS.values():
        yield list(target.model._default_manager.order_by("pk").values())
        yield target.model.history.count()  # type: ignore[attr-defined]
    yield Intake.objects.count()


def test_what_is_no_workbook_is_refused() -> None:
    result = take(b"hello")
    assert not result.stored
    assert errors_in(result.problems)


def test_new_rows_without_a_column_they_need_are_refused() -> None:
    take(small())
    result = take(book({"Spares": [("Model", "Store"), ("WS-1", "Shed")]}))
    assert not result.stored
    assert any(problem.column == "On hand" or "On hand" in problem.message for problem in result.problems)


def test_a_rule_of_the_database_broken_in_the_middle_takes_everything_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "inventory.services.intake.check_rows", lambda _rows, _known: ()
    )  # so that the database decides
    runs = [*SMALL["Runs"], ("R2", "L1", "S1", "S1", None, None)]  # both ends at one node: constraint run_two_ends
    result = refused(small(Runs=runs), "refused-by-database")
    assert any("run_two_ends" in problem.message and problem.sheet == "Runs" for problem in result.problems)
    assert Building.objects.count() == 0, "sheets stored before the breach are gone too"


def test_a_reference_that_names_nothing_is_refused_even_if_no_check_saw_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inventory.services.intake.check_rows", lambda _rows, _known: ())
    result = refused(small(Runs=[SMALL["Runs"][0], ("R1", "L1", "G1", "S7", None, 3)]), "unknown-reference")
    assert [(one.row, one.column, one.value) for one in errors_in(result.problems)] == [(2, "To", "S7")]


def test_a_setting_that_cannot_be_used_is_refused_with_its_row() -> None:
    brief = [("Setting", "Value"), ("Longest outage", "240"), ("Reserve", "plenty"), ("Colour", "red")]
    result = refused(book({"Brief": brief}), "setting-value")
    assert {(one.row, one.code) for one in errors_in(result.problems)} == {(3, "setting-value"), (4, "setting-unknown")}


def test_who_stops_an_intake_leaves_no_trace() -> None:
    def until_nodes(doing: str, _done: float | None) -> bool:
        return doing != "storing Nodes"

    with pytest.raises(IntakeStopped):
        take(small(), progress=until_nodes)
    assert Building.objects.count() == 0


def test_ticked_rows_go_with_what_is_part_of_them() -> None:
    take(small())
    person = User.objects.create_user("kim")
    station = Node.objects.get(key="S1")
    fewer = small(
        Nodes=[row for row in SMALL["Nodes"] if row[0] != "S1"],
        Runs=SMALL["Runs"][:1],
        Failures=SMALL["Failures"][:1],
        Zones=None,
    )
    ticked = [("nodes", station.pk), ("runs", None), ("failures", None)]
    result = take_in(fewer, "fewer.xlsx", ALL_TARGETS, person, remove=ticked)
    assert result.stored, result.problems
    assert (result.counts["nodes"].removed, result.counts["runs"].removed) == (1, 1)
    assert (Node.objects.filter(key="S1").count(), Run.objects.count(), Zone.objects.count()) == (0, 0, 0)
    last = Node.history.filter(key="S1").latest("history_id")
    assert (last.history_type, last.history_user) == ("-", person)
    assert Zone.history.latest("history_id").history_type == "-", "zones are part of their node"


def test_a_row_that_others_refer_to_stays_and_the_answer_names_them() -> None:
    take(small())
    content = small(Nodes=[row for row in SMALL["Nodes"] if row[0] != "S1"], Runs=None, Failures=None, Zones=None)
    result = refused(content, "still-referred-to", remove=[("nodes", None)])
    said = " ".join(problem.message for problem in result.problems)
    assert "1 run (R1)" in said
    assert "2 failures (" in said


def test_a_row_that_is_in_the_file_cannot_be_ticked_away() -> None:
    take(small())
    refused(small(), "not-absent", remove=[("nodes", Node.objects.get(key="S1").pk)])
