# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""References of a workbook to integer ids: one dict for each table that is referred to."""

from django.db import models

from inventory.core.problems import Problem, Severity
from inventory.store.history import Stamp, stamped
from inventory.store.targets import Target, field_of, natural_key
from inventory.workbook.columns import Column
from inventory.workbook.rows import SheetRows

Ids = dict[object, int]
READ_AT_ONCE = 10_000


class References:
    """Ids by key for each table that columns refer to; each is read once, when the first column asks for it.

    Sheets are stored in an order in which a sheet refers only to sheets before it, so what is read stays true.
    """

    def __init__(self) -> None:
        self._ids: dict[str, Ids] = {}

    def ids(self, code: str, model: type[models.Model]) -> Ids:
        """Return the ids of a table by key: text, or a tuple where the key has several parts."""
        if code not in self._ids:
            self._ids[code] = _read_ids(code, model)
        return self._ids[code]

    def resolve(self, rows: SheetRows, column: Column, target: Target) -> list[int | None]:
        """Return the ids that a column of references means; None where the cell is blank or names nothing."""
        model = field_of(target.model, column.name).related_model
        if not isinstance(model, type) or column.refers_to is None:
            message = f"column {column.heading} of {rows.sheet.title} refers to no table"
            raise TypeError(message)
        ids = self.ids(column.refers_to, model)
        if column.within is None:
            return [ids.get(value) for value in rows.columns[column.name]]
        pairs = zip(rows.column(column.within), rows.columns[column.name], strict=True)
        return [ids.get(pair) for pair in pairs]

    def make_missing(self, rows: SheetRows, target: Target, stamp: Stamp) -> None:
        """Make the rows that references of this sheet name, where the target says that it makes them."""
        for name in target.makes:
            column = rows.sheet.column(name)
            model = field_of(target.model, name).related_model
            if isinstance(model, type) and column.refers_to:
                ids = self.ids(column.refers_to, model)
                ids |= _make(model, sorted({str(key) for key in rows.column(name) if key} - ids.keys()), stamp)


def _read_ids(code: str, model: type[models.Model]) -> Ids:
    path = natural_key(code)
    rows = model._default_manager.order_by().values_list(*path, "pk")
    if len(path) == 1:
        return dict(rows.iterator(READ_AT_ONCE))
    return {tuple(key): pk for *key, pk in rows.iterator(READ_AT_ONCE)}


def _make(model: type[models.Model], keys: list[str], stamp: Stamp) -> Ids:
    made: Ids = {}
    for key in keys:
        row = stamped(model(key=key), stamp)
        row.save()
        made[key] = row.pk
    return made


def lost_references(rows: SheetRows, column: Column, ids: list[int | None]) -> tuple[Problem, ...]:
    """Return an error for each cell that names something that is not there."""
    if ids.count(None) == rows.columns[column.name].count(None):
        return ()
    return tuple(
        Problem(
            code="unknown-reference",
            severity=Severity.ERROR,
            message=f"{column.heading} {value} is not on file.",
            remedy=_remedy(rows, column),
            sheet=rows.sheet.title,
            row=number,
            column=column.heading,
            value=str(value),
        )
        for number, value, found in zip(rows.numbers, rows.columns[column.name], ids, strict=True)
        if value is not None and found is None
    )


def _remedy(rows: SheetRows, column: Column) -> str:
    if column.within and column.within not in rows.columns:
        return f"Add the column {rows.sheet.column(column.within).heading}, which completes the name."
    return "Add it to its own sheet, or mend the name here."
