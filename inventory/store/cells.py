# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""Typed values of a column to what the database takes, and the limits that the database has."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any, cast

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from inventory.core.problems import Problem, Severity
from inventory.store.targets import DjangoField
from inventory.workbook.columns import Column
from inventory.workbook.rows import SheetRows

Adapt = Callable[[object], object]

# Largest whole numbers that both databases hold: PostgreSQL 15 manual, table 8.2.
LARGEST = {"PositiveSmallIntegerField": 32_767, "PositiveIntegerField": 2_147_483_647}


def adapter(field: DjangoField, connection: BaseDatabaseWrapper) -> Adapt | None:
    """Return what turns a value into the database's own; None where nothing needs to be done."""
    if isinstance(field, models.DecimalField):
        return _decimal(field, connection)
    if isinstance(field, models.DateField):
        return cast("Adapt", connection.ops.adapt_datefield_value)
    if isinstance(field, models.TimeField):
        return cast("Adapt", connection.ops.adapt_timefield_value)
    return None


def _decimal(field: "models.DecimalField[Any, Any]", connection: BaseDatabaseWrapper) -> Adapt:
    def adapt(value: object) -> object:
        exact = value if isinstance(value, Decimal) else Decimal(str(value))
        rounded = round(exact, field.decimal_places)
        return connection.ops.adapt_decimalfield_value(rounded, field.max_digits, field.decimal_places)

    return adapt


def adapted(values: list[object], field: DjangoField, connection: BaseDatabaseWrapper) -> list[object]:
    """Return a column as the database takes it; a blank gets the field's default where the field needs a value."""
    if not field.null and field.has_default():
        default = field.get_default()
        values = [default if value is None else value for value in values]
    adapt = adapter(field, connection)
    if adapt is None:
        return values
    return [None if value is None else adapt(value) for value in values]


def largest(field: DjangoField) -> Decimal | None:
    """Return the largest value that a field holds on every database; None where there is no limit."""
    if isinstance(field, models.DecimalField):
        return Decimal(10) ** (field.max_digits - field.decimal_places) - 1
    limit = LARGEST.get(field.get_internal_type())
    return None if limit is None else Decimal(limit)


def too_large(rows: SheetRows, column: Column, field: DjangoField) -> tuple[Problem, ...]:
    """Return an error for each number of a column that no database would hold."""
    limit = largest(field)
    if limit is None:
        return ()
    return tuple(
        Problem(
            code="too-large",
            severity=Severity.ERROR,
            message=f"{column.heading} {value} is larger than {limit}, the largest that can be kept.",
            remedy="Mend the figure; the unit may be wrong.",
            sheet=rows.sheet.title,
            row=number,
            column=column.heading,
            value=str(value),
        )
        for number, value in zip(rows.numbers, rows.columns[column.name], strict=True)
        if isinstance(value, int | float | Decimal) and abs(Decimal(str(value))) > limit
    )
