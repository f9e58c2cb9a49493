"""Converted against plan over time: each staircase climbs where its nights are, and what it shows is said in words."""

import re
from datetime import date
from xml.etree import ElementTree as ET

import pytest

from planner.handover.headway_chart import HEAD, LEFT, PLOT_HEIGHT, WIDTH, headway_drawing, spoken
from planner.handover.lettering import PHONE_W, width_of

PLANNED = [date(2027, 1, 1), date(2027, 1, 1), date(2027, 2, 1), date(2027, 12, 31)]
DONE = PLANNED[:2]
TODAY = date(2027, 2, 15)


def stairs(number: int, *, done: list[date] | None = None, today: date = TODAY) -> list[tuple[float, float]]:
    """Return the corners of the planned (0) or the done (1) line as (days from New Year's Day, stations)."""
    drawn = ET.fromstring(headway_drawing(PLANNED, DONE if done is None else done, today))  # noqa: S314 - our own
    path = [one.attrib["d"] for one in drawn.iter() if one.attrib.get("d", "").count("H") > 0][1:][number]
    x, y = (float(one) for one in re.match(r"M([\d.]+) ([\d.]+)", path).groups())  # type: ignore[union-attr]
    corners = [(x, y)]
    for axis, value in re.findall(r"([HV])([\d.]+)", path):
        x, y = (float(value), y) if axis == "H" else (x, float(value))
        corners.append((x, y))
    return [((x - LEFT) / WIDTH * 365, (HEAD + PLOT_HEIGHT - y) / PLOT_HEIGHT * len(PLANNED)) for x, y in corners]


def near(found: list[tuple[float, float]], wanted: list[tuple[float, float]]) -> bool:
    pairs = zip(found, wanted, strict=True)
    return all(abs(x - days) < 0.2 and abs(y - count) < 0.01 for (x, y), (days, count) in pairs)


def test_the_planned_line_climbs_on_its_nights_and_goes_on_to_the_end() -> None:
    assert near(stairs(0), [(0, 0), (0, 0), (0, 2), (31, 2), (31, 3), (364, 3), (364, 4), (365, 4)])


def test_the_done_line_ends_today() -> None:
    assert near(stairs(1), [(0, 0), (0, 0), (0, 2), (45, 2)])
    assert near(stairs(1, done=[]), [(0, 0), (45, 0)])


def test_it_is_said_in_words_how_it_stands() -> None:
    said = spoken(PLANNED, DONE, TODAY).replace("\N{NO-BREAK SPACE}", " ")
    assert said == (
        "Converted against plan: 2 of 4 stations are converted; 3 were dated to 15 Feb 2027; the last is dated 31 Dec 2027"
    )


@pytest.mark.parametrize("months", range(1, 40))
def test_no_name_of_a_month_stands_on_another_or_past_the_edge_of_a_phone(months: int) -> None:
    last = date(2027 + (months - 1) // 12, (months - 1) % 12 + 1, 15)
    drawn = ET.fromstring(headway_drawing([date(2027, 1, 10), last], [], date(2027, 1, 1)))  # noqa: S314 - our own
    named = [(float(one.attrib["x"]), one.text or "") for one in drawn.iter("text") if "text-anchor" not in one.attrib]
    assert float(drawn.attrib["width"]) <= PHONE_W
    assert named
    ends = [x + width_of(name, 11) for x, name in named]
    assert ends[-1] <= PHONE_W
    assert all(end <= x for end, (x, _) in zip(ends, named[1:], strict=False))
