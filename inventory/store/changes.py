# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""What an intake would change, cell by cell, in the words of the workbook."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from inventory.store.staging import MATCHED, STAGED, Staging
from inventory.store.targets import DjangoField, fields_by_column, natural_key
from inventory.workbook.columns import Column, Kind
from inventory.workbook.rows import RowKey, SheetRows
from inventory.workbook.whole_rows import SaidRow, said_row

Words = dict[int, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellChange:
    """One cell that differs: heading, what is stored and what the file says (None: not known)."""

    column: str
    old: str | None
    new: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """One row that differs: its number in the file, its key in words, and the cells."""

    row: int
    key: str
    cells: tuple[CellChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewRow:
    """One row that is not stored yet: its number in the file, its key in words, and its filled cells."""

    row: int
    key: str
    cells: SaidRow


def key_in_words(key: RowKey) -> str:
    """Return a key as people say it: its known parts with commas between."""
    parts = key if isinstance(key, tuple) else (key,)
    return ", ".join(str(part) for part in parts if part is not None)


def changed_rows(staging: Staging, rows: SheetRows, compared: Sequence[str], most: int) -> tuple[RowChange, ...]:
    """Return the first `most` rows of a sheet that differ from what is stored, before they are stored."""
    columns = _shown(staging, rows, compared)
    wanted = [f"{side}.{staging.quote(str(field.column))}" for _, field in columns for side in ("t", "s")]
    found = staging.ask(
        f"SELECT s.n{''.join(f', {name}' for name in wanted)} FROM {MATCHED} m JOIN {STAGED} s ON s.n = m.n "
        f"JOIN {staging.table} t ON t.id = m.id WHERE m.changed ORDER BY s.n LIMIT {most:d}"
    )
    if not found:
        return ()
    numbers, *cells = zip(*found, strict=True)
    keys = rows.keys()
    said = [
        (column.heading, *_in_words(column, field, cells[2 * at], cells[2 * at + 1]))
        for at, (column, field) in enumerate(columns)
    ]
    return tuple(
        RowChange(row=rows.numbers[n], key=key_in_words(keys[n]), cells=_differing(said, at))
        for at, n in enumerate(numbers)
    )


def new_rows(staging: Staging, rows: SheetRows, most: int) -> tuple[NewRow, ...]:
    """Return the first `most` rows of a sheet that are not stored yet."""
    found = staging.ask(
        f"SELECT s.n FROM {STAGED} s WHERE NOT EXISTS (SELECT 1 FROM {MATCHED} m WHERE m.n = s.n) "
        f"ORDER BY s.n LIMIT {most:d}"
    )
    keys = rows.keys()
    return tuple(NewRow(row=rows.numbers[n], key=key_in_words(keys[n]), cells=said_row(rows, n)) for (n,) in found)


def _shown(staging: Staging, rows: SheetRows, compared: Sequence[str]) -> list[tuple[Column, DjangoField]]:
    by_name = {field.name: field for name, field in fields_by_column(staging.model).items() if name in compared}
    return [(column, by_name[column.name]) for column in rows.sheet.columns if column.name in by_name]


def _differing(said: list[tuple[str, list[str | None], list[str | None]]], at: int) -> tuple[CellChange, ...]:
    return tuple(
        CellChange(column=heading, old=old[at], new=new[at]) for heading, old, new in said if old[at] != new[at]
    )


def _in_words(
    column: Column, field: DjangoField, old: Iterable[object], new: Iterable[object]
) -> tuple[list[str | None], list[str | None]]:
    """Return the stored and the new values of a column as text."""
    old, new = list(old), list(new)
    names = _names(column, field, {value for value in (*old, *new) if isinstance(value, int)})
    return [_say(field, value, names) for value in old], [_say(field, value, names) for value in new]


def _names(column: Column, field: DjangoField, ids: set[int]) -> Words:
    """Return what the workbook calls the rows with these ids, where the column holds references."""
    model = field.related_model
    if column.kind is not Kind.REFERENCE or column.refers_to is None or not isinstance(model, type):
        return {}
    rows = model._default_manager.filter(pk__in=ids).values_list("pk", natural_key(column.refers_to)[-1])
    return dict(rows)


def _say(field: DjangoField, value: object, names: Words) -> str | None:
    if value is None:
        return None
    if isinstance(field, models.ForeignKey):
        return names.get(int(str(value)), str(value))
    if isinstance(field, models.BooleanField):
        return "yes" if value else "no"
    if isinstance(field, models.FloatField | models.DecimalField):
        text = f"{Decimal(str(value)):f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return str(value)
