"""Voltages of whole campuses at once: constant-power loads behind resistance, every segment in the same arrays.

Stations have switching converters: they draw constant power, so that current rises as voltage falls. Trees are
solved by a sweep (currents summed towards the source, drops added away from it) level by level over all segments
together. What a sweep cannot do, or not fast enough (wiring loops, very deep lines, loads near the edge of what the
wire can deliver), goes to nodal analysis in `nodal`. Where no operating point exists there is no number.
"""

from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from planner.core.nodal import solve_nodes

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Small = NDArray[np.int8]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

CONVERGED_V = 1e-10  # change of the last sweep; the rate of SWEEPS sweeps keeps what is left below 1e-9 V
SWEEPS = 30
SWEEP_LEVELS = 200  # deeper trees cost less in nodal analysis than level by level


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
    segment: Ints,
    tail: Ints,
    head: Ints,
    loop_ohm: Floats,
    source: Ints,
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
    Backward and forward sweep on trees; Kirchhoff's laws by nodal analysis elsewhere. The sweep starts from no drop
    and falls, so that it reaches the highest solution or none.

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
    voltage, current, left = _sweep(campus, forest)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Forest:
    """All that the sources reach, in breadth-first order.

    order : vertex at each place. parent : place of the vertex it is fed from (roots: their own place). edge : the
    edge from there (-1 at roots). bounds : first place of each level, and the end. reached : bool[v]. by_nodes :
    bool[s], segments that are no tree or too deep for the sweep.
    """

    order: Longs
    parent: Longs
    edge: Longs
    bounds: list[int]
    reached: Flags
    by_nodes: Flags


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


def _forest(campus: _Campus, live: Flags) -> _Forest:
    """Walk out from all sources at once, from one vertex that is joined to each of them."""
    count = campus.segment.size
    roots = campus.source[live]
    used = live[campus.segment[campus.tail]] & (campus.tail != campus.head)
    tail, head = campus.tail[used], campus.head[used]
    rows = np.concatenate([tail, head, np.full(roots.size, count)])
    columns = np.concatenate([head, tail, roots])
    graph = csr_array((np.ones(rows.size), (rows, columns)), shape=(count + 1, count + 1))
    walk, before = breadth_first_order(graph, count, directed=True, return_predecessors=True)
    order = np.asarray(walk[1:], dtype=np.int64)
    place = np.full(count + 1, -1, dtype=np.int64)
    place[order] = np.arange(order.size)
    parent = place[before[order]]
    is_root = parent < 0
    parent[is_root] = np.flatnonzero(is_root)
    edge = _edge_from_parent(campus, np.flatnonzero(used), before)[order]
    bounds = _levels(parent, int(np.count_nonzero(is_root)))
    reached = place[:count] >= 0
    deep = order[bounds[-1] :]
    by_nodes = _has_loop(campus, used, reached)
    by_nodes[campus.segment[deep]] = True
    return _Forest(order=order, parent=parent, edge=edge, bounds=bounds, reached=reached, by_nodes=by_nodes)


def _edge_from_parent(campus: _Campus, used: Longs, before: Ints) -> Longs:
    """Return, for each vertex, the edge that joins it to the vertex it was reached from; -1 for none."""
    edge = np.full(campus.segment.size, -1, dtype=np.int64)
    tail, head = campus.tail[used], campus.head[used]
    for child, other in ((head, tail), (tail, head)):
        joins = before[child] == other
        edge[child[joins]] = used[joins]
    return edge


def _levels(parent: Longs, roots: int) -> list[int]:
    """Return where each level begins, and the end; at most SWEEP_LEVELS of them.

    Breadth-first order keeps parents in order too, so that a level ends where parents leave the level before.
    """
    bounds = [0, roots]
    while bounds[-1] < parent.size and len(bounds) <= SWEEP_LEVELS:
        bounds.append(int(np.searchsorted(parent[roots:], bounds[-1], side="left")) + roots)
    return bounds


def _has_loop(campus: _Campus, used: Flags, reached: Flags) -> Flags:
    """Tell which segments have as many edges as vertices, or more, in the part that the source reaches."""
    segments = campus.source.size
    vertices = np.bincount(campus.segment[reached], minlength=segments)
    wired = campus.tail[used & reached[campus.tail]]
    edges = np.bincount(campus.segment[wired], minlength=segments)
    return np.asarray((edges >= vertices) & (vertices > 0))


def _sweep(campus: _Campus, forest: _Forest) -> tuple[Floats, Floats, Flags]:
    """Return voltage [v], current [e] by sweeps over all trees, and which segments are left for nodal analysis."""
    order, parent, bounds = forest.order, forest.parent, forest.bounds
    owner = campus.segment[order]
    ohm = np.where(forest.edge >= 0, campus.loop_ohm[forest.edge], 0.0) if campus.tail.size else np.zeros(order.size)
    load = np.where(forest.by_nodes[owner], 0.0, campus.load_w[order])
    volts = campus.source_v[owner]
    left = forest.by_nodes.copy()
    open_ = ~left
    groups = _groups(parent, bounds)
    for _ in range(SWEEPS):
        fresh = _drops(_sums(load, volts, groups, bounds), ohm, volts, parent, bounds)
        left[owner[(fresh <= 0.0) & (load > 0.0)]] = True
        moved = owner[np.abs(fresh - volts) > CONVERGED_V]
        volts = np.where(open_[owner], fresh, volts)  # a settled segment must not depend on how long others take
        open_[:] = False
        open_[moved] = True
        open_ &= ~left
        if not np.any(open_):
            break
        load[left[owner]] = 0.0
    left |= open_
    amps = _sums(load, volts, groups, bounds)
    voltage = np.full(campus.segment.size, np.nan)
    voltage[order] = volts
    return voltage, _edge_currents(campus, forest, amps), left


def _groups(parent: Longs, bounds: list[int]) -> list[tuple[Longs, Longs]]:
    """Return, for each level but the first, the places fed from the level before and where their feeds begin."""
    groups = []
    for start, stop in pairwise(bounds[1:]):
        above = parent[start:stop]
        begins = np.concatenate([[0], np.flatnonzero(np.diff(above)) + 1])
        groups.append((above[begins], begins))
    return groups


def _sums(load: Floats, volts: Floats, groups: list[tuple[Longs, Longs]], bounds: list[int]) -> Floats:
    """Sum the currents of the loads towards the roots."""
    amps = np.divide(load, volts, out=np.zeros_like(load), where=(load > 0.0) & (volts > 0.0))
    for (above, begins), (start, stop) in zip(groups[::-1], [*pairwise(bounds[1:])][::-1], strict=True):
        amps[above] += np.add.reduceat(amps[start:stop], begins)
    return amps


def _drops(amps: Floats, ohm: Floats, volts: Floats, parent: Longs, bounds: list[int]) -> Floats:
    """Take the drops off the voltages, away from the roots."""
    drop = ohm * amps
    fresh = volts.copy()
    for start, stop in pairwise(bounds[1:]):
        fresh[start:stop] = fresh[parent[start:stop]] - drop[start:stop]
    return fresh


def _edge_currents(campus: _Campus, forest: _Forest, amps: Floats) -> Floats:
    current = np.full(campus.tail.size, np.nan)
    fed = forest.edge >= 0
    edge = forest.edge[fed]
    outward = campus.head[edge] == forest.order[fed]
    current[edge] = np.where(outward, amps[fed], -amps[fed])
    return current


def _solve_the_rest(
    campus: _Campus, forest: _Forest, left: Flags, *, voltage: Floats, current: Floats, state: Small
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


def _result(campus: _Campus, forest: _Forest, voltage: Floats, current: Floats, state: Small) -> PowerResult:
    solved = state == PowerState.SOLVED
    segments = campus.source.size
    owner = campus.segment[campus.tail]
    wired = solved[owner] & forest.reached[campus.tail]
    current = np.where(wired, np.where(campus.tail == campus.head, 0.0, current), np.nan)
    voltage = np.where(solved[campus.segment], voltage, np.nan)
    drawing = np.flatnonzero(forest.reached & solved[campus.segment] & (campus.load_w > 0.0))
    load_w = campus.load_w[drawing]
    amps = np.bincount(campus.segment[drawing], weights=load_w / voltage[drawing], minlength=segments)
    lost = np.bincount(owner[wired], weights=(current * current * campus.loop_ohm)[wired], minlength=segments)
    return PowerResult(
        voltage_v=voltage,
        current_a=current,
        source_current_a=np.where(solved, amps, np.nan),
        loss_w=np.where(solved, lost, np.nan),
        state=state,
    )
