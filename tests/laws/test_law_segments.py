"""Laws of segments on generated campuses."""

from dataclasses import replace
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from inventory.core.snapshot import Snapshot
from planner.core.segments import Segments, find_segments
from tests.campuses import random_campus
from tests.laws.settings import LAW


@st.composite
def campuses(draw: st.DrawFn, *, sides: int = 120) -> Snapshot:
    return random_campus(draw(st.integers(0, 10**6)), draw(st.integers(3, sides)), rogue=draw(st.booleans()))


def parts(snapshot: Snapshot, segments: Segments) -> set[frozenset[tuple[str, int]]]:
    found: dict[int, set[tuple[str, int]]] = {}
    for label, node, bus in zip(segments.label, segments.side_node, segments.side_bus, strict=True):
        found.setdefault(int(label), set()).add((snapshot.nodes.key[node], int(bus)))
    return {frozenset(part) for part in found.values()}


def without_run(snapshot: Snapshot, run: int) -> Snapshot:
    keep = np.arange(len(snapshot.runs)) != run
    runs = snapshot.runs
    return replace(
        snapshot,
        runs=replace(
            runs,
            key=tuple(key for key, kept in zip(runs.key, keep, strict=True) if kept),
            bus=runs.bus[keep],
            from_node=runs.from_node[keep],
            to_node=runs.to_node[keep],
            cable=runs.cable[keep],
            length_m=runs.length_m[keep],
        ),
    )


@LAW
@given(campuses(), st.randoms(use_true_random=False))
def test_the_order_of_the_runs_changes_nothing(snapshot: Snapshot, rng: Any) -> None:
    order = list(range(len(snapshot.runs)))
    rng.shuffle(order)
    runs = snapshot.runs
    shuffled = replace(
        snapshot,
        runs=replace(
            runs,
            key=tuple(runs.key[place] for place in order),
            bus=runs.bus[order],
            from_node=runs.from_node[order],
            to_node=runs.to_node[order],
            cable=runs.cable[order],
            length_m=runs.length_m[order],
        ),
    )
    one, two = find_segments(snapshot), find_segments(shuffled)
    assert one.key == two.key
    assert parts(snapshot, one) == parts(shuffled, two)
    assert (one.loops == two.loops).all()


@LAW
@given(campuses(), st.data())
def test_a_run_less_never_joins_anything(snapshot: Snapshot, data: st.DataObject) -> None:
    if not len(snapshot.runs):
        return
    run = data.draw(st.integers(0, len(snapshot.runs) - 1))
    before = parts(snapshot, find_segments(snapshot))
    less = without_run(snapshot, run)
    after = parts(less, find_segments(less))
    nodes = [{node for node, _ in part} for part in before]
    assert all(any({node for node, _ in part} <= whole for whole in nodes) for part in after)


@LAW
@given(campuses())
def test_every_side_and_every_whole_run_is_in_exactly_one_segment(snapshot: Snapshot) -> None:
    segments = find_segments(snapshot)
    assert len(segments.side_node) == segments.first_side[-1] == len(segments.label)
    whole = (snapshot.runs.from_node >= 0) & (snapshot.runs.to_node >= 0)
    assert sorted(segments.run.tolist()) == np.flatnonzero(whole).tolist()
    assert (segments.label[segments.tail] == segments.label[segments.head]).all()
    claimed = int((snapshot.nodes.bus >= 0).sum())
    assert len(segments.label) >= claimed
