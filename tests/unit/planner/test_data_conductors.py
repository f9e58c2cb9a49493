"""A data conductor that nobody recorded is one question for the campus, put down on the row of its cable."""

from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Verdict
from planner.core.surveys import ranked_questions, register_of
from planner.core.verdicts import assess
from tests.campuses import Draft, add_line, add_station
from tests.unit.planner.lines import line, report, with_cable, with_row


def several(conductor: str | None) -> Draft:
    """Three lines of 40 m on a bus whose lengths hold from 0.5 mm2 on."""
    draft = with_row(line(), data_conductor="0.5 mm2")
    for name in ("L2", "L3"):
        add_station(draft, name, f"B1-S10{name[1]}", add_line(draft, name))
    return with_cable(draft, "2x2 18AWG", data_conductor=conductor)


def test_what_is_known_to_be_thick_or_short_enough_converts() -> None:
    for conductor in ("18 AWG", "0.05 mm2"):  # 40 m at 0.05 mm2 count for 400 m at 0.5 mm2
        assert report(several(conductor)).verdict in CONVERTIBLE
    assert report(several("0.03 mm2")).verdict is Verdict.SURVEY_FIRST


def test_what_nobody_recorded_is_one_question_for_three_lines() -> None:
    draft = several(None)
    reports = assess(draft.snapshot(), Brief())
    waiting = [one for one in reports if one.old_stations]
    assert {one.verdict for one in waiting} == {Verdict.SURVEY_FIRST}
    assert {question for one in waiting for question in one.questions} == {"Data conductor of cable 2x2 18AWG?"}
    asked = ranked_questions(register_of(draft.snapshot()), reports)
    assert [(one.question, one.stations, one.rows) for one in asked] == [
        ("Data conductor of cable 2x2 18AWG?", 3, (("cables", "2x2 18AWG"),))
    ]


def test_a_bus_whose_lengths_hold_for_any_conductor_asks_for_none() -> None:
    draft = with_cable(line(), "2x2 18AWG", data_conductor=None)
    assert report(draft).verdict in CONVERTIBLE
