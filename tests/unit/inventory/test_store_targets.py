"""The table of targets agrees with the table of the workbook and with the tables of the database."""

from decimal import Decimal

import pytest
from django.db import models

from inventory.store.targets import Target, field_of, sheets_of
from inventory.workbook.columns import Column, Kind, Sheet
from inventory.workbook.sheets import SHEETS
from planner.store.intake import ALL_TARGETS

# Largest whole numbers that both databases hold: PostgreSQL 15 manual, table 8.2.
LARGEST = {"PositiveSmallIntegerField": 32_767, "PositiveIntegerField": 2_147_483_647}
FIELDS = {
    Kind.KEY: models.TextField,
    Kind.TEXT: models.TextField,
    Kind.CHOICE: models.TextField,
    Kind.NUMBER: models.FloatField,
    Kind.WHOLE: models.IntegerField,
    Kind.DECIMAL: models.DecimalField,
    Kind.MONEY: models.DecimalField,
    Kind.DATE: models.DateField,
    Kind.MOMENT: models.CharField,
    Kind.CLOCK: models.TimeField,
    Kind.YES_NO: models.BooleanField,
    Kind.REFERENCE: models.ForeignKey,
}
COLUMNS = [
    pytest.param(ALL_TARGETS[sheet.code], column, id=f"{sheet.code}-{column.name}")
    for sheet in sheets_of(ALL_TARGETS)
    for column in sheet.columns
]


def test_every_sheet_has_a_target() -> None:
    assert sheets_of(ALL_TARGETS) == SHEETS


@pytest.mark.parametrize(("target", "column"), COLUMNS)
def test_a_column_fills_a_field_of_its_kind(target: Target, column: Column) -> None:
    assert isinstance(field_of(target.model, column.name), FIELDS[column.kind])


@pytest.mark.parametrize(("target", "column"), COLUMNS)
def test_no_value_that_the_reader_lets_through_is_too_much_for_the_field(target: Target, column: Column) -> None:
    field = field_of(target.model, column.name)
    if isinstance(field, models.DecimalField):
        limit: Decimal | None = Decimal(10) ** (field.max_digits - field.decimal_places) - 1
        assert column.decimals <= field.decimal_places
    else:
        limit = LARGEST.get(field.get_internal_type())  # type: ignore[assignment]
    assert limit is None or (column.highest is not None and column.highest <= limit)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.code)
def test_a_field_that_must_be_known_stands_in_a_required_column_or_has_a_default(sheet: Sheet) -> None:
    for column in sheet.columns:
        field = field_of(ALL_TARGETS[sheet.code].model, column.name)
        assert field.null or field.has_default() or column.required, column.heading
