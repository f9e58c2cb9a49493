"""The map of risk: floors one upon the other, each with its figure, linked, escaped, and not too many."""

import re
from xml.etree import ElementTree as ET

import pytest

from planner.handover.lettering import PHONE_W, width_of
from planner.handover.risk_map import FLOOR_HEIGHT, FLOOR_WIDTH, BuildingRisk, FloorRisk, risk_map, riskiest

SVG = "{http://www.w3.org/2000/svg}"


def floor(name: str | None, days: float | None, **facts: int) -> FloorRisk:
    plain = {"stations": 3, "untold": 0, **facts}
    return FloorRisk(floor=name, weighted_days=days, address=f"/stations/?floor={name}&sort=-risk", **plain)


def building(key: str, *floors: FloorRisk, district: str | None = "Quay", name: str | None = "Mill") -> BuildingRisk:
    return BuildingRisk(key=key, name=name, district=district, floors=floors)


def drawn(*buildings: BuildingRisk) -> ET.Element:
    text = risk_map(buildings).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    return ET.fromstring(text)  # noqa: S314 - our own drawing


def links(svg: ET.Element) -> list[ET.Element]:
    return list(svg.iter(f"{SVG}a"))


def top_of(link: ET.Element) -> float:
    return float(next(one for one in link.iter(f"{SVG}rect") if one.get("class") == "touch").get("y") or -1)


def test_floors_stand_one_upon_the_other_the_highest_on_top_and_the_unknown_lowest() -> None:
    svg = drawn(building("B1", floor("0", 1.0), floor(None, 1.0), floor("10", 1.0), floor("2", 1.0), floor("B", 1.0)))
    tops = {(link.get("aria-label") or "").split(":")[0]: top_of(link) for link in links(svg)}
    order = sorted(tops, key=lambda name: tops[name])
    assert order == ["B1 floor 10", "B1 floor 2", "B1 floor 0", "B1 floor B", "B1 floor not known"]
    assert {round(b - a) for a, b in zip(sorted(tops.values()), sorted(tops.values())[1:], strict=False)} == {
        FLOOR_HEIGHT
    }


def test_a_floor_is_filled_as_far_as_its_share_of_the_greatest_and_says_its_figure() -> None:
    svg = drawn(building("B1", floor("1", 8.0)), building("B2", floor("1", 2.0), floor("0", 0.0), floor("2", None)))
    filled = {
        (link.get("aria-label") or "").split(":")[0]: [
            float(one.get("width") or 0) for one in link.iter(f"{SVG}rect") if one.get("class") == "fill"
        ]
        for link in links(svg)
    }
    assert filled == {"B1 floor 1": [FLOOR_WIDTH], "B2 floor 1": [FLOOR_WIDTH / 4], "B2 floor 0": [], "B2 floor 2": []}
    words = {(link.get("aria-label") or "") for link in links(svg)}
    assert "B2 floor 2: not known weighted days, 3 stations" in words
    assert "B1 floor 1: 8.0 weighted days, 3 stations" in words


def test_each_floor_leads_to_its_stations_and_no_name_breaks_out() -> None:
    svg = drawn(building("<B>", floor("1", 1.0, untold=2), district='"&', name="A mill of a very long name"))
    (link,) = links(svg)
    assert link.get("href") == "/stations/?floor=1&sort=-risk"
    assert link.get("aria-label") == "<B> floor 1: 1.0 weighted days, 3 stations, 2 of them not told"
    texts = [one.text for one in svg.iter(f"{SVG}text")]
    assert '"&' in texts
    (name,) = (text for text in texts if text and text.startswith("<B> A mill"))
    assert name.endswith("\N{HORIZONTAL ELLIPSIS}")
    assert width_of(name, 11) <= FLOOR_WIDTH


def test_districts_follow_each_other_and_many_buildings_break_into_rows_that_never_overlap() -> None:
    many = [building(f"B{n:02}", floor("0", 1.0), floor("1", 1.0), district=f"D{n % 2}") for n in range(14)]
    svg = drawn(*many, building("X", floor("1", 1.0), district=None))
    places = [
        (float(r.get("x") or 0), float(r.get("y") or 0)) for r in svg.iter(f"{SVG}rect") if r.get("class") == "touch"
    ]
    assert len(places) == len(set(places)) == 29
    width, height = (float(svg.get(side) or 0) for side in ("width", "height"))
    assert width <= PHONE_W
    assert all(0 <= x <= width - FLOOR_WIDTH and 0 <= y <= height - FLOOR_HEIGHT for x, y in places)
    titles = [one.text for one in svg.iter(f"{SVG}text") if one.get("class") is None]
    assert titles == ["D0", "D1", "District not known"]


@pytest.mark.parametrize(("most", "kept"), [(6, ["B3", "B2", "B1"]), (5, ["B3", "B2"]), (1, [])])
def test_of_too_many_the_riskiest_are_drawn(most: int, kept: list[str]) -> None:
    some = [building(f"B{n}", floor("0", float(n)), floor("1", None)) for n in (1, 2, 3)]
    assert [one.key for one in riskiest(some, most)] == kept


def test_nothing_but_classes_says_a_colour() -> None:
    assert not re.search(r"style=|fill=|stroke=", risk_map([building("B1", floor("1", 1.0))]))
