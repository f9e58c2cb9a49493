"""The longest way through wiring that closes loops."""

from collections.abc import Sequence

import networkx as nx

MOST_LOOPS = 2
MOST_WIRES = 24


def longest_way_m(wires: Sequence[tuple[int, int, float]], loops: int) -> float:
    """Return the longest way between two vertices that passes none twice [m].

    A way without repeats leaves out at least one wire of every loop, so that it lies in some spanning tree. With
    more loops or wires than are worth the search the sum of all wire is returned, which no way can exceed.

    Examples
    --------
    A ring of four runs of 10 m: three of them in a row.

    >>> longest_way_m([(0, 1, 10.0), (1, 2, 10.0), (2, 3, 10.0), (3, 0, 10.0)], 1)
    30.0

    """
    if loops > MOST_LOOPS or len(wires) > MOST_WIRES:
        return float(sum(length for _, _, length in wires))
    if loops <= 0:
        return _tree_way_m(wires)
    return max(
        longest_way_m([*wires[:place], *wires[place + 1 :]], loops - 1)
        for place, (tail, head, _) in enumerate(wires)
        if tail == head or _joined_without(wires, place)
    )


def _joined_without(wires: Sequence[tuple[int, int, float]], place: int) -> bool:
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(wires[place][:2])
    graph.add_edges_from((tail, head) for tail, head, _ in [*wires[:place], *wires[place + 1 :]])
    return bool(nx.has_path(graph, wires[place][0], wires[place][1]))


def _tree_way_m(wires: Sequence[tuple[int, int, float]]) -> float:
    graph: nx.Graph[int] = nx.Graph()
    graph.add_weighted_edges_from(wires)
    longest = 0.0
    for part in nx.connected_components(graph):
        start = next(iter(part))
        away = nx.single_source_dijkstra_path_length(graph, start)
        far = max(away, key=away.__getitem__)
        longest = max(longest, *nx.single_source_dijkstra_path_length(graph, far).values())
    return float(longest)
