"""Longest ways against a search of every way there is, and measures against shortest ways by scipy and networkx."""

from functools import partial

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.sparse.csgraph import dijkstra

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.campus import Campus
from planner.core.rules import lengths as module
from planner.core.rules.after import make_trials
from planner.core.rules.loops import longest_way_m
from planner.core.rules.rings import ring_ways_m
from planner.core.segments import find_segments
from tests.laws.settings import LAW
from tests.laws.test_law_screen import campuses

Longs = NDArray[np.int64]
Floats = NDArray[np.float64]
Wires = list[tuple[int, int, float]]
METRES = st.one_of(st.just(0.0), st.floats(0.1, 40.0).map(lambda value: round(value, 1)))


@st.composite
def wirings(draw: st.DrawFn, most_loops: int = 2) -> tuple[Wires, int]:
    """Return a connected piece of up to nine vertices with its number of loops."""
    count = draw(st.integers(1, 9))
    wires = [(draw(st.integers(0, vertex - 1)), vertex, draw(METRES)) for vertex in range(1, count)]
    loops = draw(st.integers(0, most_loops))
    ends = st.integers(0, count - 1)
    wires += [(draw(ends), draw(ends), draw(METRES)) for _ in range(loops)]
    name = draw(st.permutations(range(count)))
    return [(name[tail], name[head], length) for tail, head, length in draw(st.permutations(wires))], loops


def every_way_m(wires: Wires) -> float:
    """Return the longest way by trying all of them."""
    graph = nx.MultiGraph()
    graph.add_weighted_edges_from(wires)

    def on(vertex: int, seen: frozenset[int], passed: float) -> float:
        further = [(other, length) for _, other, length in graph.edges(vertex, data="weight") if other not in seen]
        return max([passed, *(on(other, seen | {other}, passed + length) for other, length in further)])

    return max((on(vertex, frozenset({vertex}), 0.0) for vertex in graph), default=0.0)


@LAW
@given(wirings())
def test_the_longest_way_is_that_of_a_search_of_all_ways(wiring: tuple[Wires, int]) -> None:
    wires, loops = wiring
    assert longest_way_m(wires, loops) == pytest.approx(every_way_m(wires), abs=1e-9)


@pytest.mark.parametrize("begin", range(5))
def test_two_branches_of_a_ring_count_wherever_going_round_begins(begin: int) -> None:
    # a ring of five runs of 1 m; branches of 10 m and 20 m at corners next but one: 20 + 3 x 1 + 10
    ring = [((begin + step) % 5, (begin + step + 1) % 5, 1.0) for step in range(5)]
    wires = [*ring, (2, 5, 20.0), (4, 6, 10.0)]
    assert longest_way_m(wires, 1) == 33.0
    columns = (np.array(column) for column in zip(*wires, strict=True))
    assert ring_ways_m(np.zeros(7, dtype=np.int64), tuple(columns), 1).tolist() == [33.0]  # type: ignore[arg-type]


def side_by_side(wirings_: list[tuple[Wires, int]]) -> tuple[Longs, tuple[Longs, Longs, Floats]]:
    """Return the piece of each vertex, and tail, head and length of each wire."""
    sizes = [max((max(wire[:2]) for wire in wires), default=0) + 1 for wires, _ in wirings_]
    shifts = np.cumsum([0, *sizes])
    rows = [
        (base + tail, base + head, length)
        for (wires, _), base in zip(wirings_, shifts, strict=False)
        for tail, head, length in wires
    ]
    tail, head, length = (np.array([row[place] for row in rows]) for place in range(3))
    wires = tail.astype(np.int64), head.astype(np.int64), length.astype(np.float64)
    return np.repeat(np.arange(len(sizes)), sizes), wires


@LAW
@given(st.lists(wirings(most_loops=1), min_size=1, max_size=6))
def test_rings_all_at_once_are_as_long_as_one_by_one(wirings_: list[tuple[Wires, int]]) -> None:
    piece, wires = side_by_side(wirings_)
    found = ring_ways_m(piece, wires, len(wirings_))
    assert found == pytest.approx([every_way_m(wires) for wires, _ in wirings_], abs=1e-9)


@LAW
@given(st.lists(wirings(most_loops=5), min_size=1, max_size=4), st.data())
def test_ways_to_the_nearest_vertex_are_as_short_as_networkx_finds_them(
    wirings_: list[tuple[Wires, int]], data: st.DataObject
) -> None:
    piece, wires = side_by_side(wirings_)
    starts = data.draw(st.lists(st.integers(0, len(piece) - 1), max_size=3, unique=True))
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(len(piece)))
    graph.add_weighted_edges_from(zip(*(column.tolist() for column in wires), strict=True))
    ways = nx.multi_source_dijkstra_path_length(graph, set(starts)) if starts else {}
    found = module.ways_in(piece, wires)(np.array(starts, dtype=np.int64))
    assert found == pytest.approx([ways.get(vertex, np.inf) for vertex in range(len(piece))], abs=1e-9)


@LAW
@given(campuses())
def test_lines_and_trees_measure_the_same_as_by_shortest_ways(snapshot: Snapshot) -> None:
    segments = find_segments(snapshot)
    campus = Campus(snapshot, segments, Brief())
    trials = make_trials(snapshot, segments, Brief(), campus.tries, campus.options)
    loops = segments.loops[trials.segment]
    found = module.measure_lengths(trials, loops)
    total = np.bincount(trials.wire_trial, np.nan_to_num(trials.length_m), minlength=len(trials))
    trees = np.flatnonzero(loops == 0)
    if not len(trees):
        return
    by_ways = module._Found(
        trunk_m=np.zeros(len(trials)),
        off_m=np.zeros(len(trials)),
        stub_m=np.zeros(len(trials)),
        end=np.full((len(trials), 2), -1),
        branched=np.zeros(len(trials), dtype=bool),
        bounded=np.zeros(len(trials), dtype=bool),
        taps=np.zeros(len(trials), dtype=np.int64),
    )
    part = module._part(trials, trees, np.nan_to_num(trials.length_m))
    graph = module.wiring_graph(len(part.side), part.tail, part.head, part.length_m)
    reach = partial(dijkstra, graph, directed=False, min_only=True)
    module._measure_trees(part, lambda starts: reach(indices=starts), trees, total, by_ways)
    assert found.trunk_m[trees] == pytest.approx(by_ways.trunk_m[trees], abs=2e-6)
    assert found.all_stubs_m[trees] == pytest.approx(np.maximum(by_ways.off_m[trees], 0.0), abs=2e-6)
    assert found.longest_stub_m[trees] == pytest.approx(by_ways.stub_m[trees], abs=2e-6)
    assert (found.end[trees] == by_ways.end[trees]).all()
    assert (found.branched[trees] == by_ways.branched[trees]).all()
