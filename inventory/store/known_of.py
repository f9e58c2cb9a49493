"""What checks must know of what is stored to judge a few rows: a form must not read the whole campus."""

from collections.abc import Collection, Iterable
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Q, QuerySet

from inventory.models import Bus, EquipmentModel, Node, Protocol, Room, Run
from inventory.store.stored import REFERRED_TO
from inventory.store.targets import TARGETS
from inventory.workbook.rows import KnownKeys, RowKey, SheetRows

MANY = frozenset({"nodes", "buses", "rooms"})  # tables that may be too long to read for one form
OTHER_NAMES = "protocol_names"


def known_of(rows: SheetRows) -> KnownKeys:
    """Return what checks of these rows ask for; of long tables only what the rows name, or something spelt alike."""
    keys: dict[str, frozenset[RowKey]] = {
        code: _short(code) for code in REFERRED_TO - MANY - {OTHER_NAMES} if code in TARGETS
    }
    keys[OTHER_NAMES] = frozenset(Protocol.objects.values_list("key", flat=True))
    nodes = list(_alike(Node.objects.all(), _named(rows, "nodes")).select_related("model", *_BUSES))
    buses = dict(_alike(Bus.objects.all(), _named(rows, "buses")).values_list("key", "building__key"))
    keys |= {"nodes": frozenset(node.key for node in nodes), "buses": frozenset(buses), "rooms": _rooms(rows)}
    return KnownKeys(
        keys=keys,
        model_kinds=dict(EquipmentModel.objects.values_list("key", "kind")),
        bus_buildings=buses,
        node_models={node.key: node.model.key for node in nodes},
        node_buses={node.key: tuple(bus.key for bus in _buses_of(node)) for node in nodes},
        node_installed={node.key: node.installed for node in nodes if node.installed},
        wired_buses=_wired(rows),
    )


_BUSES = ("bus", "bus_2", "bus_3", "bus_4")


def _buses_of(node: Node) -> Iterable[Bus]:
    return (bus for bus in (node.bus, node.bus_2, node.bus_3, node.bus_4) if bus is not None)


def _short(code: str) -> frozenset[RowKey]:
    return frozenset(TARGETS[code].model._default_manager.values_list("key", flat=True))  # noqa: SLF001 - its documented name


def _named(rows: SheetRows, code: str) -> set[str]:
    """Return the names of rows of another sheet that these rows give."""
    columns = [column.name for column in rows.sheet.columns if column.refers_to == code]
    return {str(value) for name in columns for value in rows.column(name) if value is not None}


def _alike(rows: "QuerySet[Any]", names: Collection[str]) -> "QuerySet[Any]":
    """Return the rows of these names, whatever the case of their letters."""
    return rows.filter(reduce(or_, (Q(key__iexact=name) for name in sorted(names)))) if names else rows.none()


def _rooms(rows: SheetRows) -> frozenset[RowKey]:
    wanted = _named(rows, "rooms")
    buildings = _named(rows, "buildings")
    found = Room.objects.filter(building__key__in=buildings, key__in=wanted)
    return frozenset(found.values_list("building__key", "key"))


def _wired(rows: SheetRows) -> frozenset[str]:
    """Return which of the buses that these rows are have a run; a name of no bus tells that runs are recorded at all."""
    if rows.sheet.code != "buses" or not Run.objects.exists():
        return frozenset()
    keys = [str(key) for key in rows.column("key")]
    return frozenset({"", *Run.objects.filter(bus__key__in=keys).values_list("bus__key", flat=True)})
