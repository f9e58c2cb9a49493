# ruff: noqa: SLF001 - _default_manager and _meta are how Django gives the rows and fields of any table
"""Records of any sheet as people edit them: typed texts read and checked like a workbook's cells, stored with who did it."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import models

from inventory.core.problems import Problem, Severity
from inventory.core.saying import counted_words
from inventory.services.records import create_record, edit_record
from inventory.store.known_of import known_of
from inventory.store.targets import By, Target, field_of, key_path
from inventory.workbook.check import check_rows
from inventory.workbook.columns import Column, Kind, Sheet
from inventory.workbook.rows import SheetRows, WorkbookRows
from inventory.workbook.typed import read_texts, written

Check = Callable[[WorkbookRows], Iterable[Problem]]
Texts = Mapping[str, str]
OPENED = "opened-"  # in front of the name of a field: what it held when the form was opened
FREE_KEYS = frozenset({"zones", "scenes"})  # sheets whose keys are numbers on the plate, which may change
NOTES = {Severity.WARNING}


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """All records of one sheet: where they are kept, and the checks beyond the workbook's own."""

    sheet: Sheet
    target: Target
    checks: tuple[Check, ...] = ()

    def rows(self) -> "models.QuerySet[Any]":
        """Return the records, with what they refer to."""
        found = self.target.model._default_manager.filter(**self.target.owned)
        return found.select_related(*(one.name for one in self.sheet.columns if one.kind is Kind.REFERENCE))

    @property
    def what(self) -> str:
        """What one record is called."""
        return str(self.target.model._meta.verbose_name)

    @property
    def many(self) -> str:
        """What several records are called."""
        return str(self.target.model._meta.verbose_name_plural)

    def counted(self, count: int) -> str:
        """Say so many records: 1 run, 12 runs."""
        return counted_words(count, self.what, self.many)

    def is_fixed(self, column: Column) -> bool:
        """Tell whether a column names a record for good: by it labels on site, drawings and plans speak of it."""
        if self.sheet.code == "protocols":
            return column.name == "protocol"
        is_name = column.kind is Kind.KEY or (self.sheet.code == "rooms" and column.name == "building")
        return is_name and self.sheet.code not in FREE_KEYS


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A record as typed: the values to keep, what is wrong (column name, "" for the whole, to words), what is odd."""

    values: Mapping[str, object]
    faults: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    oddities: tuple[str, ...] = ()


def texts_of(register: Register, row: models.Model) -> dict[str, str]:
    """Return a record as people would type it, by column."""
    return {column.name: written(_value(row, column), column.kind) for column in register.sheet.columns}


def _value(row: models.Model, column: Column) -> object:
    value = getattr(row, column.name)
    return value.key if isinstance(value, models.Model) and hasattr(value, "key") else value


def read_entry(register: Register, texts: Texts, row: models.Model | None = None) -> Entry:
    """Read and check what was typed; `row` is the record that it changes, None for a new one."""
    values, faults = read_texts(register.sheet, texts)
    found: dict[str, tuple[str, ...]] = {name: (words,) for name, words in faults.items()}
    problems, oddities = check_values(register, {name: [value] for name, value in values.items()}, known_faults=found)
    found |= {name: words for name, words in problems.get(0, {}).items() if name not in found}
    if not found and row is None and (stored := like(register, values)) is not None:
        last = register.sheet.key[-1]
        found[last] = (f"{stored} is on record already: change that {register.what}, or give another name.",)
    if found:
        return Entry(values=values, faults=found)
    return Entry(values=_resolved(register, values), oddities=tuple(words for _, words in oddities))


def check_values(
    register: Register, columns: dict[str, list[object]], known_faults: Iterable[str] = ()
) -> tuple[dict[int, dict[str, tuple[str, ...]]], tuple[tuple[int, str], ...]]:
    """Return what is wrong with rows of values, by position and column, and what is merely odd: position, words."""
    count = len(next(iter(columns.values())))
    rows = SheetRows(sheet=register.sheet, numbers=list(range(count)), columns=columns)
    book = WorkbookRows(sheets={register.sheet.code: rows})
    problems = [*check_rows(book, known_of(rows)), *(one for check in register.checks for one in check(book))]
    names = {column.heading: column.name for column in register.sheet.columns}
    wrong: dict[int, dict[str, tuple[str, ...]]] = {}
    for one in problems:
        name = names.get(one.column or "", "")
        if one.severity is Severity.ERROR and name not in known_faults:
            mine = wrong.setdefault(one.row or 0, {})
            mine[name] = (*mine.get(name, ()), _words(one))
    return wrong, tuple(sorted({(one.row or 0, _words(one)) for one in problems if one.severity in NOTES}))


def _words(problem: Problem) -> str:
    return f"{problem.message.rstrip('.')}: {problem.remedy.rstrip('.')}."


def like(register: Register, values: Mapping[str, object]) -> Any:
    """Return the stored record that has the key of these values, None where there is none."""
    at: dict[str, Any] = {}
    for name in register.sheet.key:
        path = key_path(register.sheet.column(name))
        at |= {f"{path}__isnull": True} if values[name] is None else {path: values[name]}
    return register.target.model._default_manager.filter(**at, **register.target.owned).first()


def _resolved(register: Register, values: Mapping[str, object]) -> dict[str, object]:
    """Return the values with records in the place of their names."""
    return {column.name: resolved(register, column, values) for column in register.sheet.columns}


def resolved(register: Register, column: Column, values: Mapping[str, object]) -> object:
    """Return what a column of a row keeps: the record that it names, where it names one."""
    key = values[column.name]
    if key is None or column.kind is not Kind.REFERENCE:
        return key
    model: Any = field_of(register.target.model, column.name).related_model
    if column.name in register.target.makes:
        return model._default_manager.get_or_create(key=key)[0]
    within = {} if column.within is None else {f"{column.within}__key": values[column.within]}
    return model._default_manager.get(key=key, **within)


def put_new(register: Register, entry: Entry, by: By) -> Any:
    """Store a new record; ValidationError where the database refuses it."""
    sets = {name: value(by) for name, value in register.target.sets.items()}
    return create_record(register.target.model, {**entry.values, **sets}, by)


def put_changed(register: Register, row: models.Model, entry: Entry, by: By) -> Any:
    """Store a changed record; ValidationError where the database refuses it."""
    sets = {name: value(by) for name, value in register.target.sets.items() if not name.endswith("_id")}
    return edit_record(row, {**entry.values, **sets}, by)


def refusals(register: Register, error: ValidationError) -> dict[str, tuple[str, ...]]:
    """Return what the database refuses, by column name; "" for the record as a whole."""
    if not hasattr(error, "error_dict"):
        return {"": tuple(error.messages)}
    names = {column.name for column in register.sheet.columns}
    found: dict[str, tuple[str, ...]] = {}
    for name, words in error.message_dict.items():
        at = name if name in names and name != NON_FIELD_ERRORS else ""
        found[at] = (*found.get(at, ()), *words)
    return found


def difference(register: Register, before: Texts, after: Texts) -> tuple[tuple[str, str, str], ...]:
    """Return the columns whose text differs: heading, before, after."""
    return tuple(
        (column.heading, before.get(column.name, ""), after.get(column.name, ""))
        for column in register.sheet.columns
        if before.get(column.name, "") != after.get(column.name, "")
    )


def columns_of(register: Register, rows: Sequence[models.Model]) -> dict[str, list[object]]:
    """Return records as rows of values by column, as a workbook would give them."""
    return {column.name: [_value(row, column) for row in rows] for column in register.sheet.columns}
