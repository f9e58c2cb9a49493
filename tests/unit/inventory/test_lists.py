"""Lists as files."""

import csv
from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO, StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from inventory.workbook.lists import Value, as_csv, as_xlsx

# From memory: OWASP's note on CSV injection names these first characters.
DANGEROUS = ["=1+1", "+1", "-1", "@SUM(A1)", "\tx"]


@pytest.mark.parametrize("text", DANGEROUS)
def test_text_that_looks_like_a_formula_stays_text_in_both_files(text: str) -> None:
    assert next(csv.reader(StringIO(as_csv([text], []).decode("utf-8-sig"))))[0] == f"'{text}"
    sheet = load_workbook(BytesIO(as_xlsx("T", ["Note"], [[text]]))).active
    assert sheet is not None
    assert (sheet["A2"].value, sheet["A2"].data_type) == (text, "s")


def test_a_negative_number_is_a_number_and_no_formula() -> None:
    assert as_csv(["Left"], [[-3.5], [Decimal("-1.25")]]).decode("utf-8-sig") == "Left\r\n-3.5\r\n-1.25\r\n"


def test_dates_moments_numbers_and_blanks_keep_their_kind() -> None:
    row: list[Value] = [date(2027, 3, 2), datetime(2027, 3, 2, 19, 30, tzinfo=UTC), Decimal("7.40"), None]
    sheet = load_workbook(BytesIO(as_xlsx("T", ["a", "b", "c", "d"], [row]))).active
    assert sheet is not None
    assert [cell.value for cell in sheet[2]] == [datetime(2027, 3, 2), datetime(2027, 3, 2, 19, 30), 7.4, None]  # noqa: DTZ001
    assert as_csv(["a"], [row[:2]]).decode("utf-8-sig").splitlines()[1] == "2027-03-02,2027-03-02 19:30+00:00"


@given(st.lists(st.lists(st.text(st.characters(exclude_categories=["Cs", "Cc"])), min_size=2, max_size=2), max_size=5))
def test_any_text_comes_back_from_csv_but_for_the_apostrophe(rows: list[list[str]]) -> None:
    back = list(csv.reader(StringIO(as_csv(["a", "b"], rows).decode("utf-8-sig"), newline="")))[1:]
    assert [[value.removeprefix("'") for value in row] for row in back] == [
        [value.removeprefix("'") for value in row] for row in rows
    ]
