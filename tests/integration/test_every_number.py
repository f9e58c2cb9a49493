"""Every column of numbers, from the cell of a workbook or the field of a page to verdicts: words, or figures that mean something.

One table of what nobody should write, and one of the least and most that the columns let through; no column is left out.
"""

import math
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
from django.db import models

from inventory.core.problems import errors_in
from inventory.core.snapshot import Snapshot
from inventory.models import Building
from inventory.services.intake import take_in
from inventory.workbook.cells import Fault, read_cell
from inventory.workbook.columns import LEAST, MOST, Column, Kind
from inventory.workbook.sheets import BY_CODE
from planner.core.brief import Brief
from planner.core.findings import SegmentReport
from planner.core.judgements import judge
from planner.core.reliefs import with_ways_out
from planner.core.verdicts import assess
from planner.store.intake import ALL_TARGETS, PLANNER_CHECKS
from tests.campuses import hand_campus
from tests.reliefs import priced

DEMO = Path(__file__).parents[2] / "fixtures" / "campus.xlsx"
NUMBERS = (Kind.NUMBER, Kind.WHOLE, Kind.DECIMAL, Kind.MONEY)
COLUMNS = [(sheet, column) for sheet in BY_CODE.values() for column in sheet.columns if column.kind in NUMBERS]
NONSENSE = (-1.0, "NaN", "nan", "inf", "-inf", "1e309", "9" * 40, "1e-300", 5e-324, "12 of them", True, "٣")
EVERY = {f"{sheet.title}, {column.heading}": (sheet, column) for sheet, column in COLUMNS}


def least_and_most(column: Column) -> tuple[float, float]:
    """Return the least and the most that a column lets through; a whole number has no fractions."""
    least = column.lowest or 0.0
    return float(least), float(MOST if column.highest is None else column.highest)


@pytest.mark.parametrize("name", EVERY)
def test_nonsense_is_refused_in_words_in_every_cell_and_field(name: str) -> None:
    _, column = EVERY[name]
    for cell in NONSENSE:
        found = read_cell(column, cell)  # what the reader of workbooks and the forms of pages ask
        assert isinstance(found, Fault), (cell, found)
        assert found.message
        assert found.remedy
    for value in least_and_most(column):
        assert not isinstance(read_cell(column, value), Fault), value
    if column.kind is Kind.NUMBER and not column.lowest:
        assert not isinstance(read_cell(column, LEAST), Fault)
    assert isinstance(read_cell(column, least_and_most(column)[1] * 1.01 + 1), Fault)


SMALL, WHOLE = 32_767, 2_147_483_647  # the most that such a column of PostgreSQL holds


@pytest.mark.parametrize("name", EVERY)
def test_the_tables_of_either_database_hold_the_least_and_the_most(name: str) -> None:
    sheet, column = EVERY[name]
    target = ALL_TARGETS.get(sheet.code)
    if target is None or column.name not in {one.name for one in target.model._meta.fields}:
        pytest.skip("no column of a table: a setting, or a figure that is kept in words")
    field: Any = target.model._meta.get_field(column.name)
    least, most = least_and_most(column)
    assert least >= 0
    if isinstance(field, models.DecimalField):
        assert Decimal(most) < 10 ** (field.max_digits - field.decimal_places)
        assert column.decimals <= field.decimal_places
    elif isinstance(field, models.IntegerField):
        assert column.kind is Kind.WHOLE
        assert most <= (SMALL if isinstance(field, models.PositiveSmallIntegerField) else WHOLE)
    else:
        assert isinstance(field, models.FloatField)


OF_SEGMENTS = ("models", "cables", "protocols", "methods", "runs")  # what verdicts are reckoned from


def with_all(snapshot: Snapshot, code: str, column: str, value: float) -> Snapshot:
    """Return a campus with one value in a whole column."""
    if code == "runs":
        return replace(snapshot, runs=replace(snapshot.runs, length_m=np.full(len(snapshot.runs), value)))
    rows = tuple(replace(row, **{column: value}) for row in getattr(snapshot.catalogue, code))
    return replace(snapshot, catalogue=replace(snapshot.catalogue, **{code: rows}))


def figures(report: SegmentReport) -> list[float]:
    loads = (*report.voltages, *(report.way_out.voltages if report.way_out is not None else ()))
    found = [value for one in report.findings for value in (one.measured, one.limit, one.margin)]
    found += [value for one in loads for value in (one.voltage_v, one.current_a)]
    return [value for value in (*found, report.wire_m) if value is not None]


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", [name for name, (sheet, _) in EVERY.items() if sheet.code in OF_SEGMENTS])
def test_verdicts_stand_on_the_least_and_the_most_that_a_column_lets_through(name: str) -> None:
    sheet, column = EVERY[name]
    base = hand_campus()
    base = replace(base, catalogue=priced(base.catalogue))
    least, most = least_and_most(column)
    for value in (least, most, *((LEAST,) if column.kind is Kind.NUMBER else ())):
        typed: Any = int(value) if column.kind is Kind.WHOLE else value
        snapshot = with_all(base, sheet.code, column.name, typed)
        reports, judgements = assess(snapshot, Brief()), judge(snapshot, Brief())
        for label, one in enumerate(with_ways_out(snapshot, reports, Brief())):
            assert judgements.verdict_of(label) == (one.verdict, one.decided_by), (value, one)
            assert all(map(math.isfinite, figures(one))), (value, one)


def written(bad: object) -> tuple[bytes, set[tuple[str, int, str]]]:
    """Return the demo's workbook with a value in the first row of every column of numbers, and where it stands."""
    book = openpyxl.load_workbook(DEMO)
    places = set()
    for sheet, column in COLUMNS:
        page = book[sheet.title]
        at = next((cell.column for cell in page[1] if cell.value == column.heading), None)
        if at is not None:
            cell = page.cell(row=2, column=at, value=bad)
            if isinstance(bad, str):
                cell.data_type = "s"
            places.add((sheet.title, 2, column.heading))
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue(), places


@pytest.mark.django_db
@pytest.mark.parametrize("bad", [-1.0, "NaN", "1e309", "1e-300"])
def test_a_workbook_with_nonsense_in_every_column_names_each_cell_and_stores_nothing(bad: object) -> None:
    content, places = written(bad)
    assert len(places) == len(COLUMNS), "the demo's workbook has every column"
    result = take_in(content, "campus.xlsx", ALL_TARGETS, None, checks=PLANNER_CHECKS)
    assert not result.stored
    problems = errors_in(result.problems)
    assert {(one.sheet, one.row, one.column) for one in problems} >= places
    assert all(one.message and one.remedy for one in problems)
    assert not Building.objects.exists()
