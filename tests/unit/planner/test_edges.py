"""Which edges lie between two vertices, and how far vertices are: against networkx on random graphs."""

from itertools import pairwise

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.core.edges import Edge, Edges, distances, in_order

FEW = settings(max_examples=60, deadline=None, derandomize=True)


@st.composite
def graphs(draw: st.DrawFn) -> list[Edge]:
    """Forests with a few loops, each pair once."""
    count = draw(st.integers(2, 8))
    parents = [draw(st.integers(-1, number - 1)) for number in range(1, count)]
    pairs = {(parent, number) for number, parent in enumerate(parents, start=1) if parent >= 0}
    pairs |= {(a, b) for a, b in draw(st.sets(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=3)) if a < b}
    return [(f"N{a}", f"N{b}") for a, b in sorted(pairs)]


@given(graphs())
@FEW
def test_the_edges_between_two_vertices_are_those_of_all_simple_paths(edges: list[Edge]) -> None:
    graph = nx.Graph(edges)
    made = Edges(edges)
    for near in graph:
        for far in graph:
            paths = nx.all_simple_paths(graph, near, far) if near != far else ()
            expected = {in_order(edge) for path in paths for edge in pairwise(path)}
            found = {in_order(edge) for edge in made.between(near, far)}
            assert found - {in_order((near, far))} == expected - {in_order((near, far))}
            assert expected <= found
    assert list(made.between("N0", "elsewhere")) == []


@given(graphs(), st.data())
@FEW
def test_distances_are_those_of_networkx_and_of_edges_side_by_side_the_shortest_counts(
    edges: list[Edge], data: st.DataObject
) -> None:
    twice = [*edges, *(edge[::-1] for edge in edges)]
    steps = [float(data.draw(st.integers(0, 9))) for _ in twice]
    graph: nx.Graph[str] = nx.Graph()
    graph.add_node("N0")
    for edge, step in sorted(zip(twice, steps, strict=True), key=lambda one: -one[1]):
        graph.add_edge(*edge, weight=step)
    assert distances(twice, steps, "N0") == dict(nx.single_source_dijkstra_path_length(graph, "N0"))
