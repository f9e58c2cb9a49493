"""The drawing of how sure a plan is: every figure is said in words, and stands where its date belongs."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

from planner.core.outlook import PhaseOutlook
from planner.handover.sure_chart import phases_drawing

DAY = datetime(2027, 3, 8, 2, tzinfo=UTC)
PHASE = PhaseOutlook(
    phase="Spring <1>", orders=3, closes=date(2027, 3, 12), planned=DAY, p10=DAY, p50=DAY + timedelta(days=1),
    p80=DAY + timedelta(days=3), p90=DAY + timedelta(days=4), spills=0.0,
)  # fmt: skip
NEVER = replace(PHASE, phase="Autumn", p50=None, p80=None, p90=None, spills=0.7)


def drawn(*phases: PhaseOutlook) -> ET.Element:
    return ET.fromstring(phases_drawing(phases, UTC))  # noqa: S314 - our own


def test_the_drawing_says_in_words_what_it_shows() -> None:
    said = drawn(PHASE, NEVER).attrib["aria-label"].replace("\N{NO-BREAK SPACE}", " ")
    assert "Spring <1>: planned to 8 Mar 2027, half done by 9 Mar 2027, four in five by 11 Mar 2027" in said
    assert "Autumn: planned to 8 Mar 2027, not done in half of the courses" in said


def test_the_bar_goes_from_half_to_four_fifths_by_the_scale_of_the_days() -> None:
    text = phases_drawing([PHASE], UTC)
    bar = drawn(PHASE).find(".//rect")
    assert bar is not None
    low, high = re.search(r'class="axis" d="M([\d.]+) \d+H([\d.]+)"', text).groups()  # type: ignore[union-attr]
    a_day = (float(high) - float(low)) / 4  # the thin line is four days long
    assert abs(float(bar.attrib["x"]) - float(low) - a_day) < 0.3
    assert abs(float(bar.attrib["width"]) - 2 * a_day) < 0.3


def test_a_phase_that_spills_is_marked_and_one_that_does_not_is_not() -> None:
    assert "tone-bad" in phases_drawing([NEVER], UTC)
    assert "tone-bad" not in phases_drawing([PHASE], UTC)


def test_a_phase_of_one_night_names_no_day_twice() -> None:
    late = DAY + timedelta(hours=20)
    night = replace(PHASE, closes=date(2027, 3, 8), planned=late, p10=late, p50=late, p80=late, p90=late)
    days = [one.text for one in drawn(night).findall("text")[:-1]]
    assert len(set(days)) == len(days) > 0


def test_the_days_are_those_of_the_clock_that_the_plan_is_read_by() -> None:
    late = replace(PHASE, planned=datetime(2027, 7, 7, 23, 30, tzinfo=UTC), closes=date(2027, 7, 12))
    label = ET.fromstring(phases_drawing([late], ZoneInfo("Europe/Lisbon"))).attrib["aria-label"]  # noqa: S314 - our own
    assert "planned to 8 Jul 2027" in label.replace("\N{NO-BREAK SPACE}", " ")
