"""How far the farthest load is from what feeds it, along the wire."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import dijkstra

from inventory.core.limits import SUPPLY_REACH
from planner.core.rules.after import Trials
from planner.core.rules.feeds import Feeds
from planner.core.rules.lengths import HOP_M, wiring_graph
from planner.core.rules.options import Option

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def reaching(options: Sequence[Option]) -> Flags:
    """Tell which options are to carry a bus whose supply reaches only so far."""
    return np.array([option.new_protocol in SUPPLY_REACH for option in options], dtype=bool)


def far_from_source_m(trials: Trials, feeds: Feeds, load_w: Floats, asked: Flags) -> Floats:
    """Return the way from the source of each trial to its farthest load, float64[t] [m]; 0 where nobody asks.

    `load_w` : float64[s], as `feeds` was measured with; what is not known draws. `asked` : bool[o]. Lengths that are
    not known count as nothing, loads that nothing joins to the source are left out, and in a loop the shorter way counts.
    """
    found = np.zeros(len(trials))
    if not asked.any():
        return found
    starts = feeds.source[asked[trials.option] & (feeds.source >= 0)]
    if not len(starts):
        return found
    wire = np.flatnonzero(asked[trials.option[trials.wire_trial]])
    length = np.nan_to_num(trials.length_m[wire], nan=0.0)
    graph = wiring_graph(len(trials.side), trials.tail[wire], trials.head[wire], length + HOP_M)
    away = np.asarray(dijkstra(graph, directed=False, indices=starts, min_only=True))
    load = np.flatnonzero((load_w != 0.0) & np.isfinite(away))
    np.maximum.at(found, trials.trial[load], np.round(away[load], 6))
    return found
