"""Drawn figures."""

from xml.etree import ElementTree as ET

import pytest

from planner.handover.charts import Figure, bar, columns
from planner.handover.lettering import PHONE_W


def rects(svg: str) -> list[ET.Element]:
    return [element for element in ET.fromstring(svg).iter("rect") if element.get("class") == "fill"]  # noqa: S314 - our own


def test_a_bar_is_as_long_as_its_share() -> None:
    assert rects(bar(5, 10, "good"))[0].get("width") == "100.0"
    assert rects(bar(10, 10, "good"))[0].get("width") == "200.0"


def test_one_among_thousands_is_still_seen_and_none_is_not_drawn() -> None:
    assert float(rects(bar(1, 100_000, "good"))[0].get("width") or 0) >= 2
    assert rects(bar(0, 10, "good")) == []
    assert rects(bar(0, 0, "good")) == []


def test_columns_stand_on_one_foot_and_the_tallest_is_the_greatest() -> None:
    figures = [Figure(label="a", count=count, spoken=f"{count}", address="/x") for count in (2, 4, 0)]
    tall = [float(rect.get("height") or 0) for rect in rects(columns("Ages", figures))]
    assert tall == [60.0, 120.0, 0.0]
    feet = {float(rect.get("y") or 0) + float(rect.get("height") or 0) for rect in rects(columns("Ages", figures))}
    assert len(feet) == 1


def test_eight_ages_fit_a_phone_and_say_their_unit() -> None:
    figures = [Figure(label="25 to\n30", count=214, spoken="x", address="/x")] * 8
    tree = ET.fromstring(columns("Ages", figures, "age in years"))  # noqa: S314 - our own
    assert float(tree.get("width") or 0) <= PHONE_W
    assert [one.text for one in tree.iter("text")][-1] == "age in years"


@pytest.mark.parametrize("words", ['<script>"', "a & b", "'onload='x"])
def test_words_in_a_drawing_are_escaped(words: str) -> None:
    svg = columns(words, [Figure(label=words, count=1, spoken=words, address=f"/?q={words}")])
    tree = ET.fromstring(svg)  # noqa: S314 - our own
    assert tree.get("aria-label") == words
    assert [element.tag for element in tree.iter() if element.tag == "script"] == []


def test_drawings_carry_no_style_and_no_script() -> None:
    svg = columns("Ages", [Figure(label="a", count=1, spoken="1", address="/x")]) + bar(1, 2, "good")
    assert "style=" not in svg
    assert "<script" not in svg
