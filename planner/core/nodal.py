"""Nodal analysis of resistive networks with constant-power loads: any wiring, loops and parallel runs included.

Newton's method from the source voltage downwards. The currents that must vanish are convex in the voltages and their
Jacobian is a Z-matrix, so that the steps fall towards the highest operating point and never pass it while the
Jacobian stays an M-matrix; where it ceases to be one, or a voltage reaches zero, no operating point exists.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, diags_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import SuperLU, splu

Longs = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

STEPS = 100  # a double root takes about 30, any other fewer than 10
CONVERGED_V = 1e-10
ROUNDING = 16.0 * float(np.finfo(np.float64).eps)
NUDGES = (0.0, 1.0, 4.0, 16.0, 64.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Network:
    """Vertices joined without resistance are one point; points that no source holds are free.

    point : int64[v]. tail, head, siemens : edges between two points. free : points to solve for. segment : of each
    point. load_w, held_v : of each point, `held_v` the source voltage of its segment. matrix : conductances
    between free points. noise_a : what rounding can leave at each free point.
    """

    point: Longs
    tail: Longs
    head: Longs
    siemens: Floats
    free: Longs
    segment: Longs
    load_w: Floats
    held_v: Floats
    matrix: csc_array
    noise_a: Floats


def solve_nodes(
    *,
    segment: Longs,
    tail: Longs,
    head: Longs,
    loop_ohm: Floats,
    source: Longs,
    source_v: Floats,
    load_w: Floats,
) -> tuple[Floats, Floats, Flags]:
    """Return voltage of each vertex [V], current of each edge [A], and which segments have an operating point.

    Parameters
    ----------
    segment : int64[v]
        Segment of each vertex; all vertices of a segment hang together.
    tail, head, loop_ohm : int64[e], int64[e], float64[e]
        Edges and their resistance out and back [ohm]; 0 is allowed.
    source, source_v : int64[s], float64[s]
        Vertex that feeds each segment, and its voltage [V].
    load_w : float64[v]
        Constant power drawn [W].

    Returns
    -------
    tuple
        float64[v], float64[e] (positive from tail to head), bool[s]. Numbers of a segment without operating
        point mean nothing. Current divides between paths without resistance as if they all had the same.

    References
    ----------
    Ortega & Rheinboldt, Iterative Solution of Nonlinear Equations in Several Variables, 1970, section 13.3
    (monotone Newton iteration on convex functions); from memory.

    Examples
    --------
    Two equal runs in parallel halve the resistance: 802.3 class 3 over twice 40 ohm.

    >>> volts, amps, stands = solve_nodes(
    ...     segment=np.array([0, 0]), tail=np.array([0, 0]), head=np.array([1, 1]), loop_ohm=np.array([40.0, 40.0]),
    ...     source=np.array([0]), source_v=np.array([44.0]), load_w=np.array([0.0, 12.95]),
    ... )
    >>> volts.round(6), amps.round(6), stands
    (array([44., 37.]), array([0.175, 0.175]), array([ True]))

    """
    network = _contract(segment, tail, head, loop_ohm=loop_ohm, source=source, source_v=source_v, load_w=load_w)
    point_v, stands = _newton(network, source.size)
    volts = point_v[network.point]
    amps = np.zeros(tail.size)
    resistive = loop_ohm > 0.0
    amps[resistive] = (volts[tail] - volts[head])[resistive] / loop_ohm[resistive]
    drawn = _ratio(load_w, volts)
    amps[~resistive] = _shared_currents(tail, head, amps, short=~resistive, source=source, drawn=drawn)
    return volts, amps, stands


def _ratio(load_w: Floats, volts: Floats) -> Floats:
    return np.divide(load_w, volts, out=np.zeros_like(volts), where=(load_w > 0.0) & (volts > 0.0))


def _sums(place: Longs, values: Floats, count: int) -> Floats:
    return np.bincount(place, weights=values, minlength=count).astype(np.float64)


def _contract(
    segment: Longs, tail: Longs, head: Longs, *, loop_ohm: Floats, source: Longs, source_v: Floats, load_w: Floats
) -> _Network:
    short = loop_ohm == 0.0
    joins = coo_array((np.ones(int(short.sum())), (tail[short], head[short])), shape=(segment.size, segment.size))
    count, labels = connected_components(joins, directed=False)
    point = labels.astype(np.int64)
    joined = point[tail] != point[head]
    ends = point[tail[joined]], point[head[joined]]
    siemens = 1.0 / loop_ohm[joined]
    owner = np.zeros(count, dtype=np.int64)
    owner[point] = segment
    is_free = np.ones(count, dtype=np.bool_)
    is_free[point[source]] = False
    free = np.flatnonzero(is_free)
    total = _sums(ends[0], siemens, count) + _sums(ends[1], siemens, count)
    held = source_v[owner]
    return _Network(
        point=point,
        tail=ends[0],
        head=ends[1],
        siemens=siemens,
        free=free,
        segment=owner,
        load_w=_sums(point, load_w, count),
        held_v=held,
        matrix=_conductances(ends, siemens, total, free),
        noise_a=np.maximum(ROUNDING * total * held, np.finfo(np.float64).tiny)[free],
    )


def _conductances(ends: tuple[Longs, Longs], siemens: Floats, total: Floats, free: Longs) -> csc_array:
    count = total.size
    between = coo_array((-siemens, ends), shape=(count, count)).tocsc()
    return csc_array((between + between.T + diags_array(total)).tocsc()[free][:, free])


def _newton(network: _Network, segments: int) -> tuple[Floats, Flags]:
    """Return voltage of each point and which segments have an operating point."""
    volts = network.held_v.copy()
    owner = network.segment[network.free]
    stands = np.ones(segments, dtype=np.bool_)
    stands[network.segment[(network.load_w > 0.0) & (network.held_v == 0.0)]] = False
    open_ = np.bincount(owner, minlength=segments).astype(np.bool_) & stands
    for _ in range(STEPS):
        if not np.any(open_):
            break
        keep = np.flatnonzero(open_[owner])
        at = network.free[keep]
        step, slack = _step(network, volts, keep)
        fresh = volts[at] - step
        broken = (slack <= 0.0) | ((fresh <= 0.0) & (volts[at] > 0.0))
        moving = np.abs(step) > np.maximum(CONVERGED_V, slack)
        volts[at] = np.where(broken, volts[at], fresh)
        stands[owner[keep[broken]]] = False
        still = np.zeros(segments, dtype=np.bool_)
        still[owner[keep[moving]]] = True
        open_ = still & stands
    stands[open_] = False
    return volts, stands


def _step(network: _Network, volts: Floats, keep: Longs) -> tuple[Floats, Floats]:
    """Return Newton's step [V] at the kept free points, and the part of it that rounding alone can make.

    That part solves J x = noise > 0: it is positive throughout exactly while J is an M-matrix.
    """
    at = network.free[keep]
    flow = (volts[network.tail] - volts[network.head]) * network.siemens
    count = volts.size
    leaving = _sums(network.tail, flow, count) - _sums(network.head, flow, count)
    drawn = _ratio(network.load_w[at], volts[at])
    slope = _ratio(drawn, volts[at])
    factors = _factor(network.matrix[keep][:, keep], slope)
    return factors.solve(leaving[at] + drawn), factors.solve(network.noise_a[keep])


def _factor(matrix: csc_array, slope: Floats) -> SuperLU:
    """Factor matrix - diag(slope); a slope that makes it singular to the last bit is nudged past that."""
    diagonal = matrix.diagonal()
    for nudge in NUDGES:
        jacobian = csc_array(matrix - diags_array(slope + nudge * ROUNDING * diagonal))
        try:
            return _lu(jacobian)
        except RuntimeError:  # exactly singular
            continue
    raise ArithmeticError("the conductance matrix stays singular: some vertex has no path to its source")


def _lu(matrix: csc_array) -> SuperLU:
    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def _shared_currents(tail: Longs, head: Longs, amps: Floats, *, short: Flags, source: Longs, drawn: Floats) -> Floats:
    """Return the currents in edges without resistance, divided as if each had one ohm.

    What flows into a set of vertices joined without resistance must leave through its loads and other edges; one
    vertex of each set (the source, where it is there) takes up the balance.
    """
    if not np.any(short):
        return np.zeros(0)
    count = drawn.size
    ends = tail[short], head[short]
    arriving = _sums(head, amps, count) - _sums(tail, amps, count)
    between = coo_array((np.ones(ends[0].size), ends), shape=(count, count)).tocsr()
    between = between + between.T
    sets, label = connected_components(between, directed=False)
    ground = np.zeros(sets, dtype=np.int64)
    ground[label] = np.arange(count)
    ground[label[source]] = source
    is_free = np.ones(count, dtype=np.bool_)
    is_free[ground] = False
    free = np.flatnonzero(is_free)
    laplacian = csc_array(diags_array(np.asarray(between.sum(axis=1)).ravel()) - between)
    level = np.zeros(count)
    if free.size:
        level[free] = _lu(csc_array(laplacian[free][:, free])).solve((arriving - drawn)[free])
    return np.asarray(level[ends[0]] - level[ends[1]])
