"""The voltage solve against the floor of the same run: labelling the components of the same graph."""

import time
from collections.abc import Callable

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from planner.core.power import PowerState, solve
from tests.networks import Wiring

VERTICES = 1_000_000
MOST_RATIO = 60.0  # a handful of steps of a dozen array operations a round; a loop in Python would be many hundreds
DEEP = 100_000


def campus(vertices: int) -> Wiring:
    """Return segments of 2 to 30 nodes, random trees, as a campus has them."""
    rng = np.random.default_rng(1)
    sizes = rng.integers(2, 31, size=vertices // 16)
    total = int(sizes.sum())
    first = np.repeat(np.cumsum(sizes) - sizes, sizes)
    own = np.arange(total) - first
    feeds = first + (rng.random(total) * np.maximum(own, 1)).astype(np.int64)
    fed = np.flatnonzero(own > 0)
    return Wiring(
        segment=np.repeat(np.arange(sizes.size), sizes).astype(np.int32),
        tail=feeds[fed].astype(np.int32),
        head=fed.astype(np.int32),
        loop_ohm=rng.uniform(0.1, 2.0, fed.size),
        source=np.flatnonzero(own == 0).astype(np.int32),
        source_v=np.full(sizes.size, 24.0),
        load_w=np.where(own > 0, rng.uniform(0.0, 1.0, total), 0.0),
    )


def best_s(work: Callable[[], object]) -> float:
    spans = []
    for _ in range(3):
        start = time.perf_counter()
        work()
        spans.append(time.perf_counter() - start)
    return min(spans)


def components(wiring: Wiring) -> object:
    """Label the components of the same graph: what the whole assessment cannot do without."""
    count = wiring["segment"].size
    graph = coo_array((np.ones(wiring["tail"].size), (wiring["tail"], wiring["head"])), shape=(count, count))
    return connected_components(graph.tocsr(), directed=False)


@pytest.mark.benchmark(group="voltages of a million nodes")
def test_a_million_nodes_in_small_segments(benchmark: BenchmarkFixture) -> None:
    wiring = campus(VERTICES)
    result = benchmark.pedantic(lambda: solve(**wiring), rounds=3, warmup_rounds=1)
    assert set(result.state) == {PowerState.SOLVED}
    if benchmark.enabled:
        floor_s = best_s(lambda: components(wiring))
        ratio = benchmark.stats["min"] / floor_s
        benchmark.extra_info["times the labelling of components"] = ratio
        assert ratio < MOST_RATIO


@pytest.mark.benchmark(group="voltages of a deep line")
def test_a_line_of_a_hundred_thousand_nodes(benchmark: BenchmarkFixture) -> None:
    wiring = Wiring(
        segment=np.zeros(DEEP, dtype=np.int32),
        tail=np.arange(DEEP - 1, dtype=np.int32),
        head=np.arange(1, DEEP, dtype=np.int32),
        loop_ohm=np.full(DEEP - 1, 1e-6),
        source=np.zeros(1, dtype=np.int32),
        source_v=np.array([48.0]),
        load_w=np.full(DEEP, 0.005),
    )
    result = benchmark.pedantic(lambda: solve(**wiring), rounds=3, warmup_rounds=1)
    assert result.state[0] == PowerState.SOLVED
