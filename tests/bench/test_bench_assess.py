"""How much all rules cost beside their floor, the connected components alone, and the same by a loop over networkx.

Time by the clock, the best of a few rounds in turn, and the processor time beside it: the rules use two processors,
the floors one. Goals of the issue at a million sides: 3.5 times the components, a 25th of networkx, growth no steeper
than the 1.15th power, 400 MB.
The names of nodes decide how far apart the ends of a run stand in memory: campuses are measured with names given line
by line, and with names given at random (as asset numbers are), in which the components themselves cost ten times more.
"""

import math
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.campus import Campus
from planner.core.judgements import judge
from planner.core.screening import screen_campus
from planner.core.segments import Segments, find_segments
from planner.core.sides import Longs, is_gateway, lost_nodes, make_sides, own_bus, run_ends, runs_by_bus, wires_of
from planner.core.verdicts import reports_of
from tests.bench.big_campus import big_campus, renamed_at_random

SIZES = tuple(int(size) for size in os.environ.get("BENCH_SIDES", "10000,100000,1000000").split(","))
BUILDING = 700
TURNS = 6
ROOT = Path(__file__).parents[2]
PEAK = """
import tracemalloc
from planner.core.brief import Brief
from planner.core.judgements import judge
from tests.bench.big_campus import big_campus
from tests.bench.test_bench_assess import all_rules
campus = big_campus(1, {sides})
tracemalloc.start()
all_rules(campus)
rules = tracemalloc.get_traced_memory()[1]
tracemalloc.reset_peak()
judge(campus, Brief())
print(rules / 1e6, tracemalloc.get_traced_memory()[1] / 1e6)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Time of one campus by the clock [s]; work_s : processor time of all rules."""

    sides: int
    segments: int
    floor_s: float
    find_s: float
    rules_s: float
    work_s: float
    networkx_s: float


def best_s(work: Callable[[], object], rounds: int = 3, clock: Callable[[], float] = time.perf_counter) -> float:
    return min(span_s(work, clock) for _ in range(rounds))


def span_s(work: Callable[[], object], clock: Callable[[], float]) -> float:
    start = clock()
    work()
    return clock() - start


def bare_graph(snapshot: Snapshot) -> tuple[int, Longs, Longs]:
    """Return sides, buses behind them, and the runs between them, as the records order them."""
    own = own_bus(snapshot)
    ends = run_ends(snapshot, is_gateway(snapshot), own)
    sides = make_sides(snapshot, ends, lost_nodes(own, ends))
    run = runs_by_bus(ends, sides.width)
    tail, head = wires_of(sides, ends, run)
    row = np.empty_like(sides.place)
    row[sides.place] = np.arange(len(row))  # by node, as the rows come
    tail, head = row[tail][np.argsort(run)], row[head][np.argsort(run)]
    on_bus = np.flatnonzero(sides.bus >= 0)
    count = len(sides.node) + len(snapshot.buses)
    bus = len(sides.node) + sides.bus[on_bus][np.argsort(row[on_bus])]
    return count, np.concatenate([tail, np.sort(row[on_bus])]), np.concatenate([head, bus])


def components(count: int, tail: Longs, head: Longs) -> object:
    """Find the connected components by scipy, and nothing else."""
    graph = coo_array((np.ones(len(tail), dtype=np.int8), (tail, head)), shape=(count, count))
    return connected_components(graph, directed=False)


def by_networkx(snapshot: Snapshot, segments: Segments) -> float:
    """Find the components and the longest way in each, one segment after another; no other rule, no voltage."""
    graph: nx.Graph[int] = nx.Graph()
    count, tail, head = bare_graph(snapshot)
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


def all_rules(snapshot: Snapshot) -> object:
    """Go from the records to the outcome of every rule on every option of every segment, voltages with them."""
    return screen_campus(Campus(snapshot, find_segments(snapshot), Brief()))


def measured(snapshot: Snapshot) -> Row:
    segments = find_segments(snapshot)
    graph = bare_graph(snapshot)
    floor, rules = partial(components, *graph), partial(all_rules, snapshot)
    turns = [(span_s(floor, time.perf_counter), span_s(rules, time.perf_counter)) for _ in range(TURNS)]
    return Row(
        sides=len(segments.label),
        segments=len(segments),
        floor_s=min(turn[0] for turn in turns),
        find_s=best_s(lambda: find_segments(snapshot)),
        rules_s=min(turn[1] for turn in turns),
        work_s=best_s(rules, clock=time.process_time),
        networkx_s=best_s(lambda: by_networkx(snapshot, segments), rounds=1),
    )


def said(name: str, row: Row) -> str:
    return (
        f"{name:>12} {row.sides:>9} sides {row.segments:>6} segments: components {row.floor_s * 1e3:7.1f} ms; "
        f"segments {row.find_s / row.floor_s:5.1f} x; all rules {row.rules_s:6.3f} s = {row.rules_s / row.floor_s:5.1f} x "
        f"({row.work_s:.3f} s of processors); "
        f"networkx {row.networkx_s:6.2f} s = {row.networkx_s / row.rules_s:5.1f} x all rules"
    )


@pytest.mark.benchmark(group="all rules")
@pytest.mark.parametrize("order", ["by line", "at random"])
def test_all_rules_beside_components_alone_and_networkx(benchmark: BenchmarkFixture, order: str) -> None:
    rows = []
    for sides in SIZES:
        snapshot = big_campus(1, sides)
        snapshot = renamed_at_random(snapshot, 1) if order == "at random" else snapshot
        rows.append(measured(snapshot))
        print(f"\n{said(order, rows[-1])}", end="")  # noqa: T201 - a bench says what it measured
    if len(rows) > 1:
        low, high = rows[-2:]
        growth = math.log(high.rules_s / low.rules_s) / math.log(high.sides / low.sides)
        print(f"\n{order:>12} growth exponent {low.sides} to {high.sides} sides: {growth:.2f}")  # noqa: T201
    benchmark.pedantic(lambda: all_rules(snapshot), rounds=1)
    assert rows[-1].rules_s < rows[-1].networkx_s


@pytest.mark.benchmark(group="verdicts")
def test_verdicts_with_words_where_a_fact_is_missing(benchmark: BenchmarkFixture) -> None:
    for sides in SIZES:
        snapshot = big_campus(1, sides)
        floor_s = best_s(partial(components, *bare_graph(snapshot)), rounds=5)
        judge_s = best_s(partial(judge, snapshot, Brief()), rounds=1)
        print(f"\n{sides} sides: verdicts {judge_s:.2f} s = {judge_s / floor_s:.0f} x components")  # noqa: T201
    benchmark.pedantic(lambda: judge(snapshot, Brief()), rounds=1)


@pytest.mark.benchmark(group="memory")
def test_peak_memory_of_a_fresh_process(benchmark: BenchmarkFixture) -> None:
    code = PEAK.format(sides=SIZES[-1])
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    rules_mb, judge_mb = (float(word) for word in done.stdout.split())
    print(  # noqa: T201
        f"\n{SIZES[-1]} sides, at most beside the records: all rules {rules_mb:.0f} MB, verdicts {judge_mb:.0f} MB"
    )
    benchmark.pedantic(lambda: None, rounds=1)


# From the database to stored verdicts is measured where verdicts are stored.


@pytest.mark.benchmark(group="one segment")
def test_one_segment_after_an_edit(benchmark: BenchmarkFixture) -> None:
    # the records of one building of forty lines stand for what the query after an edit brings
    part = big_campus(1, BUILDING)

    def judged() -> object:
        segments = find_segments(part)
        return reports_of(Campus(part, segments, Brief()), (len(segments) // 2,))

    one_s = best_s(judged, rounds=20)
    print(f"\none segment of a building with {len(part.nodes)} nodes, report with words: {one_s * 1e3:.1f} ms")  # noqa: T201
    benchmark(judged)
    assert len(judged()) == 1  # type: ignore[arg-type]
