# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""Typed values of a column to what the database takes."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any, cast

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from inventory.store.targets import DjangoField

Adapt = Callable[[object], object]


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
