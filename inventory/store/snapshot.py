# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""Tables into a snapshot: places and the catalogue as records, nodes and runs straight into arrays."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any, TypeVar

import numpy as np
from django.db import models
from numpy.typing import NDArray

from inventory import models as tables
from inventory.core import catalogue as records
from inventory.core.readings import Quantity, Reading
from inventory.core.snapshot import (
    BUS_COLUMNS,
    Building,
    Bus,
    Closure,
    Ints,
    Nodes,
    Room,
    Runs,
    Scene,
    Snapshot,
    Zone,
)
from inventory.store.columns import NO_DAY, NO_ID, Positions, Wanted, count_of, day_of, id_of, order_of, read_columns

Record = TypeVar("Record")
Rows = Any  # a manager or a query of one table
ENDS_CODES = "CASE ends_bus WHEN 'no' THEN 0 WHEN 'yes' THEN 1 WHEN 'switch' THEN 2 ELSE -1 END"
BUSES = ("bus", "bus_2", "bus_3", "bus_4")
COUNTS = ("condition", "zones_used", "scenes_used", "box_gangs")
OF_OTHER_TABLES = {"parts", "steps", "pins", "deliveries"}  # fields that rows of other tables make up
PARTS_OF_METHOD = {"parts": records.MethodPart, "steps": records.MethodStep, "pins": records.MethodPin}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sorted:
    """Records of one table sorted by key, and where the row with an id stands."""

    rows: tuple[Any, ...]
    positions: Positions


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """A part of the campus by ids: its nodes and runs, and the buses and rooms that they name; None: all there are."""

    nodes: frozenset[int] | None = None
    runs: frozenset[int] | None = None
    buses: frozenset[int] | None = None
    rooms: frozenset[int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """A snapshot and the ids of its rows, int64, by position."""

    snapshot: Snapshot
    buildings: NDArray[np.int64]
    buses: NDArray[np.int64]
    nodes: NDArray[np.int64]


def load_places() -> tuple[tuple[Building, ...], tuple[Room, ...]]:
    """Return buildings and rooms in the order of a snapshot."""
    buildings = _buildings()
    return buildings.rows, _rooms(buildings.positions).rows


def place_positions() -> tuple[Positions, Positions]:
    """Return where the building and the room with an id stand in a snapshot."""
    buildings = _buildings().positions
    return buildings, _rooms(buildings).positions


def load_snapshot(taken_on: date | None = None, closures: tuple[Closure, ...] = ()) -> Snapshot:
    """Return the campus as it is stored now; `taken_on` is the day that ages are counted to."""
    return load_stored(taken_on, closures).snapshot


def load_stored(taken_on: date | None = None, closures: tuple[Closure, ...] = ()) -> Stored:
    """Return the campus as it is stored now, with the ids of its rows."""
    calendars = {name: bytes(content) for name, content in _calendars()}
    return _stored(Extent(), taken_on=taken_on, closures=closures, calendars=calendars, readings=_readings())


def load_part(extent: Extent, taken_on: date | None = None) -> Snapshot:
    """Return a part of the campus with the whole catalogue, as it is stored now; without calendars."""
    return load_stored_part(extent, taken_on).snapshot


def load_stored_part(extent: Extent, taken_on: date | None = None) -> Stored:
    """Return a part of the campus with the ids of its rows."""
    keys = set(_of(tables.Node.objects, extent.nodes).values_list("key", flat=True))
    readings = _readings(_at(tables.Reading.objects, extent.nodes))
    near = tuple(one for one in readings if one.node in keys and (one.far is None or one.far in keys))
    return _stored(extent, taken_on=taken_on, readings=near)


def _stored(extent: Extent, **facts: Any) -> Stored:
    buildings = _buildings()
    rooms = _rooms(buildings.positions, _of(tables.Room.objects, extent.rooms))
    buses = _buses(buildings.positions, _of(tables.Bus.objects, extent.buses))
    catalogue, models_at, cables_at = _catalogue()
    own = extent.nodes
    nodes, nodes_at = _nodes(buildings.positions, rooms.positions, models_at, buses.positions, own)
    snapshot = Snapshot(
        buildings=buildings.rows,
        rooms=rooms.rows,
        buses=buses.rows,
        catalogue=catalogue,
        nodes=nodes,
        runs=_runs(buses.positions, nodes_at, cables_at, extent.runs),
        zones=_of_nodes(Zone, _at(tables.Zone.objects, own), nodes_at),
        scenes=_of_nodes(Scene, _at(tables.Scene.objects, own), nodes_at),
        **facts,
    )
    return Stored(
        snapshot=snapshot,
        buildings=buildings.positions.by_position,
        buses=buses.positions.by_position,
        nodes=nodes_at.by_position,
    )


def _of(rows: Rows, ids: frozenset[int] | None) -> Rows:
    """Return the rows with these ids; all where none are given."""
    return rows.all() if ids is None else rows.filter(pk__in=ids)


def _at(rows: Rows, nodes: frozenset[int] | None) -> Rows:
    return rows.all() if nodes is None else rows.filter(node__in=nodes)


def _readings(rows: "Rows | None" = None) -> tuple[Reading, ...]:
    """Return the newest reading of each quantity and place; a line is the same from either end."""
    newest: dict[tuple[str, ...], Reading] = {}
    rows = (tables.Reading.objects if rows is None else rows).order_by("on", "entered", "pk")
    for quantity, node, far, value, on in rows.values_list("quantity", "node__key", "far__key", "value", "on"):
        newest[quantity, *sorted((node, far or ""))] = Reading(
            quantity=Quantity(quantity), node=node, far=far, value=value, on=on
        )
    return tuple(newest[key] for key in sorted(newest))


def _calendars() -> list[tuple[str, Any]]:
    return sorted(tables.CalendarFile.objects.values_list("name", "content"))


def _sorted(found: list[tuple[int, Any]], key: Callable[[Any], Any]) -> _Sorted:
    found.sort(key=lambda pair: key(pair[1]))
    return _Sorted(rows=tuple(row for _, row in found), positions=Positions.of([pk for pk, _ in found]))


def _buildings() -> _Sorted:
    return _sorted(_records(Building, tables.Building.objects), lambda row: row.key)


def _rooms(buildings: Positions, rows: Rows = tables.Room.objects) -> _Sorted:
    at = {"building": buildings}
    return _sorted(_records(Room, rows, at), lambda row: (row.building, row.key))


def _buses(buildings: Positions, rows: Rows) -> _Sorted:
    return _sorted(_records(Bus, rows, {"building": buildings}), lambda row: row.key)


def _of_nodes(kind: type[Record], manager: Rows, nodes: Positions) -> tuple[Record, ...]:
    """Return zones or scenes, sorted by node and key."""
    at = {"node": nodes, "panel": nodes}
    return _sorted(_records(kind, manager, at), lambda row: (row.node, row.key)).rows


def _records(kind: type[Record], manager: Rows, at: Mapping[str, Positions] | None = None) -> list[tuple[int, Record]]:
    """Return a table's rows as records with their ids.

    Fields fill attributes of the same names; a reference gives the key of what it refers to, unless `at` tells
    where in a sequence what has its id stands.
    """
    at = at or {}
    names = [one.name for one in fields(kind) if one.name not in OF_OTHER_TABLES]  # type: ignore[arg-type]
    paths = [_path(manager.model, name, as_id=name in at) for name in names]
    rows = list(manager.order_by("pk").values_list("pk", *paths))
    if not rows:
        return []
    ids, *columns = zip(*rows, strict=True)
    made = [_made(kind, name, column, at.get(name)) for name, column in zip(names, columns, strict=True)]
    return [(pk, kind(**dict(zip(names, values, strict=True)))) for pk, *values in zip(ids, *made, strict=True)]


def _made(kind: type, name: str, column: Sequence[Any], at: Positions | None) -> Sequence[Any]:
    """Return a column of a table as the record wants it."""
    if at is not None:
        places: list[int] = at([value or NO_ID for value in column]).tolist()
        return places
    make = _maker(kind, name)
    return column if make is None else [make(value) for value in column]


def _path(model: type[models.Model], name: str, *, as_id: bool) -> str:
    is_reference = model._meta.get_field(name).is_relation
    if not is_reference:
        return name
    return f"{name}_id" if as_id else f"{name}__key"


ENUMS: dict[tuple[type, str], Callable[[Any], object]] = {
    (records.ProtocolRow, "layout"): records.Layout,
    (records.Model, "kind"): records.NodeKind,
    (records.Model, "ends_bus"): records.EndsBus,
}


def _maker(kind: type, name: str) -> Callable[[Any], object] | None:
    enum = ENUMS.get((kind, name))
    if enum is None:
        return None
    return lambda value: None if value is None else enum(value)


def _catalogue() -> tuple[records.Catalogue, Positions, Positions]:
    """Return the catalogue, and where the models and the cables with an id stand in it."""
    found_models = _sorted(_records(records.Model, tables.EquipmentModel.objects), lambda row: row.key)
    cables = _sorted(_records(records.Cable, tables.Cable.objects), lambda row: row.key)
    catalogue = records.Catalogue(
        protocols=_sorted(_records(records.ProtocolRow, tables.ProtocolRate.objects), _rate_order).rows,
        cables=cables.rows,
        models=found_models.rows,
        methods=_methods(),
        parts=_parts(),
        spares=_sorted(
            _records(records.Spare, tables.Spare.objects), lambda row: (row.model, row.store is not None, row.store)
        ).rows,
    )
    return catalogue, found_models.positions, cables.positions


def _parts() -> tuple[records.Part, ...]:
    """Return the parts, each with what is still to come of it."""
    coming: dict[str, list[records.Delivery]] = {}
    for _, one in _records(records.Delivery, tables.Delivery.objects):
        coming.setdefault(one.part, []).append(one)
    found = _sorted(_records(records.Part, tables.Part.objects), lambda row: row.key).rows
    return tuple(
        replace(row, deliveries=tuple(sorted(own, key=lambda one: (one.due, one.reference or ""))))
        if (own := coming.get(row.key))
        else row
        for row in found
    )


def _rate_order(row: records.ProtocolRow) -> tuple[str, float]:
    return row.protocol, -1.0 if row.bit_rate_kbit_s is None else row.bit_rate_kbit_s


def _methods() -> tuple[records.Method, ...]:
    parts = _by_method(records.MethodPart, tables.MethodPart.objects, lambda row: (row.part, row.per, row.when))
    steps = _by_method(records.MethodStep, tables.MethodStep.objects, lambda row: row.step)
    pins = _by_method(records.MethodPin, tables.MethodPin.objects, lambda row: (row.rj45_pin or 0, row.signal))
    found = [
        (pk, _with_parts(method, parts.get(pk, ()), steps.get(pk, ()), pins.get(pk, ())))
        for pk, method in _records(records.Method, tables.Method.objects)
    ]
    return _sorted(found, lambda row: row.key).rows


def _with_parts(
    method: records.Method,
    parts: tuple[records.MethodPart, ...],
    steps: tuple[records.MethodStep, ...],
    pins: tuple[records.MethodPin, ...],
) -> records.Method:
    own = {one.name: getattr(method, one.name) for one in fields(method) if one.name not in PARTS_OF_METHOD}
    return records.Method(**own, parts=parts, steps=steps, pins=pins)


def _by_method(
    kind: type[Record], manager: "models.Manager[Any]", key: Callable[[Any], Any]
) -> dict[int, tuple[Record, ...]]:
    """Return the parts, steps or pins of each method by the method's id, sorted."""
    method_of = dict(manager.order_by("pk").values_list("pk", "method_id"))
    found: dict[int, list[Record]] = {}
    for pk, row in sorted(_records(kind, manager), key=lambda pair: key(pair[1])):
        found.setdefault(method_of[pk], []).append(row)
    return {method: tuple(rows) for method, rows in found.items()}


def _nodes(  # noqa: PLR0917 - where all that a node refers to stands
    buildings: Positions, rooms: Positions, models_at: Positions, buses: Positions, own: frozenset[int] | None
) -> tuple[Nodes, Positions]:
    places = {"building": buildings, "room": rooms, "model": models_at} | dict.fromkeys(BUSES, buses)
    ids, keys, days, ends, *rest = read_columns(
        tables.Node,
        Wanted("id", np.int64),
        Wanted("key"),
        day_of("installed"),
        Wanted(ENDS_CODES, np.int8),
        *map(id_of, places),
        *map(count_of, COUNTS),
        of=own,
    )
    order = order_of(keys)
    ids, days, ends, *rest = (one if order is None else one[order] for one in (ids, days, ends, *rest))
    positions = Positions.of(ids)
    at = {name: find(column) for (name, find), column in zip(places.items(), rest, strict=False)}
    nodes = Nodes(
        key=_ordered(keys, order),
        building=at["building"],
        room=at["room"],
        model=at["model"],
        bus=np.stack([at[name] for name in BUSES], axis=1).reshape(-1, BUS_COLUMNS),
        ends_bus=ends,
        installed=np.where(days == NO_DAY, np.datetime64("NaT"), days.astype("datetime64[D]")),
        failures=_failures(positions, len(keys), own),
        **dict(zip(COUNTS, rest[len(places) :], strict=True)),
    )
    return nodes, positions


def _ordered(keys: list[str], order: NDArray[np.int64] | None) -> tuple[str, ...]:
    return tuple(keys) if order is None else tuple(map(keys.__getitem__, order.tolist()))


def _failures(nodes: Positions, count: int, own: frozenset[int] | None) -> Ints:
    """Return how many failures are on record for each node."""
    (ids,) = read_columns(tables.Failure, Wanted("node_id", np.int64), of=own, by="node_id")
    return np.bincount(nodes(ids), minlength=count).astype(np.int32)


def _runs(buses: Positions, nodes: Positions, cables: Positions, own: frozenset[int] | None) -> Runs:
    keys, length, *rest = read_columns(
        tables.Run,
        Wanted("key"),
        Wanted("coalesce(length_m, -1)", np.float64),
        *map(id_of, ("bus", "from_node", "to_node", "cable")),
        of=own,
    )
    order = order_of(keys)
    length, bus, from_node, to_node, cable = (one if order is None else one[order] for one in (length, *rest))
    return Runs(
        key=_ordered(keys, order),
        bus=buses(bus),
        from_node=nodes(from_node),
        to_node=nodes(to_node),
        cable=cables(cable),
        length_m=np.where(length < 0, np.nan, length),
    )
