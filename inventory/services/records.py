# ruff: noqa: SLF001 - _default_manager and _meta are how Django gives the rows and fields of any table
"""One record at a time: make, change, remove, each with its history and who did it."""

from collections.abc import Mapping
from math import isfinite
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, models, transaction
from django.utils import timezone

from inventory.store.history import Stamp, hanging_on, remove_rows
from inventory.store.targets import By

Row = TypeVar("Row", bound=models.Model)


class StillNeeded(ValueError):  # noqa: N818 - says what is the matter
    """The record cannot go because others refer to it; the message names them."""


@transaction.atomic
def create_record(model: type[Row], values: Mapping[str, Any], by: By) -> Row:
    """Make a record; ValidationError, field by field, where a value cannot be kept."""
    return _save(model(**values), by)


@transaction.atomic
def edit_record(row: Row, values: Mapping[str, Any], by: By) -> Row:
    """Change a record; what is the same already leaves no trace in its history."""
    stored = type(row)._default_manager.select_for_update().get(pk=row.pk)
    changed = [name for name, value in values.items() if getattr(stored, name) != value]
    for name in changed:
        setattr(stored, name, values[name])
    return _save(stored, by) if changed else stored


def _save(row: Row, by: By) -> Row:
    _refuse_no_number(row)
    row.full_clean()
    row._history_user = by  # type: ignore[attr-defined]
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as refusal:
        message = f"This breaks a rule of the records: {str(refusal).splitlines()[0]}"
        raise ValidationError(message) from refusal
    return row


def _refuse_no_number(row: models.Model) -> None:
    """Refuse NaN and infinity: PostgreSQL holds both for greater than any limit a constraint sets."""
    numbers = {one.name: getattr(row, one.name) for one in row._meta.concrete_fields}
    wrong = [name for name, value in numbers.items() if isinstance(value, float) and not isfinite(value)]
    if wrong:
        raise ValidationError(dict.fromkeys(wrong, "This is not a number that can be kept. Enter digits."))


@transaction.atomic
def remove_record(row: models.Model, by: By) -> None:
    """Remove a record and what is part of it; StillNeeded, with names, where something else refers to it."""
    hanging = hanging_on(type(row), [row.pk])
    if hanging:
        what = " and ".join(str(one) for one in hanging)
        message = f"{row} cannot be removed: {what} refer to it. Remove or change those first."
        raise StillNeeded(message)
    remove_rows(connection, type(row), [row.pk], Stamp(by=by, at=timezone.now()))
