"""Numbers stored as text: ISO 80000-1:2022, 7.3 (from memory) has groups of three and either sign as decimal marker."""

from decimal import Decimal

import pytest

from inventory.workbook.numerals import AmbiguousNumberError, number_from_text


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("12", "12"),
        ("-1.5", "-1.5"),
        ("\u22121.5", "-1.5"),  # the minus sign proper
        ("+.5", "0.5"),
        ("5.", "5"),
        ("1e3", "1000"),
        ("1,5", "1.5"),
        (",5", "0.5"),
        ("12,34", "12.34"),
        ("0,500", "0.5"),  # no group of thousands begins with 0
        ("1234,567", "1234.567"),  # nor has four digits
        ("1,234.5", "1234.5"),
        ("1.234,5", "1234.5"),
        ("1,234,567", "1234567"),
        ("1.234.567", "1234567"),
        ("1 234", "1234"),
        ("1\u202f234,5", "1234.5"),
        ("1'234.5", "1234.5"),
    ],
)
def test_what_can_be_read_in_one_way_only_is_read(text: str, number: str) -> None:
    assert number_from_text(text) == Decimal(number)


@pytest.mark.parametrize("text", ["1,234", "-12,345", "999,999", " 1,000 "])
def test_one_group_of_three_behind_a_comma_cannot_be_told(text: str) -> None:
    with pytest.raises(AmbiguousNumberError):
        number_from_text(text)


@pytest.mark.parametrize(
    "text", ["", "ohm", "1.5 V", "1,2,3", "1.2.3", "12 34", "1,23,456", "--1", "0x10", "5 %", "1,"]
)
def test_what_is_no_number_is_none(text: str) -> None:
    assert number_from_text(text) is None
