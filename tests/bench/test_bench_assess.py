"""How much the assessment costs beside its floor: the connected components alone, and the same by networkx."""

import time
from collections.abc import Callable

import networkx as nx
import numpy as np
import pytest

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.rules.cases import Measured, measure
from planner.core.segments import Longs, Segments, components, find_segments
from planner.core.verdicts import Campus, assess
from tests.campuses import random_campus


def timed(work: Callable[[], object], rounds: int = 3) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def edges(segments: Segments) -> tuple[int, Longs, Longs]:
    """Return the bare graph: sides, buses behind them, runs between them."""
    on_bus = np.flatnonzero(segments.side_bus >= 0)
    count = len(segments.side_node) + int(segments.side_bus.max()) + 1
    tail = np.concatenate([segments.tail, on_bus])
    head = np.concatenate([segments.head, len(segments.side_node) + segments.side_bus[on_bus]])
    return count, tail, head


def by_networkx(segments: Segments, snapshot: Snapshot) -> float:
    """Find the components and the longest way in each, one segment after another."""
    count, tail, head = edges(segments)
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(count))
    graph.add_edges_from(zip(tail.tolist(), head.tolist(), strict=True), weight=0.0)
    lengths = np.nan_to_num(snapshot.runs.length_m[segments.run]).tolist()
    graph.add_weighted_edges_from(zip(segments.tail.tolist(), segments.head.tolist(), lengths, strict=True))
    longest = 0.0
    for part in nx.connected_components(graph):
        away = nx.single_source_dijkstra_path_length(graph, next(iter(part)))
        far = max(away, key=away.__getitem__)
        longest = max(longest, *nx.single_source_dijkstra_path_length(graph, far).values())
    return longest


@pytest.mark.parametrize("sides", [10_000, 100_000])
def test_the_array_part_beside_components_alone_and_networkx(benchmark: object, sides: int) -> None:
    snapshot, brief = random_campus(1, sides), Brief()
    segments = find_segments(snapshot)
    campus = Campus(snapshot, segments, brief)
    count, tail, head = edges(segments)

    def array_part() -> Measured:
        return measure(snapshot, segments, brief, campus.tries, campus.options)

    floor = timed(lambda: components(count, tail, head))
    finding = timed(lambda: find_segments(snapshot))
    measuring = timed(array_part)
    reference = timed(lambda: by_networkx(segments, snapshot), rounds=1)
    whole = timed(lambda: assess(snapshot, brief), rounds=1)
    benchmark(array_part)  # type: ignore[operator]
    print(  # noqa: T201 - a bench says what it measured
        f"\n{sides} sides: components alone {floor * 1e3:.0f} ms; segments {finding / floor:.1f} x, measures "
        f"{measuring / floor:.1f} x, networkx {reference / floor:.0f} x, assessment with reports {whole / floor:.0f} x"
    )
    assert finding + measuring < reference
