"""Surveys: the order of questions worked by hand, where they are asked, and on which rows the answers go."""

from typing import Any

import pytest

from planner.core.brief import Brief
from planner.core.findings import SegmentReport, Verdict
from planner.core.surveys import Asked, Register, Spot, open_questions, ranked_questions, register_of, walk
from planner.core.verdicts import assess
from tests.campuses import hand_campus, random_campus

NOTHING: dict[str, frozenset[str]] = dict.fromkeys(
    ("models", "cables", "buses", "runs", "methods", "protocols"), frozenset()
)


def waiting(segment: str, stations: int, *questions: str, **facts: Any) -> SegmentReport:
    """Return the report of a segment that waits for answers."""
    return SegmentReport(
        segment=segment,
        building="B1",
        buses=(segment,),
        verdict=Verdict.SURVEY_FIRST,
        why="",
        decided_by=None,
        old_stations=tuple(f"{segment}-S{number}" for number in range(stations)),
        gateways=(),
        others=(),
        nodes=facts.get("nodes", ()),
        runs=facts.get("runs", ()),
        questions=questions,
    )


def register(**facts: Any) -> Register:
    names = NOTHING | facts.get("names", {})
    return Register(
        spots=facts.get("spots", {}), models=facts.get("models", {}), run_ends=facts.get("run_ends", {}), names=names
    )


def ranked(*reports: SegmentReport, **facts: Any) -> tuple[Asked, ...]:
    return ranked_questions(register(**facts), reports)


# L1: 6 stations, two questions: 3 a question. L2: 4 stations, one: 4 a question. L3: 5 stations, two, one of them L2's.
# First L2's (4 settled). Then L3 has one left: 5 a question, more than L1's 3 (9 settled). Then L1's two (9, then 15).
def test_the_answers_that_settle_the_most_stations_come_first() -> None:
    found = ranked(waiting("L1", 6, "a?", "b?"), waiting("L2", 4, "c?"), waiting("L3", 5, "c?", "d?"))
    assert [(one.rank, one.question, one.stations, one.settled) for one in found] == [
        (1, "c?", 9, 4),
        (2, "d?", 5, 9),
        (3, "a?", 6, 9),
        (4, "b?", 6, 15),
    ]
    assert found[0].segments == ("L2", "L3")


def test_of_one_segment_the_question_that_others_ask_too_comes_first() -> None:
    found = ranked(waiting("L1", 9, "a?", "z?"), waiting("L2", 1, "y?", "z?", "x?"))
    assert [one.question for one in found][:2] == ["z?", "a?"]


@pytest.mark.parametrize("words", ["Whether segment L2 can convert", "Can segment L2 convert"])
def test_a_segment_that_waits_for_another_asks_what_that_one_asks(words: str) -> None:
    found = ranked(waiting("L1", 3, f"{words} in the same outage?"), waiting("L2", 1, "a?"))
    assert [(one.question, one.segments, one.settled) for one in found] == [("a?", ("L1", "L2"), 4)]


def test_segments_that_wait_for_each_other_ask_once() -> None:
    found = ranked(
        waiting("L1", 1, "Can segment L2 convert in the same outage?", "a?"),
        waiting("L2", 1, "Can segment L1 convert in the same outage?", "b?"),
    )
    assert sorted(one.question for one in found) == ["a?", "b?"]


def test_what_asks_nothing_plays_no_part() -> None:
    assert ranked(waiting("L1", 3)) == ()


ROOMS = {"S1": Spot("B1", "1", "1.07"), "S2": Spot("B1", "1", "1.10")}
HOUSE: dict[str, Any] = {
    "spots": ROOMS,
    "models": {"S1": "WS-20", "S2": "WS-20", "S12": "WS-21"},
    "run_ends": {"R 7": ("S2", "G"), "R 7b": ("S1",)},
    "names": {
        "runs": frozenset({"R 7", "R 7b"}), "models": frozenset({"WS-20", "WS-2"}), "cables": frozenset({"2x2"}),
        "buses": frozenset({"L1"}), "methods": frozenset({"M-20"}), "protocols": frozenset({"PAIRBUS"}),
    },
}  # fmt: skip
SEGMENT: dict[str, Any] = {"nodes": ("S1", "S12", "S2"), "runs": ("R 7", "R 7b")}


@pytest.mark.parametrize(
    ("question", "rows"),
    [
        ("Length of run R 7 (Bus L1)?", (("runs", "R 7"),)),
        ("Cable of run R 7b (Bus L1)?", (("runs", "R 7b"),)),
        ("Zones used at S12?", (("nodes", "S12"),)),
        ("Box gangs at S1?", (("nodes", "S1"),)),
        ("Draw of model WS-20?", (("models", "WS-20"),)),
        ("Power pairs of cable 2x2?", (("cables", "2x2"),)),
        ("Patch lead of method M-20?", (("methods", "M-20"),)),
        ("Longest bus of protocol PAIRBUS?", (("nodes", "S1"), ("nodes", "S12"), ("nodes", "S2"), ("runs", "R 7"), ("runs", "R 7b"))),
        ("Protocol of segment L1?", (("buses", "L1"),)),
        ("Protocol of Bus L1?", (("buses", "L1"),)),
        ("Protocol of S1?", (("models", "WS-20"), ("nodes", "S1"))),
        ("Does run R 7 (Bus L1) really end at S1, which names Bus L2?", (("nodes", "S1"), ("runs", "R 7"))),
        ("Gateway of L9?", (("nodes", "S1"), ("nodes", "S12"), ("nodes", "S2"), ("runs", "R 7"), ("runs", "R 7b"))),
    ],
)  # fmt: skip
def test_a_question_names_the_rows_that_its_answer_goes_on(question: str, rows: Any) -> None:
    (found,) = ranked(waiting("L1", 1, question, **SEGMENT), **HOUSE)
    assert found.rows == rows


def test_a_question_about_a_node_is_asked_in_its_room_and_about_a_run_where_it_ends() -> None:
    spots = {
        question: ranked(waiting("L1", 1, question, **SEGMENT), **HOUSE)[0].spot
        for question in ("Zones used at S2?", "Length of run R 7 (Bus L1)?", "Length of run R 7b (Bus L1)?")
    }
    assert list(spots.values()) == [ROOMS["S2"], ROOMS["S2"], ROOMS["S1"]]


def test_where_no_room_is_known_the_building_is_said() -> None:
    assert ranked(waiting("L1", 1, "a?"))[0].spot == Spot("B1")


def test_the_walk_goes_by_building_floor_and_room_as_people_count() -> None:
    spots = [("B2", "0", "0.01"), ("B1", "10", "10.02"), ("B1", "2", "2.10"), ("B1", "2", "2.9"), ("B1", "", "")]
    reports = [waiting(f"L{n}", 1, f"q{n}?", nodes=(f"N{n}",)) for n in range(len(spots))]
    found = ranked(*reports, spots={f"N{n}": Spot(*spot) for n, spot in enumerate(spots)})
    stops = [(stop.spot.building, stop.spot.floor, stop.spot.room) for stop in walk(found)]
    assert stops == [
        ("B1", "2", "2.9"),
        ("B1", "2", "2.10"),
        ("B1", "10", "10.02"),
        ("B1", "", ""),
        ("B2", "0", "0.01"),
    ]
    assert [stop.spot.building for stop in walk(found, "B2")] == ["B2"]


def test_every_question_of_a_campus_is_asked_once_and_all_together_settle_all_that_wait() -> None:
    for snapshot in (hand_campus(), random_campus(7, 300, rogue=True)):
        reports = assess(snapshot, Brief())
        asked = ranked_questions(register_of(snapshot), reports)
        assert len({one.question for one in asked}) == len(asked)
        assert {one.question for one in asked} == open_questions(reports)
        waits = [report for report in reports if report.questions]
        assert asked[-1].settled == sum(len(report.old_stations) for report in waits)
        assert all(one.rows for one in asked)
        assert [one.settled for one in asked] == sorted(one.settled for one in asked)
