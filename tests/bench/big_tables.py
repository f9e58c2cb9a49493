"""A big campus straight into tables: one executemany a table, ids are positions + 1, no history."""

from collections.abc import Iterable, Iterator
from itertools import repeat
from typing import Any

import numpy as np
from django.db import connection, models, transaction

from inventory import models as tables
from inventory.core.snapshot import Snapshot
from tests.campus_tables import ENDS, store_catalogue


@transaction.atomic
def store_big(snapshot: Snapshot) -> None:
    """Put a campus into empty tables."""
    store_catalogue(snapshot.catalogue)
    protocols = dict(tables.Protocol.objects.values_list("key", "pk"))
    models_at = _ids(tables.EquipmentModel, [model.key for model in snapshot.catalogue.models])
    cables_at = _ids(tables.Cable, [cable.key for cable in snapshot.catalogue.cables])
    _insert(
        tables.Building,
        ("id", "key", "district", "outages_at_once"),
        ((at, one.key, one.district, one.outages_at_once) for at, one in enumerate(snapshot.buildings, 1)),
    )
    _insert(
        tables.Room,
        ("id", "building_id", "key", "floor", "importance"),
        ((at, one.building + 1, one.key, one.floor, one.importance) for at, one in enumerate(snapshot.rooms, 1)),
    )
    _insert(
        tables.Bus,
        ("id", "key", "building_id", "protocol_id"),
        (
            (at, one.key, one.building + 1, protocols.get(one.protocol or ""))
            for at, one in enumerate(snapshot.buses, 1)
        ),
    )
    _nodes(snapshot, models_at)
    _runs(snapshot, cables_at)


def _ids(model: type[models.Model], keys: list[str]) -> np.ndarray:
    found = dict(model._default_manager.values_list("key", "pk"))
    return np.array([*(found[key] for key in keys), 0])


def _known(column: np.ndarray, shift: int = 0) -> list[int | None]:
    return [None if value < 0 else value + shift for value in column.tolist()]


def _nodes(snapshot: Snapshot, models_at: np.ndarray) -> None:
    nodes = snapshot.nodes
    days = nodes.installed.astype("datetime64[D]").astype(str).tolist()
    counts = ("condition", "zones_used", "scenes_used", "box_gangs")
    names = ("id", "key", "building_id", "room_id", "model_id", "bus_id", "bus_2_id", "bus_3_id", "bus_4_id")
    columns: list[Iterable[Any]] = [
        range(1, len(nodes) + 1),
        nodes.key,
        (nodes.building + 1).tolist(),
        _known(nodes.room, 1),
        models_at[nodes.model].tolist(),
        *(_known(nodes.bus[:, at], 1) for at in range(4)),
        [None if day == "NaT" else day for day in days],
        [ENDS[code] for code in nodes.ends_bus.tolist()],
        *(_known(getattr(nodes, name)) for name in counts),
    ]
    _insert(tables.Node, (*names, "installed", "ends_bus", *counts), zip(*columns, strict=True))


def _runs(snapshot: Snapshot, cables_at: np.ndarray) -> None:
    runs = snapshot.runs
    whole = np.flatnonzero((runs.bus >= 0) & (runs.from_node >= 0) & (runs.to_node >= 0))
    lengths = [None if np.isnan(one) else one for one in runs.length_m[whole].tolist()]
    cables = [None if at < 0 else int(cables_at[at]) for at in runs.cable[whole].tolist()]
    rows = zip(
        whole.tolist(),
        (runs.key[at] for at in whole.tolist()),
        (runs.bus[whole] + 1).tolist(),
        (runs.from_node[whole] + 1).tolist(),
        (runs.to_node[whole] + 1).tolist(),
        cables,
        lengths,
        strict=True,
    )
    _insert(
        tables.Run,
        ("id", "key", "bus_id", "from_node_id", "to_node_id", "cable_id", "length_m"),
        ((at + 1, *rest) for at, *rest in rows),
    )


def _insert(model: type[models.Model], names: tuple[str, ...], rows: Iterable[tuple[Any, ...]]) -> None:
    quote = connection.ops.quote_name
    marks = ", ".join(repeat("%s", len(names)))
    sql = f"INSERT INTO {quote(model._meta.db_table)} ({', '.join(map(quote, names))}) VALUES ({marks})"  # noqa: S608
    with connection.cursor() as cursor:
        for lot in _lots(rows):
            cursor.executemany(sql, lot)


def _lots(rows: Iterable[tuple[Any, ...]], size: int = 50_000) -> Iterator[list[tuple[Any, ...]]]:
    lot: list[tuple[Any, ...]] = []
    for row in rows:
        lot.append(row)
        if len(lot) == size:
            yield lot
            lot = []
    if lot:
        yield lot
