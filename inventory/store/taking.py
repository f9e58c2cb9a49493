# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""One sheet of a workbook into its table, with its history, and what that changed."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db.backends.base.base import BaseDatabaseWrapper

from inventory.core.problems import Problem, Severity
from inventory.store.cells import adapted
from inventory.store.changes import NewRow, RowChange, changed_rows, new_rows
from inventory.store.history import CHANGED, NEW, Stamp, write_history
from inventory.store.references import References, lost_references
from inventory.store.staging import MATCHED, Staging, Tally
from inventory.store.targets import DjangoField, Target, field_of, fields_by_column
from inventory.workbook.columns import Kind
from inventory.workbook.rows import SheetRows


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetCounts:
    """What an intake does to the rows of one sheet. Absent rows are stored and not in the file."""

    new: int = 0
    changed: int = 0
    unchanged: int = 0
    absent: int = 0
    removed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOutcome:
    """One sheet stored: counts, or the problems that keep it out; new and changed rows and ids of absent ones if asked for."""

    counts: SheetCounts = field(default_factory=SheetCounts)
    problems: tuple[Problem, ...] = ()
    new: tuple[NewRow, ...] = ()
    changed: tuple[RowChange, ...] = ()
    absent: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What to tell about a sheet beyond its counts: so many new and changed rows, and which rows are absent."""

    new_rows: int = 0
    changed_rows: int = 0
    absent_rows: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    field: DjangoField
    values: Sequence[object]
    key: bool


def store_sheet(  # noqa: PLR0917 - the sheet, where it goes, who brings it, what to tell
    connection: BaseDatabaseWrapper, rows: SheetRows, target: Target, references: References, stamp: Stamp, wish: Wish
) -> SheetOutcome:
    """Store the rows of one sheet inside the caller's transaction."""
    references.make_missing(rows, target, stamp)
    columns, problems = _columns(connection, rows, target, references, stamp)
    if problems:
        return SheetOutcome(problems=problems)
    names = [str(column.field.column) for column in columns]
    key = [str(column.field.column) for column in columns if column.key]
    with Staging(connection, target.model, names, key) as staging:
        staging.fill([column.values for column in columns], len(rows))
        compared = [name for name in names if name not in key]
        tally = staging.match(compared)
        missing = _missing_columns(rows, target, set(names)) if tally.new else ()
        if missing:
            return SheetOutcome(problems=missing)
        return _put(staging, rows, target, tally, compared, stamp, wish)


def _put(  # noqa: PLR0917 - the steps of one sheet share what the sheet is
    staging: Staging, rows: SheetRows, target: Target, tally: Tally, compared: list[str], stamp: Stamp, wish: Wish
) -> SheetOutcome:
    last = staging.last_id()
    absent = _absent(staging, target) if wish.absent_rows or target.owned else None
    count_absent = staging.stored - tally.matched if absent is None else len(absent)
    shown = changed_rows(staging, rows, compared, wish.changed_rows) if tally.changed and wish.changed_rows else ()
    added = new_rows(staging, rows, wish.new_rows) if tally.new and wish.new_rows else ()
    if tally.changed:
        staging.update(compared)
        write_history(
            staging.connection, target.model, CHANGED, stamp, f"id IN (SELECT id FROM {MATCHED} WHERE changed)"
        )
    if tally.new:
        staging.insert(_defaults(staging, target))
        write_history(staging.connection, target.model, NEW, stamp, "id > %s", (last,))
    counts = SheetCounts(
        new=tally.new, changed=tally.changed, unchanged=tally.matched - tally.changed, absent=count_absent
    )
    return SheetOutcome(counts=counts, new=added, changed=shown, absent=tuple(absent or ()))


def _columns(
    connection: BaseDatabaseWrapper, rows: SheetRows, target: Target, references: References, stamp: Stamp
) -> tuple[list[_Column], tuple[Problem, ...]]:
    """Return what to stage: the columns of the file, key columns it may lack, and what every row gets."""
    columns: list[_Column] = []
    problems: list[Problem] = []
    for column in rows.sheet.columns:
        is_key = column.name in rows.sheet.key
        if column.name not in rows.columns and not is_key:
            continue
        field_here = field_of(target.model, column.name)
        values: Sequence[object]
        if column.kind is Kind.REFERENCE and column.name in rows.columns:
            ids = references.resolve(rows, column, target)
            problems += lost_references(rows, column, ids)
            values = ids
        else:
            values = adapted(rows.column(column.name), field_here, connection)
        columns.append(_Column(field=field_here, values=values, key=is_key))
    for name, value in target.sets.items():
        same = [value(stamp.by)] * len(rows)
        columns.append(_Column(field=fields_by_column(target.model)[name], values=same, key=name in target.also_key))
    return columns, tuple(problems)


def _absent(staging: Staging, target: Target) -> list[int]:
    """Return the ids of rows that are stored and not in the file, of those that a workbook holds."""
    absent = staging.unmatched()
    if not target.owned:
        return absent
    owned = set(target.model._default_manager.filter(**target.owned).values_list("pk", flat=True))
    return [one for one in absent if one in owned]


def _needed(target: Target, staged: set[str]) -> dict[str, DjangoField]:
    """Return the fields, by database column, that a new row needs and that are not staged."""
    fields = fields_by_column(target.model).items()
    return {name: one for name, one in fields if not one.null and not one.primary_key and name not in staged}


def _defaults(staging: Staging, target: Target) -> dict[str, object]:
    return {name: one.get_default() for name, one in _needed(target, set(staging.names)).items()}


def _missing_columns(rows: SheetRows, target: Target, staged: set[str]) -> tuple[Problem, ...]:
    """Return an error for each column without which the new rows of a sheet cannot be stored."""
    lacking = {one.name for one in _needed(target, staged).values() if not one.has_default()}
    return tuple(
        Problem(
            code="column-missing",
            severity=Severity.ERROR,
            message=f"The sheet has new rows and no column {column.heading}, which every new row needs.",
            remedy=f"Add the column {column.heading}, or leave out the rows that are new.",
            sheet=rows.sheet.title,
            column=column.heading,
        )
        for column in rows.sheet.columns
        if column.name in lacking
    )
