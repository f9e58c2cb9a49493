"""Cells to values, kind by kind, at each limit and just past it."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

import pytest

from inventory.workbook.cells import LONGEST_KEY, LONGEST_TEXT, Fault, read_cell, read_cells
from inventory.workbook.columns import Column, Kind
from inventory.workbook.sheets import BY_CODE


def column(kind: Kind, **facts: object) -> Column:
    return Column(name="x", heading="X", kind=kind, meaning="", example="", **facts)  # type: ignore[arg-type]


def code(kind: Kind, cell: object, **facts: object) -> str:
    fault = read_cell(column(kind, **facts), cell)
    assert isinstance(fault, Fault), fault
    assert fault.message
    assert fault.remedy
    return fault.code


@pytest.mark.parametrize(
    ("cell", "key"),
    [
        ("007", "007"),
        (1.0, "1"),
        (1.07, "1.07"),
        (999_999_999_999_999.0, "999999999999999"),
        ("  B04\u00a0", "B04"),
        ("=S1", "=S1"),
        ("k" * LONGEST_KEY, "k" * LONGEST_KEY),
    ],
)
def test_keys_are_text_and_a_number_is_the_text_people_see(cell: object, key: str) -> None:
    assert read_cell(column(Kind.KEY), cell) == key


@pytest.mark.parametrize("cell", [date(2027, 1, 2), datetime(2027, 1, 2, 3), time(3), True, 1e15, -1e15])  # noqa: DTZ001
def test_a_key_that_the_spreadsheet_changed_is_refused(cell: object) -> None:
    assert code(Kind.KEY, cell) == "key-changed"
    assert code(Kind.REFERENCE, cell) == "key-changed"


def test_a_key_and_a_text_have_a_longest() -> None:
    assert code(Kind.KEY, "k" * (LONGEST_KEY + 1)) == "too-long"
    assert read_cell(column(Kind.TEXT), "t" * LONGEST_TEXT) == "t" * LONGEST_TEXT
    assert code(Kind.TEXT, "t" * (LONGEST_TEXT + 1)) == "too-long"
    assert read_cells(column(Kind.KEY), ["a", "k" * (LONGEST_KEY + 1)])[1][0][1].code == "too-long"


@pytest.mark.parametrize("kind", [Kind.TEXT, Kind.KEY, Kind.REFERENCE])
def test_a_control_character_is_refused_in_a_cell_and_in_a_whole_column(kind: Kind) -> None:
    assert code(kind, "a\x01b") == "control-character"
    values, faults = read_cells(column(kind), ["good", "a\x01b"])
    assert values == ["good", None]
    assert [(at, fault.code) for at, fault in faults] == [(1, "control-character")]


def test_line_ends_are_one_kind_and_stay() -> None:
    assert read_cell(column(Kind.TEXT), "one\r\ntwo\rthree\n") == "one\ntwo\nthree"


def test_text_takes_whatever_a_cell_holds() -> None:
    cells = ["a", 5.0, 2.5, True, date(2027, 1, 2), time(18, 0), ""]
    assert read_cells(column(Kind.TEXT), cells) == (["a", "5", "2.5", "yes", "2027-01-02", "18:00", None], [])


@pytest.mark.parametrize("kind", [Kind.NUMBER, Kind.WHOLE, Kind.DECIMAL, Kind.MONEY])
@pytest.mark.parametrize(
    "cell", [True, float("nan"), float("inf"), "12 V", "nan", "inf", "1_000", "٣", date(2027, 1, 2)]
)
def test_what_is_no_finite_number_is_refused(kind: Kind, cell: object) -> None:
    assert code(kind, cell) == "wrong-kind"


@pytest.mark.parametrize("text", ["1e400", "-1e400"])
def test_a_number_too_big_for_any_machine_is_refused(text: str) -> None:
    assert code(Kind.NUMBER, text, lowest=None) == "wrong-kind"


def test_a_number_beside_a_truth_value_is_not_taken_for_it() -> None:
    values, faults = read_cells(column(Kind.NUMBER), [1.0, True, 0.0, False])
    assert values == [1.0, None, 0.0, None]
    assert [at for at, _ in faults] == [1, 3]


@pytest.mark.parametrize("cell", ["38.5", " 38.5 ", 38.5, "38,5", "3.85e1"])
def test_numbers_stored_as_text_are_read_where_they_parse(cell: object) -> None:
    assert read_cell(column(Kind.NUMBER), cell) == 38.5


def test_a_comma_that_can_be_either_is_an_error() -> None:
    assert code(Kind.NUMBER, "1,234") == "ambiguous-number"
    assert read_cell(column(Kind.NUMBER), "0,234") == 0.234
    assert read_cell(column(Kind.NUMBER), "1234,567") == 1234.567


@pytest.mark.parametrize("cells", [[0.0], [0.0, ""], ["0"]])
def test_zero_is_not_below_zero(cells: list[object]) -> None:
    assert read_cells(column(Kind.NUMBER), cells)[1] == []


@pytest.mark.parametrize("cell", [-0.001, "-0.001"])
def test_below_zero_is_refused(cell: object) -> None:
    assert code(Kind.NUMBER, cell) == "below-zero"
    assert read_cells(column(Kind.NUMBER), [5.0, cell])[1][0][1].code == "below-zero"


def test_lowest_and_highest_themselves_are_good() -> None:
    condition = BY_CODE["nodes"].column("condition")
    assert [read_cell(condition, cell) for cell in (1.0, 5.0)] == [1, 5]
    assert [read_cell(condition, cell).code for cell in (0.0, 6.0)] == ["too-low", "too-high"]  # type: ignore[attr-defined]


def test_a_length_over_100_km_is_a_slip_of_the_pen() -> None:
    length = BY_CODE["runs"].column("length_m")
    assert read_cells(length, [100_000.0]) == ([100_000.0], [])
    assert read_cells(length, [100_000.1])[1][0][1].code == "too-high"


@pytest.mark.parametrize(("cell", "whole"), [(3.0, 3), ("3", 3), ("3.0", 3), ("3,0", 3)])
def test_whole_numbers(cell: object, whole: int) -> None:
    value = read_cell(column(Kind.WHOLE), cell)
    assert value == whole
    assert isinstance(value, int)
    assert all(isinstance(value, int) for value in read_cells(column(Kind.WHOLE), [3.0, 4.0])[0])


def test_a_fraction_is_not_whole() -> None:
    assert code(Kind.WHOLE, 3.5) == "not-whole"
    assert read_cells(column(Kind.WHOLE), [3.0, 3.5])[1][0][1].code == "not-whole"


@pytest.mark.parametrize(
    ("cell", "amount"),
    [(7.4, "7.4"), ("7.40", "7.4"), (0.1 + 0.2, "0.3"), (60000.0, "60000"), ("7,40", "7.4"), (1e9, "1000000000")],
)
def test_money_is_the_decimal_that_people_see(cell: object, amount: str) -> None:
    value = read_cell(column(Kind.MONEY), cell)
    assert isinstance(value, Decimal)
    assert str(value) == amount


def test_money_has_no_more_decimals_than_are_kept() -> None:
    assert read_cell(column(Kind.MONEY), 1.2345) == Decimal("1.2345")
    assert code(Kind.MONEY, 1.23456) == "too-many-decimals"
    assert code(Kind.MONEY, "1.23456") == "too-many-decimals"
    assert read_cell(column(Kind.MONEY, decimals=2), "1.230") == Decimal("1.23")
    assert code(Kind.MONEY, 1.234, decimals=2) == "too-many-decimals"


@pytest.mark.parametrize(
    ("sheet", "name"),
    [("parts", "pack"), ("parts", "on_hand"), ("parts", "spare_allowance_pct"), ("method_parts", "quantity")],
)
def test_counted_goods_are_decimal(sheet: str, name: str) -> None:
    assert isinstance(read_cell(BY_CODE[sheet].column(name), 2.5), Decimal)


@pytest.mark.parametrize(
    "cell",
    [
        date(2004, 9, 1),
        datetime(2004, 9, 1, 13, 30),  # noqa: DTZ001
        "2004-09-01",
        "2004-9-1",
        "2004-09-01T00:00:00",
        " 2004-09-01 ",
        "1 Sep 2004",
    ],  # noqa: DTZ001
)
def test_dates_are_real_or_iso_text(cell: object) -> None:
    value = read_cell(column(Kind.DATE), cell)
    assert value == date(2004, 9, 1)
    assert type(value) is date


@pytest.mark.parametrize(
    ("cell", "fault"),
    [
        ("2023-02-29", "no-such-date"),
        ("2023-13-01", "no-such-date"),
        ("01/02/2004", "ambiguous-date"),
        (38231.0, "wrong-kind"),
        (True, "wrong-kind"),
        (date(1949, 12, 31), "date-out-of-range"),
        (date(2200, 1, 1), "date-out-of-range"),
    ],
)
def test_dates_that_cannot_be(cell: object, fault: str) -> None:
    assert code(Kind.DATE, cell) == fault
    assert read_cells(column(Kind.DATE), [date(2020, 1, 1), cell])[1][0][1].code == fault


@pytest.mark.parametrize("day", [date(1950, 1, 1), date(2199, 12, 31), date(2024, 2, 29)])
def test_the_first_and_the_last_day_are_good(day: date) -> None:
    assert read_cells(column(Kind.DATE), [day]) == ([day], [])


@pytest.mark.parametrize(
    "cell",
    [
        datetime(2027, 3, 1, 8, 0),  # noqa: DTZ001
        datetime(2027, 3, 1, 7, 59, 59, 999_000),  # noqa: DTZ001
        "2027-03-01 08:00",
        "2027-03-01T08:00:00",
        "1 Mar 2027, 8:00",
    ],  # noqa: DTZ001
)
def test_moments_are_local_text_to_the_minute(cell: object) -> None:
    assert read_cell(column(Kind.MOMENT), cell) == "2027-03-01 08:00"


def test_a_day_alone_is_its_first_moment() -> None:
    assert read_cell(column(Kind.MOMENT), date(2027, 3, 1)) == "2027-03-01 00:00"


@pytest.mark.parametrize("cell", ["2027-03-01 08:00Z", "2027-03-01 08:00+01:00", 46000.0, "tomorrow"])
def test_a_moment_with_a_zone_or_without_a_day_is_refused(cell: object) -> None:
    assert code(Kind.MOMENT, cell) == "wrong-kind"


@pytest.mark.parametrize("cell", [time(21, 0), "21:00", "21:00:00", timedelta(hours=21), time(20, 59, 59, 999_000)])
def test_clocks(cell: object) -> None:
    assert read_cell(column(Kind.CLOCK), cell) == time(21, 0)


def test_midnight_may_be_called_24_00() -> None:
    assert read_cell(column(Kind.CLOCK), "24:00") == time(0, 0)
    assert read_cell(column(Kind.CLOCK), timedelta(hours=24)) == time(0, 0)


@pytest.mark.parametrize("cell", ["24:01", "21:60", "9 pm", 21.0, timedelta(hours=25), timedelta(hours=-1)])
def test_times_that_cannot_be(cell: object) -> None:
    assert code(Kind.CLOCK, cell) == "wrong-kind"


@pytest.mark.parametrize(("cell", "yes"), [(True, True), ("Yes", True), ("n", False), (0.0, False), (" TRUE ", True)])
def test_yes_and_no(cell: object, yes: bool) -> None:  # noqa: FBT001
    assert read_cell(column(Kind.YES_NO), cell) is yes


@pytest.mark.parametrize("cell", ["perhaps", 2.0, "yess"])
def test_neither_yes_nor_no(cell: object) -> None:
    assert code(Kind.YES_NO, cell) == "not-yes-or-no"


def test_choices_go_by_their_words() -> None:
    ends = column(Kind.CHOICE, choices=("yes", "no", "switch"))
    assert read_cells(ends, [" Switch ", "YES", True, False, ""]) == (["switch", "yes", "yes", "no", None], [])
    assert code(Kind.CHOICE, "maybe", choices=("yes", "no")) == "not-a-choice"


@pytest.mark.parametrize("kind", list(Kind))
def test_a_blank_cell_is_not_known(kind: Kind) -> None:
    choices = ("a",) if kind is Kind.CHOICE else ()
    assert read_cells(column(kind, choices=choices), ["", "   ", "\u00a0"]) == ([None, None, None], [])
    assert read_cells(column(kind, choices=choices), ["", ""]) == ([None, None], [])


def test_huge_numbers_are_numbers_and_endless_ones_are_not() -> None:
    assert read_cells(column(Kind.NUMBER), [1e308, 1e308]) == ([1e308, 1e308], [])
    values, faults = read_cells(column(Kind.NUMBER), [float("inf"), 1.0, float("-inf"), float("nan")])
    assert values == [None, 1.0, None, None]
    assert [at for at, _ in faults] == [0, 2, 3]
