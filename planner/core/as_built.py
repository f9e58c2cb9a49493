"""What an accepted order changes in the inventory: the records as built.

Old stations give way to new ones, their gateways are swapped or set over, the buses of the segment carry the new protocol,
nodes that moved name their new bus, runs end where they end now, parts leave the shelf and freed units come back to it. What the records have no column
for (an adapter, a local supply, who fitted what) stands in the note of the station.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.core.catalogue import Method
from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.as_wired import Wired, wired_after
from planner.core.plans import Conversion, Order


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """A node afterwards: what stands there now (None: the same as before), and the bus it is on (None: the same)."""

    node: str
    model: str | None
    bus: str | None
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AsBuilt:
    """What an order changes, each sorted.

    runs : (run, cable that was pulled in its place). wired : runs that went, changed their ends or came. buses : (bus, protocol, bit rate [kbit/s], None where it has none).
    parts : (part, units used up). freed : (model, units that come back to the shelf; below 0: taken from it). refused : why
    the records cannot be changed, in words; such an order is not accepted before that is mended.
    """

    on: date
    nodes: tuple[Rebuilt, ...]
    runs: tuple[tuple[str, str], ...]
    wired: Wired
    buses: tuple[tuple[str, str, float | None], ...]
    parts: tuple[tuple[str, Decimal], ...]
    freed: tuple[tuple[str, int], ...]
    refused: tuple[str, ...]


def as_built(order: Order, snapshot: Snapshot, on: date) -> AsBuilt:
    """Return what the records say after an order is done.

    Parameters
    ----------
    order : Order
        As planned.
    snapshot : Snapshot
        The catalogue, and the nodes of the order as they stand.
    on : date
        The day on which the new equipment counts as installed.

    """
    methods = {method.key: method for method in snapshot.catalogue.methods}
    swaps = {station: methods[key] for one in order.conversions for station, key in one.stations if key in methods}
    now = _models_now(snapshot)
    return AsBuilt(
        on=on,
        nodes=tuple(_rebuilt(order, swaps, now)),
        runs=tuple(sorted(pair for one in order.conversions for pair in one.pulled)),
        wired=wired_after(order, snapshot),
        buses=tuple(_buses(order.conversions)),
        parts=tuple(sorted((need.part, need.quantity) for need in order.parts)),
        freed=tuple(sorted((model, count) for model, count in order.freed if count)),
        refused=tuple(_refused(order, swaps, now)),
    )


def _models_now(snapshot: Snapshot) -> dict[str, str | None]:
    models = [model.key for model in snapshot.catalogue.models]
    places = zip(snapshot.nodes.key, snapshot.nodes.model.tolist(), strict=True)
    return {key: None if at == UNKNOWN else models[at] for key, at in places}


def _refused(order: Order, swaps: Mapping[str, Method], now: Mapping[str, str | None]) -> Iterator[str]:
    for station in order.stations:
        if station not in now:
            yield f"{station} is not on record any more: take it in again, or plan again without it."
        elif station not in swaps:
            yield f"No method on record replaces {station}: plan again."
        elif now[station] not in (swaps[station].old_model, swaps[station].new_model):
            old = swaps[station].old_model
            yield f"{station} is on record as {now[station] or 'no model'}, not as {old}: mend the record first."
    protocols: dict[str, set[str]] = defaultdict(set)
    for bus, protocol, _ in _buses(order.conversions):
        protocols[bus].add(protocol)
    for bus, found in sorted(protocols.items()):
        if len(found) > 1:
            yield f"Bus {bus} would carry {' and '.join(sorted(found))} at once: plan again."


def _rebuilt(order: Order, swaps: Mapping[str, Method], now: Mapping[str, str | None]) -> Iterator[Rebuilt]:
    models = _gateway_models(order.conversions, swaps)
    models |= {station: method.new_model for station, method in swaps.items()}
    moved = {node: bus for one in order.conversions for node, bus in one.moved}
    notes = _notes(order, swaps)
    for node in sorted((models.keys() | moved.keys()) & now.keys()):
        model = models.get(node)
        yield Rebuilt(node=node, model=None if model == now[node] else model, bus=moved.get(node), note=notes[node])


def _gateway_models(conversions: Iterable[Conversion], swaps: Mapping[str, Method]) -> dict[str, str]:
    """Return the new model of each gateway that is swapped; one that is set over stays what it is."""
    found: dict[str, str] = {}
    for one in conversions:
        new = {swaps[station].new_gateway_model for station, _ in one.stations if station in swaps} - {None}
        if len(new) == 1:
            found |= dict.fromkeys(one.gateways, new.pop() or "")
    return found


def _notes(order: Order, swaps: Mapping[str, Method]) -> dict[str, str]:
    extras: dict[str, list[str]] = defaultdict(list)
    stations = {one.segment: [station for station, _ in one.stations] for one in order.conversions}
    for segment, extra in order.extras:
        for station in stations.get(segment, ()):
            extras[station].append(extra)
    notes: dict[str, str] = defaultdict(lambda: f"Changed by order {order.key}.")
    for station, method in swaps.items():
        with_extras = f" with {', '.join(extras[station])}" if extras[station] else ""
        notes[station] = f"Converted by order {order.key}, method {method.key}{with_extras}."
    return notes


def _buses(conversions: Iterable[Conversion]) -> Iterator[tuple[str, str, float | None]]:
    found = {
        (bus, one.protocol, one.bit_rate_kbit_s) for one in conversions if one.protocol is not None for bus in one.buses
    }
    yield from sorted(found, key=lambda row: (row[0], row[1], row[2] or 0.0))
