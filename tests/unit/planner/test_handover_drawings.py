"""Segment drawings: everything legible, nothing on top of anything, nothing a strict site policy forbids."""

import random
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.catalogue import NodeKind
from planner.handover.counted import counted, outline_of
from planner.handover.drawings import MARKS, MOST_NODES, SIGNS, draw_segment, draw_sheets
from planner.handover.drawn import DrawnNode, DrawnRun, DrawnSegment, Note, Sign
from planner.handover.layout import WIDTH, Box, Layout, clashes, lay_out, strokes
from planner.handover.sheets import MOST_H, box_of, sheets_of

FEW = settings(max_examples=25, deadline=None, derandomize=True)
KINDS = [kind.value for kind in NodeKind]
SVG = "{http://www.w3.org/2000/svg}"
NAMES = (
    "N{:03d}",
    "BUILDING-07/FLOOR-2/N{:03d}",
    "WWWW WWWW {:03d} MMMM",
    "n{:03d}iiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiii",
)
NOTES = (
    (),
    (Note(text="station, WS-20, room 1.01"),),
    (
        Note(text="WS-70 put in for WS-20", sign=Sign.IN),
        Note(text="21.4 V"),
        Note(text="end resistor switched on", sign=Sign.END),
        Note(text="is taken out because of a reason that takes more than one line to say in full", sign=Sign.OUT),
    ),
)
LABELS = ("8 m, 2x2x18", "length not known, cable not known", "1234.5 m, A cable with a long name of its own, screened")


def segment(nodes: int, edges: list[tuple[int, int]], *, root: str | None = None, seed: int = 0) -> DrawnSegment:
    choose = random.Random(seed)
    name = choose.choice(NAMES)
    drawn = tuple(
        DrawnNode(
            key=name.format(number),
            kind="gateway" if number == 0 else choose.choice(KINDS),
            notes=choose.choice(NOTES),
            is_old=choose.random() < 0.5,
            sign=choose.choice(tuple(Sign)),
        )
        for number in range(nodes)
    )
    runs = tuple(
        DrawnRun(
            key=f"R{number:03d}",
            ends=(name.format(a), name.format(b)),
            label=choose.choice(LABELS),
            length_m=choose.choice((8.0, 31.5, None)),
            notes=choose.choice(((), (Note(text="breakout and patch lead put in at both ends", sign=Sign.IN),))),
        )
        for number, (a, b) in enumerate(edges)
    )
    return DrawnSegment(
        segment="B01-L01", verdict="together", nodes=drawn, runs=runs, root=root or (drawn[0].key if drawn else None)
    )


def line_of(count: int, seed: int = 0) -> DrawnSegment:
    return segment(count, [(number, number + 1) for number in range(count - 1)], seed=seed)


def ring_of(count: int, seed: int = 0) -> DrawnSegment:
    return segment(count, [(number, (number + 1) % count) for number in range(count)], seed=seed)


def star_of(count: int, seed: int = 0) -> DrawnSegment:
    return segment(count, [(0, number) for number in range(1, count)], seed=seed)


def comb_of(count: int, seed: int = 0) -> DrawnSegment:
    """Return a trunk with a stub at every second node."""
    return segment(count, [(n - 1 if n % 2 else max(n - 2, 0), n) for n in range(1, count)], seed=seed)


def bush_of(count: int, seed: int = 0) -> DrawnSegment:
    """Return a tree in which every node has two branches: as many lanes as there can be."""
    return segment(count, [((n - 1) // 2, n) for n in range(1, count)], seed=seed)


def mesh_of(count: int, seed: int = 0) -> DrawnSegment:
    """Return a ring with two runs across, and one laid twice."""
    ring = [(number, (number + 1) % count) for number in range(count)]
    return segment(count, [*ring, (0, count // 2), (0, 1)], seed=seed)


SHAPES = (line_of, ring_of, star_of, comb_of, bush_of, mesh_of)


@st.composite
def wirings(draw: st.DrawFn) -> DrawnSegment:
    """Trees and forests of up to 60 nodes, with up to three more runs anywhere, parallel ones and loops included."""
    nodes = draw(st.integers(1, MOST_NODES))
    parents = [draw(st.integers(-1 if draw(st.booleans()) else 0, number - 1)) for number in range(1, nodes)]
    edges = [(parent, number) for number, parent in enumerate(parents, start=1) if parent >= 0]
    any_node = st.integers(0, nodes - 1)
    edges += draw(st.lists(st.tuples(any_node, any_node), max_size=3))
    return segment(nodes, edges, seed=draw(st.integers(0, 99)))


def inside(box: Box, sheet: Box) -> bool:
    return (
        box.x >= sheet.x
        and box.y >= sheet.y
        and box.x + box.w <= sheet.x + sheet.w
        and box.y + box.h <= sheet.y + sheet.h
    )


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
@pytest.mark.parametrize("seed", range(4))
def test_nothing_stands_on_anything_in_any_shape_of_up_to_60_nodes(shape: type[DrawnSegment], seed: int) -> None:
    for count in (3, 4, 5, 7, 12, 30, 59, MOST_NODES):
        layout = lay_out(shape(count, seed))  # type: ignore[call-arg, arg-type]
        assert clashes(layout) == [], (shape, count)


@FEW
@given(wirings())
def test_nothing_stands_on_anything_whatever_the_wiring(drawn: DrawnSegment) -> None:
    assert clashes(lay_out(drawn)) == []


@FEW
@given(wirings())
def test_nothing_stands_on_anything_or_is_cut_on_any_sheet(drawn: DrawnSegment) -> None:
    for sheet in sheets_of(lay_out(drawn)):
        page = box_of(sheet)
        assert [word.text for word in sheet.words if not inside(word.box, page)] == []
        assert [spot.node.key for spot in sheet.spots if not inside(spot.box, page)] == []
        alone = Layout(
            width=sheet.width, height=page.h, spots=sheet.spots, lines=sheet.lines, words=sheet.words, cuts=()
        )
        assert clashes(alone) == []


@pytest.mark.parametrize("first_h", [None, 400.0])
@FEW
@given(drawn=wirings())
def test_sheets_fit_a_page_the_first_what_is_left_of_one_and_lose_nothing(
    drawn: DrawnSegment, first_h: float | None
) -> None:
    layout = lay_out(drawn)
    sheets = sheets_of(layout, first_h=first_h)
    assert sheets[0].bottom <= (first_h or MOST_H)
    assert all(sheet.bottom - sheet.top <= MOST_H for sheet in sheets)
    assert [one.bottom for one in sheets[:-1]] == [one.top for one in sheets[1:]]
    assert [spot for sheet in sheets for spot in sheet.spots] == list(layout.spots)
    shown = sorted(word.text for sheet in sheets for word in sheet.words if not word.is_turned)
    assert shown == sorted(word.text for word in layout.words if not word.is_turned)
    whole = sum(stroke.w + stroke.h for line in layout.lines for stroke in strokes(line))
    drawn_length = sum(stroke.w + stroke.h for sheet in sheets for line in sheet.lines for stroke in strokes(line))
    assert drawn_length >= whole - 1e-6, "a line is lost at a cut"


@FEW
@given(wirings())
def test_every_node_and_every_run_between_two_nodes_is_drawn_once(drawn: DrawnSegment) -> None:
    layout = lay_out(drawn)
    assert sorted(spot.node.key for spot in layout.spots) == sorted(node.key for node in drawn.nodes)
    assert sorted(line.run.key for line in layout.lines) == sorted(r.key for r in drawn.runs if r.ends[0] != r.ends[1])


@FEW
@given(wirings())
def test_every_line_ends_at_the_marks_it_joins(drawn: DrawnSegment) -> None:
    layout = lay_out(drawn)
    spots = {spot.node.key: spot for spot in layout.spots}
    for line in layout.lines:
        for end, point in zip(
            sorted(line.run.ends, key=lambda key: spots[key].y), (line.points[0], line.points[-1]), strict=True
        ):
            spot = spots[end]
            assert abs(point[0] - spot.x) <= 9
            assert abs(point[1] - spot.y) <= 9
        assert all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise(line.points)), "upright or level"


@FEW
@given(wirings(), st.randoms())
def test_order_of_rows_changes_nothing(drawn: DrawnSegment, shuffle: random.Random) -> None:
    nodes, runs = list(drawn.nodes), list(drawn.runs)
    shuffle.shuffle(nodes)
    shuffle.shuffle(runs)
    mixed = DrawnSegment(
        segment=drawn.segment, verdict=drawn.verdict, nodes=tuple(nodes), runs=tuple(runs), root=drawn.root
    )
    assert draw_sheets(mixed) == draw_sheets(drawn)


@FEW
@given(wirings())
def test_no_word_beside_a_node_or_a_straight_run_is_left_out(drawn: DrawnSegment) -> None:
    layout = lay_out(drawn)
    shown = "".join(word.text for word in layout.words if not word.is_turned).replace(" ", "")
    for node in drawn.nodes:
        assert node.key.replace(" ", "") in shown
        assert all(note.text.replace(" ", "") in shown for note in node.notes)


def lanes(layout: Layout) -> int:
    return len({spot.x for spot in layout.spots})


def test_a_line_runs_straight_down_from_its_gateway() -> None:
    layout = lay_out(line_of(8))
    assert lanes(layout) == 1
    assert [spot.node for spot in layout.spots] == list(line_of(8).nodes)


def test_a_ring_runs_down_and_one_run_comes_back_up() -> None:
    layout = lay_out(ring_of(8))
    assert lanes(layout) == 1
    assert [line.run.key for line in layout.lines if line.closes_loop] == ["R007"]


def test_a_ring_with_a_run_left_out_is_a_line_and_no_line_of_it_is_dashed() -> None:
    ring = ring_of(4)
    opened = replace(
        ring, runs=tuple(replace(run, sign=Sign.OUT if run.key == "R001" else Sign.NONE) for run in ring.runs)
    )
    assert [line.in_ring for line in lay_out(ring).lines if line.closes_loop] == [True]
    assert [line.in_ring for line in lay_out(opened).lines if line.closes_loop] == [False]
    assert draw_segment(ring).count('stroke-dasharray="6 3"') == 1
    assert draw_segment(opened).count('stroke-dasharray="6 3"') == 0
    assert draw_segment(opened).count('stroke-dasharray="1 5"') == 1


def test_a_stub_steps_aside_and_the_trunk_goes_on_down() -> None:
    # 0 - 1 - 3 - 4, with 2 hanging on 1: two lanes, 2 drawn before the trunk goes on
    layout = lay_out(segment(5, [(0, 1), (1, 2), (1, 3), (3, 4)]))
    assert lanes(layout) == 2
    assert layout.spots[2].x > layout.spots[1].x == layout.spots[3].x


@pytest.mark.parametrize("count", [1, 2, 30, MOST_NODES])
def test_a_line_of_any_size_fits_a_phone(count: int) -> None:
    assert lay_out(line_of(count)).width == WIDTH
    assert WIDTH <= 360 - 50, "what frame and margins of the page leave"


def test_up_to_sixty_nodes_are_drawn_and_more_are_counted() -> None:
    marks = "".join(draw_sheets(line_of(MOST_NODES)))
    assert (
        sum(len(re.findall("M[-0-9.]+ [-0-9.]+m", path)) for path in re.findall('class="fill[^>]+', marks))
        == MOST_NODES
    )
    large = draw_segment(line_of(MOST_NODES + 1))
    words = " ".join(element.text or "" for element in ET.fromstring(large).iter(f"{SVG}text"))  # noqa: S314
    assert "61 nodes and 60 runs in all" in words
    assert "away" in words


def test_the_summary_of_a_large_line_says_how_long_it_is_and_where_the_old_stations_sit() -> None:
    # 100 stations every 10 m: the farthest is 1000 m away; a round length that twelve stretches cover is 100 m
    nodes = [DrawnNode(key="G", kind="gateway")]
    nodes += [DrawnNode(key=f"S{n:03d}", kind="station", is_old=n > 50) for n in range(1, 101)]
    keys = [node.key for node in nodes]
    runs = [DrawnRun(key=f"R{n:03d}", ends=ends, label="10 m", length_m=10.0) for n, ends in enumerate(pairwise(keys))]
    drawn = DrawnSegment(segment="L", verdict="together", nodes=tuple(nodes), runs=tuple(runs), root="G")
    words = [word.text for word in lay_out_of_large(drawn).words]
    assert "the farthest node is 1000 m away" in words
    assert "1 gateway, 50 old stations, 50 stations" in words
    assert "0 to 100 m away" in words
    assert words[words.index("900 to 1000 m away") + 1] == "10 old stations"


def lay_out_of_large(drawn: DrawnSegment) -> Layout:
    layout = lay_out(counted(outline_of(drawn)))
    assert clashes(layout) == []
    return layout


@pytest.mark.parametrize("seed", range(3))
def test_a_large_segment_of_any_shape_is_summed_up_without_a_clash(seed: int) -> None:
    for shape in SHAPES:
        drawn = shape(200, seed)
        words = [word.text for word in lay_out_of_large(drawn).words]
        assert any("200 nodes" in text for text in words)


def test_nodes_that_no_run_reaches_are_counted_by_themselves() -> None:
    drawn = segment(80, [(n, n + 1) for n in range(69)])
    assert "no run on record leads" in " ".join(word.text for word in lay_out_of_large(drawn).words)


def test_a_node_no_run_reaches_is_drawn_unconnected() -> None:
    layout = lay_out(segment(3, [(0, 1)]))
    assert len(layout.spots) == 3
    assert len(layout.lines) == 1


@pytest.mark.parametrize("drawn", [line_of(5), ring_of(6), segment(0, [], root=None), line_of(90), line_of(60)])
def test_the_drawing_is_xml_says_what_it_is_and_carries_no_style_or_script(drawn: DrawnSegment) -> None:
    sheets = draw_sheets(drawn)
    for number, text in enumerate(sheets, start=1):
        root = ET.fromstring(text)  # noqa: S314 - our own text
        assert root.get("role") == "img"
        title, told = list(root)[:2]
        assert (title.tag, told.tag) == (f"{SVG}title", f"{SVG}desc")
        assert title.text == root.get("aria-label")
        assert (f"sheet {number} of {len(sheets)}" in (title.text or "")) is (len(sheets) > 1)
        assert not re.search(r"style|<script|\son\w+=|href", text)
    assert f"{len(drawn.runs)} runs" in sheets[0]


def test_names_are_escaped_wherever_they_stand() -> None:
    odd = "<b>&\"'"
    note = (Note(text=odd),)
    nodes = (DrawnNode(key=odd, kind="gateway", notes=note), DrawnNode(key="S", kind="station", notes=note))
    runs = (DrawnRun(key=odd, ends=(odd, "S"), label=odd, notes=note),)
    text = draw_segment(DrawnSegment(segment=odd, verdict=odd, nodes=nodes, runs=runs, root=odd))
    root = ET.fromstring(text)  # noqa: S314 - our own text
    assert odd in [element.text for element in root.iter(f"{SVG}text")]
    assert "<b>" not in text


def test_every_kind_of_node_and_every_sign_has_a_mark_of_its_own() -> None:
    assert set(MARKS) == set(NodeKind)
    assert len(set(MARKS.values())) == len(NodeKind)
    assert set(SIGNS) == set(Sign) - {Sign.NONE}


def test_what_goes_and_what_comes_carries_its_sign_on_the_mark_and_before_the_words() -> None:
    nodes = (
        DrawnNode(key="S", kind="station", sign=Sign.OUT, notes=(Note(text="is taken out", sign=Sign.OUT),)),
        DrawnNode(key="T", kind="station", sign=Sign.IN, notes=(Note(text="put in", sign=Sign.IN),)),
    )
    text = draw_segment(DrawnSegment(segment="L", verdict="in place", nodes=nodes, runs=()))
    assert text.count(SIGNS[Sign.OUT]) == text.count(SIGNS[Sign.IN]) == 2
