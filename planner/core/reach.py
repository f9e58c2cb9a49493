"""How far the draw or the length could grow before a load falls below its lowest supply.

Voltages depend on resistance and power only through their product, so that one factor answers both: all loads times
k, or all lengths times k.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from planner.core.power import Flags, Floats, Ints, PowerState, Small, solve

DOUBLINGS = 40  # beyond a million million times there is no wire worth speaking of
HALVINGS = 40  # of the last doubling: the factor is good to 1e-12


def growth_of_one(source_v: ArrayLike, loop_ohm: ArrayLike, power_w: ArrayLike, lowest_v: ArrayLike) -> Floats:
    """Return the factor by which one load's draw or its wire's length may grow; below 1 it is too much already.

    Parameters
    ----------
    source_v, loop_ohm, power_w, lowest_v : array_like, shapes that broadcast
        Source voltage [V], resistance out and back [ohm], power drawn [W], lowest supply of the load [V].

    Returns
    -------
    numpy.ndarray
        Factor; infinite where nothing is drawn or nothing resists, 0 where the source itself is too low.

    Raises
    ------
    ValueError
        If an input is negative or not finite.

    References
    ----------
    P R = V (Vs - V), greatest at V = Vs / 2. Check: IEEE 802.3 class 3 stands at 37 V, so that 37 V leaves no growth.

    Examples
    --------
    >>> growth_of_one(44.0, 20.0, 12.95, 37.0)
    array(1.)

    """
    names = ("source_v", "loop_ohm", "power_w", "lowest_v")
    values = [np.asarray(value, dtype=np.float64) for value in (source_v, loop_ohm, power_w, lowest_v)]
    for name, value in zip(names, values, strict=True):
        if not np.all(np.isfinite(value) & (value >= 0.0)):
            raise ValueError(f"{name} must be 0 or more, and finite")
    source, ohms, watts, lowest = values
    target = np.maximum(lowest, source / 2.0)
    most, product = np.broadcast_arrays(target * np.maximum(source - target, 0.0), ohms * watts)
    grown = np.divide(most, product, out=np.full(product.shape, np.inf), where=product > 0.0)
    return np.asarray(np.where(lowest > source, 0.0, grown))


def headroom(
    *,
    segment: Ints,
    tail: Ints,
    head: Ints,
    loop_ohm: Floats,
    source: Ints,
    source_v: Floats,
    load_w: Floats,
    lowest_v: Floats,
) -> Floats:
    """Return, for each segment, the factor by which all draws or all lengths may grow before a load falls too low.

    Parameters
    ----------
    segment, tail, head, loop_ohm, source, source_v, load_w
        As for `planner.core.power.solve`.
    lowest_v : float[v]
        Lowest supply of each load [V]; NaN demands no more than that an operating point exists.

    Returns
    -------
    numpy.ndarray
        float64[s]; NaN where source, resistance or load is not known, infinite where no growth is too much, 0 where
        the source itself is too low.

    Raises
    ------
    ValueError
        As `solve`; or if `lowest_v` is negative or infinite.

    Examples
    --------
    >>> headroom(
    ...     segment=np.zeros(2, dtype=np.int32), tail=np.array([0], dtype=np.int32), head=np.array([1], dtype=np.int32),
    ...     loop_ohm=np.array([10.0]), source=np.array([0], dtype=np.int32), source_v=np.array([44.0]),
    ...     load_w=np.array([0.0, 12.95]), lowest_v=np.array([np.nan, 37.0]),
    ... ).round(9)
    array([2.])

    """
    lowest = np.asarray(lowest_v, dtype=np.float64)
    if np.any((lowest < 0.0) | np.isinf(lowest)):
        raise ValueError("lowest_v must be 0 or more, and finite; NaN for none")
    wiring = _Wiring(
        segment=segment, tail=tail, head=head, loop_ohm=loop_ohm, source=source, source_v=source_v, load_w=load_w
    )
    low, high = np.zeros(np.size(source_v)), np.ones(np.size(source_v))
    state, good = wiring.holds(high, lowest)
    known = np.isin(state, (PowerState.SOLVED, PowerState.NO_OPERATING_POINT))
    for _ in range(DOUBLINGS):
        low, high = np.where(good, high, low), np.where(good, 2.0 * high, high)
        if not np.any(good):
            break
        good &= wiring.holds(high, lowest)[1]
    endless = good
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        _, holds = wiring.holds(middle, lowest)
        low, high = np.where(holds, middle, low), np.where(holds, high, middle)
    return np.where(known, np.where(endless, np.inf, low), np.nan)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wiring:
    """The arguments of `solve`, to be solved again with grown loads."""

    segment: Ints
    tail: Ints
    head: Ints
    loop_ohm: Floats
    source: Ints
    source_v: Floats
    load_w: Floats

    def holds(self, factor: Floats, lowest_v: Floats) -> tuple[Small, Flags]:
        """Return the states, and whether every load stands at its lowest supply with loads grown by `factor`."""
        result = solve(
            segment=self.segment,
            tail=self.tail,
            head=self.head,
            loop_ohm=self.loop_ohm,
            source=self.source,
            source_v=self.source_v,
            load_w=np.asarray(self.load_w) * factor[self.segment],
        )
        good = result.state == PowerState.SOLVED
        good[self.segment[result.voltage_v < lowest_v]] = False
        return result.state, np.asarray(good)
