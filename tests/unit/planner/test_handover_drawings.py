"""Segment drawings: everything legible, nothing on top of anything, nothing a strict site policy forbids."""

import random
import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.core.catalogue import NodeKind
from planner.core.findings import LoadVoltage, SegmentReport, Verdict
from planner.handover.drawings import MARKS, MOST_NODES, draw_segment, node_of, run_of, volts_of
from planner.handover.layout import ROW_H, WIDTH, DrawnNode, DrawnRun, DrawnSegment, Layout, lay_out, overlapping

KINDS = [kind.value for kind in NodeKind]
SVG = "{http://www.w3.org/2000/svg}"


def segment(nodes: int, edges: list[tuple[int, int]], *, root: str | None = "N000", seed: int = 0) -> DrawnSegment:
    choose = random.Random(seed)
    drawn = tuple(
        DrawnNode(
            key=f"N{number:03d}",
            kind="gateway" if number == 0 else choose.choice(KINDS),
            notes=choose.choice(("", "station · WS-20 · 1.01 · 21.4 V · end resistor", "short")),
            is_old=choose.random() < 0.5,
            ends_bus=choose.random() < 0.3,
        )
        for number in range(nodes)
    )
    runs = tuple(
        DrawnRun(
            key=f"R{number:03d}",
            ends=(f"N{a:03d}", f"N{b:03d}"),
            label=choose.choice(("8 m, 2x2x18", "length not known, cable not known")),
        )
        for number, (a, b) in enumerate(edges)
    )
    return DrawnSegment(segment="B01-L01", verdict="together", nodes=drawn, runs=runs, root=root)


def line_of(count: int) -> DrawnSegment:
    return segment(count, [(number, number + 1) for number in range(count - 1)])


def ring_of(count: int) -> DrawnSegment:
    return segment(count, [(number, (number + 1) % count) for number in range(count)])


@st.composite
def wirings(draw: st.DrawFn) -> DrawnSegment:
    """Trees and forests of up to 60 nodes, with up to five more runs anywhere, parallel ones and loops included."""
    nodes = draw(st.integers(1, MOST_NODES))
    parents = [draw(st.integers(-1 if draw(st.booleans()) else 0, number - 1)) for number in range(1, nodes)]
    edges = [(parent, number) for number, parent in enumerate(parents, start=1) if parent >= 0]
    any_node = st.integers(0, nodes - 1)
    edges += draw(st.lists(st.tuples(any_node, any_node), max_size=5))
    return segment(nodes, edges, seed=draw(st.integers(0, 99)))


@given(wirings())
def test_no_text_stands_on_another_whatever_the_wiring(drawn: DrawnSegment) -> None:
    assert overlapping(lay_out(drawn).words) == []


@given(wirings())
def test_no_mark_stands_on_another_and_none_on_a_text(drawn: DrawnSegment) -> None:
    layout = lay_out(drawn)
    assert len({spot.y for spot in layout.spots}) == len(drawn.nodes), "every node has a row of its own"
    for spot in layout.spots:
        for word in layout.words:
            apart = word.box.x >= spot.x + 9 or word.box.x + word.box.w <= spot.x - 9
            assert apart or word.box.y >= spot.y + 9 or word.box.y + word.box.h <= spot.y - 9, (spot, word)


@given(wirings())
def test_everything_is_inside_the_sheet(drawn: DrawnSegment) -> None:
    layout = lay_out(drawn)
    for word in layout.words:
        assert word.box.x >= 0
        assert word.box.y >= 0
        assert word.box.x + word.box.w <= layout.width
        assert word.box.y + word.box.h <= layout.height


@given(wirings())
def test_every_node_and_every_run_between_two_nodes_is_drawn_once(drawn: DrawnSegment) -> None:
    layout = lay_out(drawn)
    assert sorted(spot.node.key for spot in layout.spots) == sorted(node.key for node in drawn.nodes)
    assert sorted(line.run.key for line in layout.lines) == sorted(r.key for r in drawn.runs if r.ends[0] != r.ends[1])


@given(wirings(), st.randoms())
def test_order_of_rows_changes_nothing(drawn: DrawnSegment, shuffle: random.Random) -> None:
    nodes, runs = list(drawn.nodes), list(drawn.runs)
    shuffle.shuffle(nodes)
    shuffle.shuffle(runs)
    mixed = DrawnSegment(
        segment=drawn.segment, verdict=drawn.verdict, nodes=tuple(nodes), runs=tuple(runs), root=drawn.root
    )
    assert draw_segment(mixed) == draw_segment(drawn)


def lanes(layout: Layout) -> int:
    return len({spot.x for spot in layout.spots})


def test_a_line_runs_straight_down_from_its_gateway() -> None:
    layout = lay_out(line_of(8))
    assert lanes(layout) == 1
    assert [spot.node.key for spot in layout.spots] == [f"N{number:03d}" for number in range(8)]
    assert layout.spots[1].y - layout.spots[0].y == ROW_H


def test_a_ring_runs_down_and_one_run_comes_back_up() -> None:
    layout = lay_out(ring_of(8))
    assert lanes(layout) == 1
    assert [line.run.key for line in layout.lines if line.closes_loop] == ["R007"]


def test_a_stub_steps_aside_and_the_trunk_goes_on_down() -> None:
    # 0 - 1 - 3 - 4, with 2 hanging on 1: two lanes, 2 drawn before the trunk goes on
    layout = lay_out(segment(5, [(0, 1), (1, 2), (1, 3), (3, 4)]))
    assert [spot.node.key for spot in layout.spots] == ["N000", "N001", "N002", "N003", "N004"]
    assert lanes(layout) == 2


@pytest.mark.parametrize("count", [1, 2, 30, MOST_NODES])
def test_a_line_of_any_size_fits_a_phone(count: int) -> None:
    assert lay_out(line_of(count)).width == WIDTH


def test_up_to_sixty_nodes_are_drawn_and_more_are_counted() -> None:
    assert draw_segment(line_of(MOST_NODES)).count("<g class=") == MOST_NODES * 2
    assert "N059" in draw_segment(line_of(MOST_NODES))
    counted = draw_segment(line_of(MOST_NODES + 1))
    assert "N060" not in counted
    assert "60 runs in all, not drawn one by one" in counted


def test_a_node_no_run_reaches_is_drawn_unconnected() -> None:
    layout = lay_out(segment(3, [(0, 1)]))
    assert len(layout.spots) == 3
    assert len(layout.lines) == 1


@pytest.mark.parametrize("drawn", [line_of(5), ring_of(6), segment(0, [], root=None), line_of(90)])
def test_the_drawing_is_xml_says_what_it_is_and_carries_no_style_or_script(drawn: DrawnSegment) -> None:
    text = draw_segment(drawn)
    root = ET.fromstring(text)  # noqa: S314 - our own text
    assert root.get("role") == "img"
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert not re.search(r"style|<script|\son\w+=|href", text)


def test_names_are_escaped_wherever_they_stand() -> None:
    odd = "<b>&\"'"
    nodes = (DrawnNode(key=odd, kind="gateway", notes=odd), DrawnNode(key="S", kind="station", notes=odd))
    runs = (DrawnRun(key=odd, ends=(odd, "S"), label=odd),)
    text = draw_segment(DrawnSegment(segment=odd, verdict=odd, nodes=nodes, runs=runs, root=odd))
    root = ET.fromstring(text)  # noqa: S314 - our own text
    assert odd in [element.text for element in root.iter(f"{SVG}text")]
    assert "<b>" not in text


def test_every_kind_of_node_has_a_mark_of_its_own() -> None:
    assert set(MARKS) == set(NodeKind)
    assert len(set(MARKS.values())) == len(NodeKind)


def report_with(*loads: LoadVoltage) -> SegmentReport:
    return SegmentReport(
        segment="L", building=None, buses=(), verdict=Verdict.IN_PLACE, why="", decided_by=None, old_stations=(),
        gateways=(), others=(), nodes=(), runs=(), voltages=loads,
    )  # fmt: skip


def test_voltages_are_said_to_a_tenth_and_no_operating_point_in_words() -> None:
    known = LoadVoltage(node="S1", voltage_v=21.449, current_a=0.1)
    none = LoadVoltage(node="S2", voltage_v=None, current_a=None)
    assert volts_of(report_with(known, none)) == {"S1": "21.4 V", "S2": "no operating point"}


def test_what_is_not_known_of_a_run_is_said_and_never_zero() -> None:
    assert run_of(key="R", ends=("A", "B"), length_m=None, cable=None).label == "length not known, cable not known"
    assert run_of(key="R", ends=("A", "B"), length_m=38.50, cable="2x2x18").label == "38.5 m, 2x2x18"


def test_the_words_under_a_node_leave_out_what_is_not_known() -> None:
    node = node_of(key="S", kind="station", model="WS-20", room=None, volts="21.4 V", ends=True, is_old=True)
    assert node.notes == "station · WS-20 · 21.4 V · end resistor"
