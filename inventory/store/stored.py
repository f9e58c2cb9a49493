# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""What is stored, as the workbook writes it: whole sheets, and the keys that checks need."""

from collections.abc import Iterable

from inventory.models import Bus, EquipmentModel, Node, Protocol, Run
from inventory.store.targets import TARGETS, Target, Targets, key_path, natural_key, sheets_of
from inventory.workbook.columns import Sheet
from inventory.workbook.rows import KnownKeys, RowKey, SheetRows
from inventory.workbook.sheets import SHEETS

FIRST_ROW = 2  # headings stand in row 1
READ_AT_ONCE = 10_000
REFERRED_TO = frozenset(column.refers_to for sheet in SHEETS for column in sheet.columns if column.refers_to)


def stored_rows(targets: Targets = TARGETS) -> dict[str, SheetRows]:
    """Return every sheet as it is stored, rows sorted by key; taken in again it changes nothing."""
    return {sheet.code: _sheet_rows(sheet, targets[sheet.code]) for sheet in sheets_of(targets)}


def _sheet_rows(sheet: Sheet, target: Target) -> SheetRows:
    paths = [key_path(column) for column in sheet.columns]
    found = target.model._default_manager.filter(**target.owned).order_by().values_list(*paths)
    key_at = [[column.name for column in sheet.columns].index(name) for name in sheet.key]
    rows = sorted(found.iterator(READ_AT_ONCE), key=lambda row: [(row[at] is not None, row[at]) for at in key_at])
    columns = {column.name: [row[at] for row in rows] for at, column in enumerate(sheet.columns)}
    return SheetRows(sheet=sheet, numbers=list(range(FIRST_ROW, FIRST_ROW + len(rows))), columns=columns)


def known_keys(targets: Targets = TARGETS) -> KnownKeys:
    """Return what checks must know of what is stored already."""
    keys: dict[str, frozenset[RowKey]] = {
        sheet.code: _keys(sheet.code, targets[sheet.code]) for sheet in sheets_of(targets) if sheet.code in REFERRED_TO
    }
    keys["protocol_names"] = frozenset(Protocol.objects.values_list("key", flat=True))
    nodes = list(
        Node.objects.order_by().values_list(
            "key", "model__key", "installed", "bus__key", "bus_2__key", "bus_3__key", "bus_4__key"
        )
    )
    return KnownKeys(
        keys=keys,
        model_kinds=dict(EquipmentModel.objects.values_list("key", "kind")),
        bus_buildings=dict(Bus.objects.values_list("key", "building__key")),
        node_models={key: model for key, model, *_ in nodes},
        node_buses={key: _named(buses) for key, _, _, *buses in nodes},
        node_installed={key: installed for key, _, installed, *_ in nodes if installed},
        wired_buses=frozenset(Run.objects.order_by().values_list("bus__key", flat=True).distinct()),
    )


def _named(buses: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(bus for bus in buses if bus is not None)


def _keys(code: str, target: Target) -> frozenset[RowKey]:
    path = natural_key(code)
    rows = target.model._default_manager.order_by().values_list(*path)
    return frozenset((row[0] if len(path) == 1 else tuple(row)) for row in rows.iterator(READ_AT_ONCE))
