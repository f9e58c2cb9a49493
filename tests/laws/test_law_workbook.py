"""Whatever rows are written read back equal; the order of rows does not matter."""

from datetime import date, datetime, time
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.workbook.cells import FIRST_DAY, LAST_DAY, LONGEST_KEY
from inventory.workbook.columns import LEAST, Column, Kind, Sheet
from inventory.workbook.read import read_workbook
from inventory.workbook.rows import SheetRows
from inventory.workbook.sheets import SHEETS
from inventory.workbook.write import write_filled

FEW = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
LETTERS = st.characters(exclude_categories=("Cs", "Cc", "Cn"), include_characters="\n\t=+-@")


def texts(longest: int) -> st.SearchStrategy[str]:
    return st.text(LETTERS, min_size=1, max_size=longest).map(str.strip).filter(bool)


def decimals(column: Column) -> st.SearchStrategy[Decimal]:
    return st.decimals(
        min_value=Decimal(int(column.lowest or 0)),
        max_value=Decimal(int(column.highest or 10**9)),
        places=column.decimals,
        allow_nan=False,
    )


def numbers(column: Column) -> st.SearchStrategy[float]:
    least = max(column.lowest or 0.0, LEAST)
    some = st.floats(min_value=least, max_value=column.highest, allow_nan=False, allow_infinity=False)
    return some if column.lowest else st.just(0.0) | some


MOMENTS = st.datetimes(datetime(1950, 1, 1), datetime(2199, 12, 31)).map(lambda at: f"{at:%Y-%m-%d %H:%M}")  # noqa: DTZ001
VALUES = {
    Kind.KEY: lambda _: texts(LONGEST_KEY),
    Kind.REFERENCE: lambda _: texts(LONGEST_KEY),
    Kind.TEXT: lambda _: texts(300),
    Kind.CHOICE: lambda column: st.sampled_from(column.choices),
    Kind.YES_NO: lambda _: st.booleans(),
    Kind.NUMBER: numbers,
    Kind.WHOLE: lambda column: st.integers(int(column.lowest or 0), int(column.highest or 10**6)),
    Kind.DECIMAL: decimals,
    Kind.MONEY: decimals,
    Kind.DATE: lambda _: st.dates(FIRST_DAY, LAST_DAY),
    Kind.MOMENT: lambda _: MOMENTS,
    Kind.CLOCK: lambda _: st.builds(time, st.integers(0, 23), st.integers(0, 59)),
}


def cells(column: Column) -> st.SearchStrategy[object]:
    values: st.SearchStrategy[object] = VALUES[column.kind](column)  # type: ignore[operator]
    needed = column.required or column.default is not None
    return values if needed else st.none() | values


@st.composite
def sheet_rows(draw: st.DrawFn, sheet: Sheet) -> SheetRows:
    """Draw rows of a sheet in which no row is wholly blank."""
    drawn = draw(st.lists(st.tuples(*(cells(column) for column in sheet.columns)), max_size=4))
    rows = [row for row in drawn if any(cell is not None for cell in row)]
    columns: dict[str, list[object]] = {
        column.name: [row[at] for row in rows] for at, column in enumerate(sheet.columns)
    }
    return SheetRows(sheet=sheet, numbers=[*range(2, len(rows) + 2)], columns=columns)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.code)
@FEW
@given(data=st.data())
def test_rows_that_are_written_read_back_equal(sheet: Sheet, data: st.DataObject) -> None:
    rows = data.draw(sheet_rows(sheet))
    read = read_workbook(write_filled({sheet.code: rows}, (sheet,)), (sheet,))
    assert read.problems == ()
    assert read.sheets[sheet.code] == rows


@FEW
@given(data=st.data())
def test_row_order_does_not_matter(data: st.DataObject) -> None:
    sheet = next(sheet for sheet in SHEETS if sheet.code == "nodes")
    rows = data.draw(sheet_rows(sheet))
    order = data.draw(st.permutations(range(len(rows))))
    moved = {name: [values[at] for at in order] for name, values in rows.columns.items()}
    shuffled = SheetRows(sheet=sheet, numbers=rows.numbers, columns=moved)
    assert read_workbook(write_filled({sheet.code: shuffled}, (sheet,)), (sheet,)).sheets[sheet.code] == shuffled


@FEW
@given(content=st.binary(max_size=400) | st.binary(max_size=400).map(lambda tail: b"PK\x03\x04" + tail))
def test_no_bytes_make_the_reader_raise(content: bytes) -> None:
    rows = read_workbook(content)
    assert rows.sheets == {}
    assert rows.problems


def test_the_day_of_the_example_is_a_day() -> None:
    examples = [column.example for sheet in SHEETS for column in sheet.columns if column.kind is Kind.DATE]
    assert all(FIRST_DAY <= date.fromisoformat(example) <= LAST_DAY for example in examples)
