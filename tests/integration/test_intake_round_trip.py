"""What is stored, written out and taken in again is the same: nothing new, nothing changed, nothing absent."""

import string
from datetime import date, time
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from inventory.services.intake import take_in
from inventory.store import stored_rows
from inventory.workbook.columns import LEAST, Column, Kind, Sheet
from inventory.workbook.rows import SheetRows
from inventory.workbook.sheets import BY_CODE
from inventory.workbook.write import write_filled
from planner.store.intake import ALL_TARGETS
from tests.books import small

pytestmark = pytest.mark.django_db

NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)  # each example is two intakes
LETTERS = string.ascii_letters + string.digits + " -.=+@'\"<&äß7"
TEXT = st.text(LETTERS, min_size=1, max_size=8).map(str.strip).filter(bool)
FIRST, LAST = date(1990, 1, 1), date(2040, 12, 31)
KEPT_SHEETS = ("buildings", "rooms", "protocols", "cables", "parts", "deliveries", "models", "buses", "nodes", "spares", "failures", "phases", "crews")  # fmt: skip
AWKWARD = {("rooms", "calendar"), ("buildings", "time_zone"), ("buildings", "holidays"), ("buildings", "crews_admitted"), ("cables", "power_conductor"), ("cables", "data_conductor"), ("protocols", "data_conductor"), ("crews", "days"), ("parts", "currency")}  # fmt: skip


def _value(sheet: Sheet, column: Column) -> st.SearchStrategy[object]:
    """Return values that the checks of this column let through; blank where it may be blank."""
    low = 0 if column.lowest is None else column.lowest
    high = 1000 if column.highest is None else min(column.highest, 1000)
    if (sheet.code, column.name) in AWKWARD:
        return st.none()
    by_kind: dict[Kind, st.SearchStrategy[object]] = {
        Kind.TEXT: TEXT,
        Kind.CHOICE: st.sampled_from(column.choices or ("",)),
        # digits a spreadsheet keeps; what is less than LEAST is refused
        Kind.NUMBER: st.floats(low, high).map(lambda number: float(f"{number:.15g}") if number >= LEAST else 0.0),
        Kind.WHOLE: st.integers(int(low), int(high)),
        Kind.DECIMAL: st.decimals(int(low), int(high), places=column.decimals),
        Kind.MONEY: st.decimals(0, 10**6, places=column.decimals),
        Kind.DATE: st.dates(FIRST, LAST),
        Kind.CLOCK: st.times().map(lambda clock: time(clock.hour, clock.minute)),
        Kind.YES_NO: st.booleans(),
    }
    known = by_kind.get(column.kind, st.none())
    return known if column.required else st.none() | known


KEYS = {"buildings": "=B", "rooms": "007", "protocol_names": "OLD BUS", "cables": "2x2", "parts": "1.0", "models": "-WS", "buses": "1e5", "nodes": "'N"}  # fmt: skip


def _cell(sheet: Sheet, column: Column) -> st.SearchStrategy[object]:
    if column.kind is Kind.KEY:
        return st.just(KEYS.get(sheet.code, "K"))
    if column.kind is Kind.REFERENCE:
        named = st.just(KEYS[column.refers_to or ""])
        return named if column.required else st.none() | named
    return _value(sheet, column)


def _sheets() -> st.SearchStrategy[dict[str, dict[str, object]]]:
    rows = {
        code: st.fixed_dictionaries({c.name: _cell(BY_CODE[code], c) for c in BY_CODE[code].columns})
        for code in KEPT_SHEETS
    }
    return st.fixed_dictionaries(rows)


def _book(sheets: dict[str, dict[str, object]]) -> bytes:
    rows = {}
    for code, row in sheets.items():
        columns: dict[str, list[object]] = {name: [value] for name, value in row.items()}
        rows[code] = SheetRows(sheet=BY_CODE[code], numbers=[2], columns=columns)
    return write_filled(rows)


def _legal(sheets: dict[str, dict[str, object]]) -> dict[str, dict[str, object]]:
    """Mend what single cells cannot know of each other: dates in order, kinds with their buses, limits in order."""
    sheets["nodes"].update(bus_2=None, bus_3=None, bus_4=None, installed=None)
    sheets["models"].update(kind="station", protocol_2=None, last_sold=None)
    sheets["rooms"]["key"] = KEYS["rooms"]
    sheets["phases"].update(start=date(2027, 1, 1), end=date(2027, 2, 1), materials_ordered_on=None)
    sheets["protocols"].update(ends=None, lowest_impedance_ohm=None, highest_impedance_ohm=None)
    sheets["parts"].update(currency="EUR", pack=sheets["parts"]["pack"] or None)
    sheets["deliveries"]["quantity"] = sheets["deliveries"]["quantity"] or Decimal(1)
    sheets["failures"]["date"] = date(2020, 1, 1)
    return sheets


@settings(
    max_examples=15, deadline=None, phases=NO_SHRINKING, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(_sheets().map(_legal))
def test_any_small_workbook_out_and_in_again_changes_nothing(sheets: dict[str, dict[str, object]]) -> None:
    with transaction.atomic():
        first = take_in(_book(sheets), "first.xlsx", ALL_TARGETS, None)
        assert first.stored, first.problems
        out = stored_rows(ALL_TARGETS)
        for code, row in sheets.items():
            assert {name: values[0] for name, values in out[code].columns.items()} == row, code
        again = take_in(write_filled(out), "again.xlsx", ALL_TARGETS, None)
        assert again.stored, again.problems
        assert all(one.new == one.changed == one.absent == 0 for one in again.counts.values()), again.counts
        transaction.set_rollback(True)


def test_the_small_campus_out_and_in_again_changes_nothing() -> None:
    assert take_in(small(), "first.xlsx", ALL_TARGETS, None).stored
    again = take_in(write_filled(stored_rows(ALL_TARGETS)), "again.xlsx", ALL_TARGETS, None)
    assert again.stored, again.problems
    assert all(one.new == one.changed == one.absent == 0 for one in again.counts.values()), again.counts


@pytest.mark.parametrize("feet", [38.5, 41.7, 126.3])
def test_a_length_read_in_feet_comes_back_in_metres_unchanged(feet: float) -> None:
    runs = [("Run", "Bus", "From", "To", "Length (ft)"), ("R1", "L1", "G1", "S1", feet)]
    assert take_in(small(Runs=runs), "first.xlsx", ALL_TARGETS, None).stored
    again = take_in(write_filled(stored_rows(ALL_TARGETS)), "again.xlsx", ALL_TARGETS, None)
    assert again.counts["runs"].changed == 0
