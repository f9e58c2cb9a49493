"""The survey on paper: which sheet a question stands on, what to look at, and where its run goes."""

from typing import Any

import pytest

from planner.core.brief import Brief
from planner.core.doubting.ranges import RANGES
from planner.core.survey_sheets import ANY_LOOK, look_at, pages
from planner.core.surveys import Asked, Register, Spot, ranked_questions, register_of, walk
from planner.core.verdicts import assess
from tests.campuses import random_campus
from tests.unit.planner.test_surveys import register


def asked(question: str, rank: int, rows: tuple[tuple[str, str], ...], spot: Spot) -> Asked:
    return Asked(rank=rank, question=question, segments=("L1",), stations=1, settled=1, spot=spot, rows=rows)


HERE, THERE = Spot("B1", "1", "1.07"), Spot("B1", "2", "2.01")
HOUSE: Register = register(
    spots={"S1": HERE, "G": THERE}, run_ends={"R7": ("S1", "G")}, models={"S1": "WS-20", "G": "GW-2"}
)
QUESTIONS = (
    asked("Length of run R7 (Bus L1)?", 1, (("runs", "R7"),), HERE),
    asked("Zones used at S1?", 3, (("nodes", "S1"),), HERE),
    asked("Gateway of L1?", 4, (("nodes", "G"),), THERE),
    asked("Draw of model WS-70?", 2, (("models", "WS-70"),), HERE),
)


def sheets() -> list[tuple[str, str, list[tuple[str, list[int]]]]]:
    return [
        (page.building, page.floor, [(room, [line.asked.rank for line in lines]) for room, lines in page.rooms])
        for page in pages(walk(QUESTIONS), HOUSE)
    ]


def test_each_floor_has_a_sheet_of_its_own_and_the_desk_comes_first() -> None:
    assert sheets() == [("", "", [("", [2])]), ("B1", "1", [("1.07", [1, 3])]), ("B1", "2", [("2.01", [4])])]
    first, *others = pages(walk(QUESTIONS), HOUSE)
    assert first.at_desk
    assert not any(page.at_desk for page in others)
    assert [page.count for page in (first, *others)] == [1, 2, 1]


def test_a_run_is_shown_with_its_ends_and_the_room_of_the_one_that_is_elsewhere() -> None:
    line = pages(walk(QUESTIONS), HOUSE)[1].rooms[0][1][0]
    assert line.between == "between G in 2.01 and S1"
    assert line.look.answer == "m"


@pytest.mark.parametrize("row", RANGES, ids=lambda row: row.asked)
def test_every_fact_with_a_range_says_what_to_look_at(row: Any) -> None:
    look = look_at(f"{row.asked.format('X-1')}?")
    assert look is not ANY_LOOK
    assert look.where.endswith(".")


def test_every_question_of_a_muddled_campus_says_what_to_look_at_and_stands_on_one_sheet() -> None:
    snapshot = random_campus(7, 300, rogue=True)
    house = register_of(snapshot)
    found = ranked_questions(house, assess(snapshot, Brief()))
    lines = [line for page in pages(walk(found), house) for _, lines in page.rooms for line in lines]
    assert sorted(line.asked.rank for line in lines) == list(range(1, len(found) + 1))
    assert not [line.asked.question for line in lines if line.look is ANY_LOOK]
