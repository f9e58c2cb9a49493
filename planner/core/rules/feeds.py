"""Voltages and currents of every trial at once, without and with local supplies."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.core.power import PowerState, solve
from planner.core.rules.after import Trials
from planner.core.rules.columns import ModelColumns

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Feeds:
    """What feeds each trial and what arrives.

    sources, source : int64[t], how many sides feed it, and which one where it is one (else -1). voltage_v :
    float64[s]; current_a : float64[w]; source_a, loss_w, load_w : float64[t]; state : int8[t], codes of PowerState.
    Facts that are not known count as nothing, so that these are the best values they can take; known : bool[t]
    tells where none is missing.
    """

    sources: Longs
    source: Longs
    voltage_v: Floats
    current_a: Floats
    source_a: Floats
    loss_w: Floats
    load_w: Floats
    state: NDArray[np.int8]
    known: Flags


def measure_feeds(trials: Trials, columns: ModelColumns, load_w: Floats, whole: Flags) -> Feeds:
    """Return the operating point of each trial.

    `load_w` : float64[s], draw at each side [W], NaN not known. `whole` : bool[t], whether every side of the trial is
    wired to every other. Loads that no run joins to the source are set down at the source, where they lose least.
    """
    count = len(trials)
    sources = np.bincount(trials.trial[trials.source], minlength=count).astype(np.int64)
    source = np.full(count, -1, dtype=np.int64)
    feeding = np.flatnonzero(trials.source)
    source[trials.trial[feeding]] = feeding
    source[sources != 1] = -1
    load = _set_down(trials, np.nan_to_num(load_w, nan=0.0), source)
    volts = np.full(count, np.nan)
    volts[source >= 0] = columns.supply_v[trials.after[source[source >= 0]]]
    result = solve(
        segment=trials.trial,
        tail=trials.tail,
        head=trials.head,
        loop_ohm=np.nan_to_num(trials.loop_ohm, nan=0.0),
        source=source,
        source_v=volts,
        load_w=load,
    )
    return Feeds(
        sources=sources,
        source=source,
        voltage_v=result.voltage_v,
        current_a=result.current_a,
        source_a=result.source_current_a,
        loss_w=result.loss_w,
        load_w=np.asarray(np.bincount(trials.trial, weights=load, minlength=count), dtype=np.float64),
        state=result.state,
        known=_known(trials, load_w, result.state, whole),
    )


def _set_down(trials: Trials, load: Floats, source: Longs) -> Floats:
    """Return the loads with those that nothing joins to the source moved to the source."""
    fed = source[trials.trial]
    stray = (fed >= 0) & (trials.piece != trials.piece[fed]) if len(load) else np.zeros(0, dtype=bool)
    if not stray.any():
        return load
    moved = np.where(stray, 0.0, load)
    np.add.at(moved, fed[stray], load[stray])
    return moved


def _known(trials: Trials, load_w: Floats, state: NDArray[np.int8], whole: Flags) -> Flags:
    """Tell which trials lack no fact that the voltage needs."""
    count = len(trials)
    no_load = np.bincount(trials.trial, weights=np.isnan(load_w), minlength=count)
    no_ohm = np.bincount(trials.wire_trial, weights=np.isnan(trials.loop_ohm), minlength=count)
    settled = (state == PowerState.SOLVED) | (state == PowerState.NO_OPERATING_POINT)
    return np.asarray((no_load == 0) & (no_ohm == 0) & whole & settled)
