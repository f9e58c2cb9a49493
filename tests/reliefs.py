"""What tests of ways out share: cable with a price, and a campus changed as a way out says."""

from dataclasses import replace
from decimal import Decimal

import numpy as np

from inventory.core.catalogue import Catalogue, Part
from inventory.core.snapshot import Snapshot
from planner.core.findings import WayOut

METRE = Part(key="P-5101", unit="m", price=Decimal("1.85"), currency="EUR")


def priced(catalogue: Catalogue, cable: str = "2x2 18AWG", **facts: object) -> Catalogue:
    """Let one cable be bought by the metre, for 1.85 EUR."""
    part = replace(METRE, **facts)  # type: ignore[arg-type]
    cables = tuple(replace(one, part=part.key) if one.key == cable else one for one in catalogue.cables)
    return replace(catalogue, cables=cables, parts=(*catalogue.parts, part))


def changed(snapshot: Snapshot, way: WayOut) -> Snapshot:
    """Return the campus after the changes of a way out, done to its rows one by one; moved nodes hang on one run.

    A lower bit rate leaves the whole campus no higher one for that bus.
    """
    for change in way.changes:
        if change.what == "pull anew":
            snapshot = _recabled(snapshot, change.about, change.words.rsplit(" of ", 1)[1])
        elif change.what == "leave out":
            snapshot = without_run(snapshot, change.about)
        elif change.what == "move":
            snapshot = _moved(snapshot, change.about, change.to or "")
        elif change.what == "lower bit rate" and change.rate_kbit_s is not None:
            snapshot = _slowed(snapshot, way.methods, change.rate_kbit_s)
    return snapshot


def _slowed(snapshot: Snapshot, methods: tuple[str, ...], rate_kbit_s: float) -> Snapshot:
    catalogue = snapshot.catalogue
    slowed = {one.new_protocol for one in catalogue.methods if one.key in methods}
    rows = (
        row
        for row in catalogue.protocols
        if row.protocol not in slowed or row.bit_rate_kbit_s is None or row.bit_rate_kbit_s <= rate_kbit_s
    )
    return replace(snapshot, catalogue=replace(catalogue, protocols=tuple(rows)))


def _recabled(snapshot: Snapshot, run: str, cable: str) -> Snapshot:
    kinds = snapshot.runs.cable.copy()
    kinds[snapshot.runs.key.index(run)] = [one.key for one in snapshot.catalogue.cables].index(cable)
    return replace(snapshot, runs=replace(snapshot.runs, cable=kinds))


def without_run(snapshot: Snapshot, run: str) -> Snapshot:
    """Return the campus without one run."""
    runs = snapshot.runs
    keep = np.array([key != run for key in runs.key], dtype=bool)
    columns = {name: getattr(runs, name)[keep] for name in ("bus", "from_node", "to_node", "cable", "length_m")}
    return replace(snapshot, runs=replace(runs, key=tuple(key for key in runs.key if key != run), **columns))


def _moved(snapshot: Snapshot, node: str, segment: str) -> Snapshot:
    """Put a node on another bus, with a run of a metre from somebody who is there."""
    nodes, runs = snapshot.nodes, snapshot.runs
    place = list(nodes.key).index(node)
    target = [bus.key for bus in snapshot.buses].index(segment)
    origin = int(np.flatnonzero((nodes.bus == target).any(axis=1))[0])
    bus = nodes.bus.copy()
    bus[place] = [target, -1, -1, -1]
    reached = np.flatnonzero((runs.from_node == place) | (runs.to_node == place))
    assert len(reached) == 1, "only nodes at the end of one run are moved here"
    ends = {name: getattr(runs, name).copy() for name in ("bus", "from_node", "to_node", "length_m")}
    for name, value in (("bus", target), ("from_node", origin), ("to_node", place), ("length_m", 1.0)):
        ends[name][reached] = value
    return replace(snapshot, nodes=replace(nodes, bus=bus), runs=replace(runs, **ends))
