"""Networks for tests of the voltage solve: one load on one wire, and random trees, rings and meshes from a seed."""

from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from planner.core.power import PowerResult, PowerState, solve

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]


class Wiring(TypedDict):
    """The arguments of the solve."""

    segment: Ints
    tail: Ints
    head: Ints
    loop_ohm: Floats
    source: Ints
    source_v: Floats
    load_w: Floats


def one_load(source_v: float, loop_ohm: float, load_w: float) -> Wiring:
    return Wiring(
        segment=np.zeros(2, dtype=np.int32),
        tail=np.array([0], dtype=np.int32),
        head=np.array([1], dtype=np.int32),
        loop_ohm=np.array([loop_ohm]),
        source=np.array([0], dtype=np.int32),
        source_v=np.array([source_v]),
        load_w=np.array([0.0, load_w]),
    )


def random_wiring(seed: int, *, vertices: int, extra_edges: int = 0, source_v: float = 24.0) -> Wiring:
    """Return one segment: a random tree with some edges more, loads light enough that it stands."""
    rng = np.random.default_rng(seed)
    head = np.arange(1, vertices)
    tail = (rng.random(vertices - 1) * head).astype(np.int32)
    more = rng.integers(0, vertices, size=(2, extra_edges))
    more[1] = np.where(more[0] == more[1], (more[1] + 1) % vertices, more[1])
    edges = vertices - 1 + extra_edges
    return Wiring(
        segment=np.zeros(vertices, dtype=np.int32),
        tail=np.concatenate([tail, more[0]]).astype(np.int32),
        head=np.concatenate([head, more[1]]).astype(np.int32),
        loop_ohm=rng.uniform(0.05, 1.0, edges),
        source=np.array([rng.integers(0, vertices)], dtype=np.int32),
        source_v=np.array([source_v]),
        load_w=rng.uniform(0.0, 2.0, vertices),
    )


def solved(wiring: Wiring) -> PowerResult:
    """Solve, and insist on an operating point."""
    result = solve(**wiring)
    assert set(result.state) == {PowerState.SOLVED}
    return result


def many(wirings: list[Wiring]) -> Wiring:
    """Put networks side by side into one campus, in order."""
    sizes = np.cumsum([0, *(wiring["segment"].size for wiring in wirings)])
    segments = np.cumsum([0, *(wiring["source"].size for wiring in wirings)])

    def joined(name: str, shifts: NDArray[np.int64]) -> Ints:
        parts = [wiring[name] + shift for wiring, shift in zip(wirings, shifts, strict=False)]  # type: ignore[literal-required]
        return np.concatenate(parts).astype(np.int32)

    return Wiring(
        segment=joined("segment", segments),
        tail=joined("tail", sizes),
        head=joined("head", sizes),
        loop_ohm=np.concatenate([wiring["loop_ohm"] for wiring in wirings]),
        source=joined("source", sizes),
        source_v=np.concatenate([wiring["source_v"] for wiring in wirings]),
        load_w=np.concatenate([wiring["load_w"] for wiring in wirings]),
    )
