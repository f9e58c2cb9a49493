"""What tests of ways out share: cable with a price, and a campus changed as a way out says."""

from dataclasses import fields, replace
from decimal import Decimal

import numpy as np

from inventory.core.catalogue import Catalogue, NodeKind, Part
from inventory.core.snapshot import Snapshot
from planner.core.as_wired import Wired, wired_after
from planner.core.changes import conversion_of
from planner.core.findings import SegmentReport, WayOut
from planner.core.plans import Order

ORDER = Order(
    key="O1", building="B1", district=None, segments=(), stations=(), rooms=(), people=1, setup_min=0, outage_min=0,
    restore_min=0, parts=(), freed=(), cost_parts=Decimal(0), cost_labour=Decimal(0), cost_outage=Decimal(0), currency="EUR",
    unpriced=(), benefit=0.0, oldest=None,
)  # fmt: skip
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
            snapshot = without_idle(without_run(snapshot, change.about))
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


def without_idle(snapshot: Snapshot) -> Snapshot:
    """Return the campus without the junctions that no run reaches."""
    kinds = [model.kind is NodeKind.JUNCTION for model in snapshot.catalogue.models]
    reached = {*snapshot.runs.from_node.tolist(), *snapshot.runs.to_node.tolist()}
    places = enumerate(zip(snapshot.nodes.key, snapshot.nodes.model.tolist(), strict=True))
    idle = [key for place, (key, model) in places if model >= 0 and kinds[model] and place not in reached]
    return _peopled(snapshot, Wired(idle=tuple(idle)), {})


def _moved(snapshot: Snapshot, node: str, segment: str) -> Snapshot:
    """Put a node on another bus, with a run of a metre from somebody who is there."""
    nodes, runs = snapshot.nodes, snapshot.runs
    place = list(nodes.key).index(node)
    target = [bus.key for bus in snapshot.buses].index(segment)
    there = [*np.flatnonzero((nodes.bus == target).any(axis=1)), *runs.from_node[runs.bus == target]]
    origin = int(there[0])  # who names the bus, else who is on it by a run alone
    bus = nodes.bus.copy()
    bus[place] = [target, -1, -1, -1]
    reached = np.flatnonzero((runs.from_node == place) | (runs.to_node == place))
    assert len(reached) == 1, "only nodes at the end of one run are moved here"
    ends = {name: getattr(runs, name).copy() for name in ("bus", "from_node", "to_node", "length_m")}
    for name, value in (("bus", target), ("from_node", origin), ("to_node", place), ("length_m", 1.0)):
        ends[name][reached] = value
    return replace(snapshot, nodes=replace(nodes, bus=bus), runs=replace(runs, **ends))


def built(snapshot: Snapshot, report: SegmentReport, way: WayOut) -> Snapshot:
    """Return the campus with the wiring that is on record once a way out is done; its stations are still the old ones."""
    conversion = conversion_of(replace(report, changes=way.changes))
    wired = wired_after(replace(ORDER, conversions=(conversion,)), snapshot)
    after = _laid(_peopled(snapshot, wired, dict(conversion.moved)), wired, dict(conversion.pulled))
    rates = [change.rate_kbit_s for change in way.changes if change.what == "lower bit rate"]
    return _slowed(after, way.methods, rates[0]) if rates and rates[0] is not None else after


def _peopled(snapshot: Snapshot, wired: Wired, moved: dict[str, str]) -> Snapshot:
    """Put junctions in, take idle ones away, and let nodes that moved name their new bus."""
    nodes, names, models = snapshot.nodes, list(snapshot.nodes.key), [one.key for one in snapshot.catalogue.models]
    rows = np.array([*range(len(names)), *(names.index(joint.was) for joint in wired.joints)], dtype=np.int64)
    keys = [*names, *(joint.node for joint in wired.joints)]
    columns = {one.name: getattr(nodes, one.name)[rows] for one in fields(nodes) if one.name != "key"}
    for place, joint in enumerate(wired.joints, start=len(names)):
        columns["model"][place] = models.index(joint.model) if joint.model is not None else -1
    buses = [bus.key for bus in snapshot.buses]
    for node, bus in moved.items():
        columns["bus"][names.index(node)] = [buses.index(bus), -1, -1, -1]
    keep = np.array([key not in wired.idle for key in keys], dtype=bool)
    new_place = np.where(keep, np.cumsum(keep) - 1, -1)
    ends = {name: new_place[getattr(snapshot.runs, name)].astype(np.int32) for name in ("from_node", "to_node")}
    kept = tuple(key for key, stays in zip(keys, keep.tolist(), strict=True) if stays)
    return replace(
        snapshot,
        nodes=replace(nodes, key=kept, **{name: column[keep] for name, column in columns.items()}),
        runs=replace(snapshot.runs, **ends),
    )


def _laid(snapshot: Snapshot, wired: Wired, pulled: dict[str, str]) -> Snapshot:
    """Take away the runs that are gone, let others end elsewhere, and put new ones in."""
    runs, places = snapshot.runs, {key: place for place, key in enumerate(snapshot.nodes.key)}
    buses, cables = ([one.key for one in some] for some in (snapshot.buses, snapshot.catalogue.cables))
    rows = {
        key: [
            int(runs.bus[at]),
            int(runs.from_node[at]),
            int(runs.to_node[at]),
            int(runs.cable[at]),
            float(runs.length_m[at]),
        ]
        for at, key in enumerate(runs.key)
        if key not in wired.gone
    }
    for key, cable in pulled.items():
        if key in rows:
            rows[key][3] = cables.index(cable)
    for one in (*wired.changed, *wired.laid):
        cable = cables.index(one.cable) if one.cable is not None else -1
        length_m = np.nan if one.length_m is None else one.length_m
        rows[one.run] = [buses.index(one.bus), places[one.ends[0]], places[one.ends[1]], cable, length_m]
    columns = {
        name: np.array([row[at] for row in rows.values()], dtype=getattr(runs, name).dtype)
        for at, name in enumerate(("bus", "from_node", "to_node", "cable", "length_m"))
    }
    return replace(snapshot, runs=replace(runs, key=tuple(rows), **columns))
