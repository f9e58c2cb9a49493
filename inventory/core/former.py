"""Places and the units that hung in them: an accepted order puts a new station where an old one was, under the same name.

The old one's life ended alive on that day, and its failures are of its model and age, not of what hangs there now. So each
unit counts by itself: first the n that hang there, in the order of the nodes, then the former ones.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from inventory.core.lives import Days, FailureLog, FormerUnits
from inventory.core.snapshot import Ints, Snapshot

NOBODY = FormerUnits(
    node=np.zeros(0, dtype=np.int32),
    model=np.zeros(0, dtype=np.int32),
    installed=np.zeros(0, dtype="datetime64[D]"),
    removed=np.zeros(0, dtype="datetime64[D]"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """All units, u rows: the position of their node, their model and building, when they came, when last seen.

    names : by unit, those of their nodes. log : the failures by unit in place of node.
    """

    names: Sequence[str]
    node: Ints
    model: Ints
    building: Ints
    installed: Days
    until: Days
    log: FailureLog


def units_of(snapshot: Snapshot, log: FailureLog, as_of: date) -> Units:
    """Return all units that hang or hung on the walls, with their failures."""
    nodes, former = snapshot.nodes, log.former or NOBODY
    node = np.concatenate((np.arange(len(nodes), dtype=np.int32), former.node))
    today = np.full(len(nodes), np.datetime64(as_of, "D"))
    return Units(
        names=[*nodes.key, *(nodes.key[at] for at in former.node.tolist())] if len(former) else nodes.key,
        node=node,
        model=np.concatenate((nodes.model, former.model)),
        building=nodes.building[node],
        installed=np.concatenate((nodes.installed, former.installed)),
        until=np.concatenate((today, former.removed)),
        log=replace(log, node=_whose(log, former, len(nodes))),
    )


def _whose(log: FailureLog, former: FormerUnits, count: int) -> Ints:
    """Return the unit that each failure was of: the first in its place that was taken down after that day, else the present one."""
    if not len(former) or not len(log):
        return log.node
    order = np.lexsort((former.removed, former.node))
    ends = _moment(former.node, former.removed)[order]
    first = np.searchsorted(ends, _moment(log.node, log.day), side="right")
    candidate = order[np.minimum(first, order.size - 1)]
    mine = (first < order.size) & (former.node[candidate] == log.node)
    return np.where(mine, count + candidate, log.node).astype(np.int32)


def _moment(node: Ints, day: Days) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """Return one number that goes by node, then day."""
    return node.astype(np.int64) * 2**32 + day.astype("datetime64[D]").astype(np.int64)


def as_it_stood(snapshot: Snapshot, log: FailureLog, on: date) -> tuple[Snapshot, FailureLog]:
    """Return the campus and its log as of an earlier day: what has been put in since by orders is taken back.

    Examples
    --------
    A station that an order replaced after that day is there again with its model and its day of installation, and
    failures later than that day are not yet known of.

    """
    known, former = log.day <= np.datetime64(on), log.former or NOBODY
    later = former.removed > np.datetime64(on)
    rows = np.flatnonzero(later)
    rows = rows[
        np.argsort(former.removed[rows], kind="stable")[::-1]
    ]  # of several in one place the earliest is put last
    model, installed = snapshot.nodes.model.copy(), snapshot.nodes.installed.copy()
    for row in rows.tolist():
        model[former.node[row]], installed[former.node[row]] = former.model[row], former.installed[row]
    before = FormerUnits(
        node=former.node[~later],
        model=former.model[~later],
        installed=former.installed[~later],
        removed=former.removed[~later],
    )
    nodes = replace(snapshot.nodes, model=model, installed=installed)
    return replace(snapshot, nodes=nodes, taken_on=on), replace(log.take(known), former=before)
