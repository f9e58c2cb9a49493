"""Voltages of whole campuses at once: constant-power loads behind resistance, every segment in the same arrays.

Stations have switching converters: they draw constant power, so that current rises as voltage falls. Trees are
solved in `trees`, one after another, and so are rings. What that cannot do (several loops, loads next to the edge of
what the wire can deliver) goes to nodal analysis in `nodal`. Where no operating point exists there is no number.
"""

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.core.compiled import compiled
from planner.core.forest import Forest, grow
from planner.core.grouped import begins_of, order_by
from planner.core.nodal import solve_nodes
from planner.core.trees import HOPELESS, LEFT, solve_trees

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Small = NDArray[np.int8]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


class PowerState(IntEnum):
    """What became of one segment."""

    SOLVED = 0
    NO_SOURCE = 1
    NO_OPERATING_POINT = 2
    UNKNOWN_RESISTANCE = 3
    UNKNOWN_LOAD = 4
    UNKNOWN_SOURCE_VOLTAGE = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerResult:
    """Operating points of s segments with v vertices and e edges; NaN where there is no number.

    voltage_v : float64[v], NaN too where no edge leads to the source. current_a : float64[e], positive from tail to
    head. source_current_a, loss_w : float64[s], current out of the source and power lost in its wires. state :
    int8[s], codes of PowerState.
    """

    voltage_v: Floats
    current_a: Floats
    source_current_a: Floats
    loss_w: Floats
    state: Small


def load_voltage(source_v: ArrayLike, loop_ohm: ArrayLike, power_w: ArrayLike) -> Floats:
    """Return the voltage at a constant-power load fed through a resistance.

    Parameters
    ----------
    source_v, loop_ohm, power_w : array_like, shapes that broadcast
        Source voltage [V], resistance out and back [ohm], power drawn [W].

    Returns
    -------
    numpy.ndarray
        Voltage at the load [V]; NaN where no operating point exists.

    Raises
    ------
    ValueError
        If an input is negative or not finite.

    References
    ----------
    Upper root of V^2 - Vs V + P R = 0. Check: IEEE 802.3 class 3, 44 V, 20 ohm, 12.95 W gives 37 V.

    Examples
    --------
    >>> load_voltage(44.0, 20.0, 12.95)
    array(37.)

    """
    volts, ohms, watts = (np.asarray(value, dtype=np.float64) for value in (source_v, loop_ohm, power_w))
    for name, value in (("source_v", volts), ("loop_ohm", ohms), ("power_w", watts)):
        _refuse(name, value, may_be_unknown=False)
    discriminant = np.asarray(volts * volts - 4.0 * ohms * watts)
    root = np.sqrt(np.where(discriminant >= 0.0, discriminant, np.nan))
    return np.asarray((volts + root) / 2.0)


def solve(
    *,
    segment: Ints | Longs,
    tail: Ints | Longs,
    head: Ints | Longs,
    loop_ohm: Floats,
    source: Ints | Longs,
    source_v: Floats,
    load_w: Floats,
) -> PowerResult:
    """Return the operating points of all segments at once.

    Parameters
    ----------
    segment : int[v]
        Segment of each vertex, 0 to s - 1.
    tail, head : int[e]
        Vertices that each edge joins; both lie in one segment.
    loop_ohm : float[e]
        Resistance out and back of each edge [ohm]; 0 is allowed, NaN is not known.
    source : int[s]
        Vertex that feeds each segment, -1 for none.
    source_v : float[s]
        Voltage there [V]; NaN is not known.
    load_w : float[v]
        Constant power drawn at each vertex [W]; NaN is not known.

    Returns
    -------
    PowerResult
        The upper operating point of each segment (the one that a supply switched on at no load reaches).

    Raises
    ------
    ValueError
        If lengths differ, an index is out of range, an edge joins two segments, a source lies outside its segment,
        or a value is negative or infinite; the message names the first offender.

    References
    ----------
    Kirchhoff's laws by Newton's method from no drop downwards, so that it reaches the highest solution or none:
    elimination from the leaves on trees, nodal analysis elsewhere.

    Examples
    --------
    IEEE 802.3 class 3: 12.95 W behind 20 ohm from 44 V stands at 37 V and draws 0.35 A.

    >>> result = solve(
    ...     segment=np.zeros(2, dtype=np.int32), tail=np.array([0], dtype=np.int32), head=np.array([1], dtype=np.int32),
    ...     loop_ohm=np.array([20.0]), source=np.array([0], dtype=np.int32), source_v=np.array([44.0]),
    ...     load_w=np.array([0.0, 12.95]),
    ... )
    >>> result.voltage_v.round(6), result.current_a.round(6)
    (array([44., 37.]), array([0.35]))

    """
    campus = _Campus(
        segment=np.asarray(segment, dtype=np.int64),
        tail=np.asarray(tail, dtype=np.int64),
        head=np.asarray(head, dtype=np.int64),
        loop_ohm=np.asarray(loop_ohm, dtype=np.float64),
        source=np.asarray(source, dtype=np.int64),
        source_v=np.asarray(source_v, dtype=np.float64),
        load_w=np.asarray(load_w, dtype=np.float64),
    )
    _check(campus)
    state = _first_state(campus)
    forest = _forest(campus, state == PowerState.SOLVED)
    voltage, current, left = _solve_trees(campus, forest, state)
    _solve_the_rest(campus, forest, left, voltage=voltage, current=current, state=state)
    return _result(campus, forest, voltage, current, state)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Campus:
    """The arguments of `solve`, with integers wide enough to index."""

    segment: Longs
    tail: Longs
    head: Longs
    loop_ohm: Floats
    source: Longs
    source_v: Floats
    load_w: Floats


def _refuse(name: str, values: Floats, *, may_be_unknown: bool = True) -> None:
    wrong = (values < 0.0) | np.isinf(values)
    if not may_be_unknown:
        wrong = wrong | np.isnan(values)
    if np.any(wrong):
        place = np.flatnonzero(wrong)[0]
        at = f"[{place}]" if values.ndim else ""
        raise ValueError(f"{name}{at} is {values.ravel()[place]}: must be 0 or more, and finite")


def _refuse_outside(name: str, index: Longs, lowest: int, count: int) -> None:
    wrong = (index < lowest) | (index >= count)
    if np.any(wrong):
        place = np.flatnonzero(wrong)[0]
        raise ValueError(f"{name}[{place}] is {index[place]}: must lie from {lowest} to {count - 1}")


def _check(campus: _Campus) -> None:
    for one, other, names in (
        (campus.segment, campus.load_w, "segment and load_w"),
        (campus.tail, campus.head, "tail and head"),
        (campus.tail, campus.loop_ohm, "tail and loop_ohm"),
        (campus.source, campus.source_v, "source and source_v"),
    ):
        if one.shape != other.shape or one.ndim != 1:
            raise ValueError(f"{names} must be one-dimensional and of one length, not {one.shape} and {other.shape}")
    vertices, segments = campus.segment.size, campus.source.size
    _refuse_outside("segment", campus.segment, 0, segments)
    _refuse_outside("tail", campus.tail, 0, vertices)
    _refuse_outside("head", campus.head, 0, vertices)
    _refuse_outside("source", campus.source, -1, vertices)
    for name, values in (("loop_ohm", campus.loop_ohm), ("source_v", campus.source_v), ("load_w", campus.load_w)):
        _refuse(name, values)
    across = np.flatnonzero(campus.segment[campus.tail] != campus.segment[campus.head])
    if across.size:
        raise ValueError(f"edge {across[0]} joins two segments")
    fed = np.flatnonzero(campus.source >= 0)
    strays = fed[campus.segment[campus.source[fed]] != fed]
    if strays.size:
        raise ValueError(f"source[{strays[0]}] is vertex {campus.source[strays[0]]}, which lies in another segment")


def _first_state(campus: _Campus) -> Small:
    """Return SOLVED for what can be solved, else the first fact that is missing."""
    state = np.full(campus.source.size, PowerState.SOLVED, dtype=np.int8)
    state[campus.segment[np.isnan(campus.load_w)]] = PowerState.UNKNOWN_LOAD
    state[campus.segment[campus.tail[np.isnan(campus.loop_ohm)]]] = PowerState.UNKNOWN_RESISTANCE
    state[np.isnan(campus.source_v)] = PowerState.UNKNOWN_SOURCE_VOLTAGE
    state[campus.source < 0] = PowerState.NO_SOURCE
    return state


def _forest(campus: _Campus, live: Flags) -> Forest:
    """Take the wiring of all segments that can be solved apart, towards their sources."""
    walked = live[campus.segment[campus.tail]]
    forest = grow(campus.tail, campus.head, walked, campus.source[live], campus.segment.size)
    owner = campus.segment[forest.order].astype(np.int64)
    order = forest.order[order_by(owner, campus.source.size)]
    return replace(forest, order=order)


def _solve_trees(campus: _Campus, forest: Forest, state: Small) -> tuple[Floats, Floats, Flags]:
    """Return voltage [v], current [e] of all trees and rings, and which segments are left for nodal analysis."""
    segments = campus.source.size
    owner = campus.segment[campus.tail[forest.chord]]
    chord = np.full(segments, -1)
    chord[owner] = forest.chord
    left = np.bincount(owner, minlength=segments) > 1
    first = begins_of(np.bincount(campus.segment[forest.order], minlength=segments).astype(np.int64))
    root = np.where((state == PowerState.SOLVED) & ~left, campus.source, -1)
    edges, feeds = (campus.tail, campus.head, campus.loop_ohm), (root, campus.source_v, chord)
    voltage, current, found = solve_trees(forest, first, edges, campus.load_w, feeds)
    state[found == HOPELESS] = PowerState.NO_OPERATING_POINT
    return voltage, current, left | (found == LEFT)


def _solve_the_rest(
    campus: _Campus, forest: Forest, left: Flags, *, voltage: Floats, current: Floats, state: Small
) -> None:
    """Solve the segments that the sweep left, and write what comes out into `voltage`, `current` and `state`."""
    if not np.any(left):
        return
    vertices = np.flatnonzero(forest.reached & left[campus.segment])
    wired = forest.reached[campus.tail] & (campus.tail != campus.head)
    edges = np.flatnonzero(wired & left[campus.segment[campus.tail]])
    place = np.full(campus.segment.size, -1, dtype=np.int64)
    place[vertices] = np.arange(vertices.size)
    label = np.cumsum(left) - 1
    volts, amps, stands = solve_nodes(
        segment=label[campus.segment[vertices]],
        tail=place[campus.tail[edges]],
        head=place[campus.head[edges]],
        loop_ohm=campus.loop_ohm[edges],
        source=place[campus.source[left]],
        source_v=campus.source_v[left],
        load_w=campus.load_w[vertices],
    )
    voltage[vertices] = volts
    current[edges] = amps
    state[np.flatnonzero(left)[~stands]] = PowerState.NO_OPERATING_POINT


def _result(campus: _Campus, forest: Forest, voltage: Floats, current: Floats, state: Small) -> PowerResult:
    solved = state == PowerState.SOLVED
    amps, lost = np.zeros(campus.source.size), np.zeros(campus.source.size)
    _sum_loads(campus.segment, campus.load_w, forest.reached, solved, voltage, amps)
    _sum_losses(campus.segment, (campus.tail, campus.head), campus.loop_ohm, forest.reached, solved, current, lost)
    return PowerResult(
        voltage_v=voltage,
        current_a=current,
        source_current_a=np.where(solved, amps, np.nan),
        loss_w=np.where(solved, lost, np.nan),
        state=state,
    )


@compiled
def _sum_loads(  # noqa: PLR0917 - columns
    segment: Longs, load_w: Floats, reached: Flags, solved: Flags, voltage: Floats, amps: Floats
) -> None:
    """Add up the currents of the loads of each segment; blank the voltages of those that are not solved."""
    for vertex in range(segment.size):
        label = segment[vertex]
        if not solved[label]:
            voltage[vertex] = np.nan
        elif reached[vertex] and load_w[vertex] > 0.0:
            amps[label] += load_w[vertex] / voltage[vertex]


@compiled
def _sum_losses(  # noqa: PLR0917 - columns
    segment: Longs, ends: tuple[Longs, Longs], ohm: Floats, reached: Flags, solved: Flags, current: Floats, lost: Floats
) -> None:
    """Add up what the edges of each segment lose; blank the currents of those that are not solved."""
    tail, head = ends
    for edge in range(ohm.size):
        label = segment[tail[edge]]
        if not (solved[label] and reached[tail[edge]]):
            current[edge] = np.nan
        elif tail[edge] == head[edge]:
            current[edge] = 0.0
        else:
            lost[label] += current[edge] * current[edge] * ohm[edge]
