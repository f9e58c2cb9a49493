"""Fields and constraints that many tables share."""

from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

NOT_BELOW_ZERO = 0
LONGEST_NAME = 30  # of an index


if TYPE_CHECKING:
    TextBase = models.TextField[str, str]
else:
    TextBase = models.TextField


class Key(TextBase):
    """Text that names a row."""


class History(HistoricalRecords):  # type: ignore[misc]  # the library has no types
    """History of a table: every version of every row, with who and when.

    It is read by the row it tells of, and by date; an index on each column of it would double the time of an intake.
    What was changed by hand is also found among the millions of rows that intakes wrote, which give a reason.
    """

    def copy_fields(self, model: type[models.Model]) -> dict[str, Any]:
        """Return the copied fields, none but the row's id with an index."""
        fields: dict[str, Any] = super().copy_fields(model)
        for name, field in fields.items():
            field.db_index = name == "id"
        return fields

    def get_meta_options(self, model: type[models.Model]) -> dict[str, Any]:
        """Return the options of the history's table, with its index of changes by hand."""
        options: dict[str, Any] = super().get_meta_options(model)
        by_hand = models.Index(
            fields=["history_date", "history_id"],
            condition=Q(history_change_reason__isnull=True),
            name=f"{model._meta.model_name}_by_hand"[:LONGEST_NAME],  # noqa: SLF001 - its documented name
        )
        return {**options, "indexes": [by_hand]}


def at_least(table: str, field: str, lowest: float) -> models.CheckConstraint:
    """Return a constraint: `field` is not known, or at least `lowest`."""
    condition = Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gte": lowest})
    return models.CheckConstraint(condition=condition, name=f"{table}_{field}_low")


def one_of(table: str, field: str, choices: tuple[str, ...]) -> models.CheckConstraint:
    """Return a constraint: `field` is not known, or one of `choices`."""
    condition = Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__in": choices})
    return models.CheckConstraint(condition=condition, name=f"{table}_{field}_choice")


def not_below_zero(table: str, *fields: str) -> list[models.BaseConstraint]:
    """Return one constraint a field: not known, or at least zero."""
    return [at_least(table, field, NOT_BELOW_ZERO) for field in fields]
