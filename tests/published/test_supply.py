"""The dated record of a part against the textbook records of check-values 7.1 and 7.2, their weeks laid on Mondays.

Same sources as test_netting. A week's planned release falls on the Monday so many weeks earlier, as lead times are
calendar days here.
"""

from datetime import date, timedelta
from decimal import Decimal

from planner.core.supply import Need, SupplyDay, calendar_days_before, supply_record

FIRST = date(2027, 3, 1)  # a Monday
WEEK = timedelta(days=7)


def _monday(week: int) -> date:
    return FIRST + (week - 1) * WEEK


def _record(
    gross: list[int], *, due: dict[int, int] | None = None, on_hand: int = 0, lot: int | None = None, weeks: int = 1,
    phases: list[str] | None = None,
) -> tuple[SupplyDay, ...]:  # fmt: skip
    """Return the record of weekly needs; each week is a phase of its own unless told otherwise."""
    names = phases or [f"week {week}" for week in range(1, len(gross) + 1)]
    needs = [
        Need(day=_monday(week), quantity=Decimal(need), phase=names[week - 1])
        for week, need in enumerate(gross, start=1)
    ]
    scheduled = [(_monday(week), Decimal(units)) for week, units in (due or {}).items()]
    return supply_record(
        needs,
        scheduled,
        on_hand=Decimal(on_hand),
        pack=None if lot is None else Decimal(lot),
        release=calendar_days_before(7 * weeks),
    )


def _releases(record: tuple[SupplyDay, ...]) -> dict[date, int]:
    return {day.release: int(day.receipt) for day in record if day.release is not None}


def test_record_7_1_comes_out_row_by_row() -> None:
    record = _record([0, 0, 50, 0, 0, 35, 15, 0, 100, 0], lot=32)
    assert [int(day.net) for day in record] == [0, 0, 50, 0, 0, 21, 4, 0, 72, 0]
    assert [int(day.receipt) for day in record] == [0, 0, 64, 0, 0, 32, 32, 0, 96, 0]
    assert [int(day.on_hand) for day in record] == [0, 0, 14, 14, 14, 11, 28, 28, 24, 24]
    assert _releases(record) == {_monday(2): 64, _monday(5): 32, _monday(6): 32, _monday(8): 96}


def test_record_7_2_part_b() -> None:
    record = _record([0, 0, 40, 160, 0, 0], on_hand=60, lot=40, weeks=2)
    assert [int(day.on_hand) for day in record] == [60, 60, 20, 20, 20, 20]
    assert _releases(record) == {_monday(2): 160}


def test_record_7_2_part_e() -> None:
    assert _releases(_record([0, 0, 0, 0, 20, 80], weeks=2)) == {_monday(3): 20, _monday(4): 80}


def test_record_7_2_part_j_with_phases_of_two_weeks() -> None:
    phases = ["-", "1", "1", "2", "2", "3"]
    record = _record([0, 640, 60, 240, 0, 0], due={3: 30, 4: 30}, on_hand=20, phases=phases)
    assert _releases(record) == {_monday(1): 650, _monday(3): 210}
