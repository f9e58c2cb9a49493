"""The inventory after an order: changed on acceptance in one transaction, and put back where the order is backed out later."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.utils import timezone

from inventory.core.saying import plain_number
from inventory.models import Bus, Cable, EquipmentModel, Node, Part, Protocol, Run, Spare
from inventory.services.records import StillNeeded, create_record, edit_record, remove_record
from inventory.store.history import hanging_on
from inventory.store.targets import By
from planner.core.as_built import AsBuilt, Rebuilt
from planner.core.as_wired import Laid
from planner.models.plans import Order
from planner.models.work import Rebuild
from planner.services.reassess import Reassessed, change
from planner.store.ageing import forget_risks
from planner.store.lineage import rows_of
from planner.store.records import from_json, to_json

EDITED, MADE, REMOVED = "edited", "made", "removed"
GOOD = 1  # condition of what was just fitted
TABLES: dict[str, type[models.Model]] = {table.__name__: table for table in (Node, Run, Bus, Part, Spare)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One fact of one record, before and after, as text a person reads and the database keeps; None is not known.

    Of a record that came or went (`what`) it is the whole record, as JSON of its columns, and `field` is blank.
    """

    table: str
    pk: int
    record: str
    field: str
    before: str | None
    after: str | None
    what: str = EDITED


@dataclass(frozen=True, slots=True, kw_only=True)
class PutBack:
    """What came of putting records back: those left alone since somebody changed them later, in words."""

    kept: tuple[str, ...]
    verdicts: Reassessed


Edit = tuple[models.Model, dict[str, Any]]


def build(order: Order, built: AsBuilt, serials: Mapping[str, str], *, by: By) -> Reassessed:
    """Change the inventory to what was built, keep what it was, and judge again what that touches."""
    edits = list(_edits(built, serials))
    gone: list[models.Model] = [*Run.objects.filter(key__in=built.wired.gone)]
    idle: list[models.Model] = [*Node.objects.filter(key__in=built.wired.idle)]

    def work() -> tuple[tuple[Changed, ...], list[models.Model]]:
        changed = [_whole(row, REMOVED) for row in gone]
        for row in gone:
            remove_record(row, by)
        joints = [create_record(Node, values, by) for values in _joints(built)]
        after: list[models.Model] = [*joints]
        for row, values in (*edits, *_run_edits(built)):
            changed += _facts(row, values)
            after.append(edit_record(row, values, by))
        laid = [create_record(Run, {"key": one.run, **_run_values(one)}, by) for one in built.wired.laid]
        changed += [_whole(row, MADE) for row in (*joints, *laid)]
        for row in (row for row in idle if not hanging_on(Node, [row.pk])):
            changed.append(_whole(row, REMOVED))
            remove_record(row, by)
        return tuple(changed), [*after, *laid]

    because = f"order {order.key} was accepted" + (f" by {by}" if by else "")
    with transaction.atomic():
        ended = [one.run for one in built.wired.changed]
        stood = [*(row for row, _ in edits), *gone, *idle, *Run.objects.filter(key__in=ended)]
        changed, verdicts = change(stood, work, because, by=by)
        forget_risks(row.pk for row, _ in edits if isinstance(row, Node))
        Rebuild.objects.update_or_create(
            order=order, defaults={"at": timezone.now(), "by": by, "changes": to_json(changed), "undone": None}
        )
    return verdicts


def _edits(built: AsBuilt, serials: Mapping[str, str]) -> Iterator[Edit]:
    """Yield every record with its new values; a record that is gone is passed over, which `AsBuilt.refused` tells of."""
    nodes = Node.objects.in_bulk([node.node for node in built.nodes], field_name="key")
    for node in built.nodes:
        if node.node in nodes:
            yield nodes[node.node], _node_values(node, nodes[node.node], built, serials)
    runs = Run.objects.in_bulk([run for run, _ in built.runs], field_name="key")
    cables = Cable.objects.in_bulk([cable for _, cable in built.runs], field_name="key")
    yield from ((runs[run], {"cable": cables[cable]}) for run, cable in built.runs if run in runs and cable in cables)
    yield from _bus_edits(built)
    yield from _shelf_edits(built)


def _run_edits(built: AsBuilt) -> Iterator[Edit]:
    """Yield the runs that end elsewhere now; made only when the junctions are there that they end at."""
    runs = Run.objects.in_bulk([one.run for one in built.wired.changed], field_name="key")
    yield from ((runs[one.run], _run_values(one)) for one in built.wired.changed if one.run in runs)


def _run_values(one: Laid) -> dict[str, Any]:
    ends = Node.objects.in_bulk(one.ends, field_name="key")
    return {
        "bus": Bus.objects.get(key=one.bus),
        "from_node": ends[one.ends[0]],
        "to_node": ends[one.ends[1]],
        "cable": Cable.objects.filter(key=one.cable).first(),
        "length_m": one.length_m,
    }


def _joints(built: AsBuilt) -> Iterator[dict[str, Any]]:
    """Yield the junctions put in, each where the node was that moved."""
    for one in built.wired.joints:
        was = Node.objects.get(key=one.was)
        yield {
            "key": one.node,
            "building": was.building,
            "room": was.room,
            "bus": Bus.objects.get(key=one.bus),
            "model": EquipmentModel.objects.filter(key=one.model).first(),
            "note": f"Put in where {one.was} was.",
        }


def _whole(row: models.Model, what: str) -> Changed:
    """Return a record that came or went, with all its columns."""
    columns = json.dumps({one.attname: _column_text(one, row) for one in row._meta.concrete_fields})  # noqa: SLF001 - any table
    before, after = (None, columns) if what == MADE else (columns, None)
    return Changed(
        table=type(row).__name__, pk=row.pk, record=str(row), field="", before=before, after=after, what=what
    )


def _column_text(column: "models.Field[Any, Any]", row: models.Model) -> str | None:
    return None if column.value_from_object(row) is None else str(column.value_to_string(row))


def _node_values(node: Rebuilt, row: Node, built: AsBuilt, serials: Mapping[str, str]) -> dict[str, Any]:
    values: dict[str, Any] = {"note": "\n".join(filter(None, (row.note, node.note)))}
    if node.model is not None:
        values |= {
            "model": EquipmentModel.objects.get(key=node.model),
            "installed": built.on,
            "condition": GOOD,
            "serial": serials.get(node.node) or None,
            "ends_bus": None,
        }
    if node.bus is not None:
        values["bus"] = Bus.objects.get(key=node.bus)
    return values


def _bus_edits(built: AsBuilt) -> Iterator[Edit]:
    buses = Bus.objects.in_bulk([bus for bus, _, _ in built.buses], field_name="key")
    protocols = Protocol.objects.in_bulk([protocol for _, protocol, _ in built.buses], field_name="key")
    for bus, protocol, rate in built.buses:
        if bus in buses and protocol in protocols:
            yield buses[bus], {"protocol": protocols[protocol], "bit_rate_kbit_s": rate}


def _shelf_edits(built: AsBuilt) -> Iterator[Edit]:
    """Yield parts with what is left of them, and spares with what came back; a stock that nobody counted stays not known."""
    parts = Part.objects.in_bulk([part for part, _ in built.parts], field_name="key")
    for part, quantity in built.parts:
        on_hand = parts[part].on_hand if part in parts else None
        if on_hand is not None:
            yield parts[part], {"on_hand": max(on_hand - quantity, Decimal(0))}
    for model, count in built.freed:
        shelf = _shelf(model)
        if shelf is not None:
            yield shelf, {"on_hand": max(shelf.on_hand + count, 0)}


def _shelf(model: str) -> Spare | None:
    """Return the first store of a model; where it has none, one that is empty, made on the way."""
    found = Spare.objects.filter(model__key=model).order_by("store", "pk").first()
    kind = EquipmentModel.objects.filter(key=model).first()
    if found is not None or kind is None:
        return found
    return create_record(Spare, {"model": kind, "on_hand": 0}, None)


def _facts(row: models.Model, values: Mapping[str, Any]) -> Iterator[Changed]:
    for field, value in values.items():
        before, after = _text(getattr(row, field)), _text(value)
        if before != after:
            yield Changed(table=type(row).__name__, pk=row.pk, record=str(row), field=field, before=before, after=after)


def _text(value: object) -> str | None:
    if isinstance(value, Decimal):
        return plain_number(value)
    return None if value is None else str(value)


def put_back(order: Order, *, by: By) -> PutBack:
    """Undo what accepting an order changed; what somebody has changed since stays as it is, and is told."""
    with transaction.atomic():
        rebuild = Rebuild.objects.select_for_update().filter(order__in=rows_of(order), undone=None).first()
        if rebuild is None:
            return PutBack(kept=(), verdicts=Reassessed())
        changes = [from_json(Changed, data) for data in rebuild.changes]
        edits, kept = _back([one for one in changes if one.what == EDITED])
        made, left = _still_as_made([one for one in changes if one.what == MADE])
        kept += left

        def work() -> tuple[None, list[models.Model]]:
            kept.extend(_taken_away([row for row in made if isinstance(row, Run)], by))
            again = list(_brought_back([one for one in changes if one.what == REMOVED], kept, by))
            after = [edit_record(row, values, by) for row, values in edits]
            kept.extend(_taken_away([row for row in made if not isinstance(row, Run)], by))
            return None, [*again, *after]

        because = f"order {order.key} was backed out" + (f" by {by}" if by else "")
        _, verdicts = change([*made, *(row for row, _ in edits)], work, because, by=by)
        forget_risks(row.pk for row, _ in edits if isinstance(row, Node))
        rebuild.undone = timezone.now()
        rebuild.save(update_fields=["undone"])
    return PutBack(kept=tuple(kept), verdicts=verdicts)


def _still_as_made(changes: Iterable[Changed]) -> tuple[list[models.Model], list[str]]:
    """Return the records that came and are still what they were then, and those that somebody changed since, in words."""
    found, kept = [], []
    for one in changes:
        row = TABLES[one.table]._default_manager.filter(pk=one.pk).first()  # noqa: SLF001 - any table
        if row is not None and _whole(row, MADE).after == one.after:
            found.append(row)
        elif row is not None:
            kept.append(f"{one.record} (changed since it was put in)")
    return found, kept


def _taken_away(rows: Iterable[models.Model], by: By) -> Iterator[str]:
    """Remove records; yield in words what something else refers to by now, which stays."""
    for row in rows:
        try:
            remove_record(row, by)
        except StillNeeded as needed:
            yield str(needed)


def _brought_back(changes: Iterable[Changed], kept: list[str], by: By) -> Iterator[models.Model]:
    """Make records again that went, nodes before the runs that end at them; note in words what cannot be."""
    for one in sorted(changes, key=lambda one: one.table != Node.__name__):
        table = TABLES[one.table]
        columns = {column.attname: column for column in table._meta.concrete_fields}  # noqa: SLF001 - any table
        said = json.loads(one.before or "{}")
        values = {name: None if text is None else columns[name].to_python(text) for name, text in said.items()}
        try:
            with transaction.atomic():
                yield create_record(table, values, by)
        except (ValidationError, IntegrityError):
            kept.append(f"{one.record} (it cannot be brought back: what it hangs on has changed since)")


COUNTED = {"on_hand"}  # what moves on for other reasons: the difference is put back, not the figure
KEYED: dict[str, Callable[[str], models.Model | None]] = {
    "from_node": lambda key: Node.objects.filter(key=key).first(),
    "to_node": lambda key: Node.objects.filter(key=key).first(),
    "model": lambda key: EquipmentModel.objects.filter(key=key).first(),
    "bus": lambda key: Bus.objects.filter(key=key).first(),
    "cable": lambda key: Cable.objects.filter(key=key).first(),
    "protocol": lambda key: Protocol.objects.filter(key=key).first(),
}


def _back(changes: list[Changed]) -> tuple[list[Edit], list[str]]:
    """Return the edits that put facts back, one record at a time, and what is left alone, in words."""
    edits: dict[tuple[str, int], Edit] = {}
    kept: list[str] = []
    for one in changes:
        row = TABLES[one.table]._default_manager.filter(pk=one.pk).first()  # noqa: SLF001 - any table
        said = f"{one.record}: {one.field.replace('_', ' ')}"
        if row is None:
            kept.append(f"{said} (the record is gone)")
        elif one.field in COUNTED:
            edits.setdefault((one.table, one.pk), (row, {}))[1][one.field] = _counted_back(row, one)
        elif _text(getattr(row, one.field)) != one.after:
            kept.append(f"{said} (changed since to {_text(getattr(row, one.field)) or 'not known'})")
        else:
            edits.setdefault((one.table, one.pk), (row, {}))[1][one.field] = _value(row, one)
    return list(edits.values()), kept


def _counted_back(row: models.Model, one: Changed) -> Any:
    now = getattr(row, one.field)
    kind = type(now)
    return max(kind(now + (kind(one.before or 0) - kind(one.after or 0))), kind(0))


def _value(row: models.Model, one: Changed) -> Any:
    if one.before is None:
        return None
    if one.field in KEYED:
        return KEYED[one.field](one.before)
    return row._meta.get_field(one.field).to_python(one.before)  # type: ignore[union-attr]  # noqa: SLF001 - any table
