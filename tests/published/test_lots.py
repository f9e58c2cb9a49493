"""Lot sizes and reorder points against worked exercises of operations-management texts.

Sources: ten weeks of 328 units, ordering cost 200, holding cost 3.25 a unit and week (an exercise on lot sizing, whose
answer is printed as 56, 52, 114 and 106 units at 1378.5); Nahmias, "Production and Operations Analysis", trumpet valve
casings (439 units, 132 an order, 0.6 a unit and week: lot for lot 1320; the cost of 139 at a time is remembered from the
book). Costs that are marked so are reckoned, not read. Reorder points: demand of 50 with deviation 5 at 3 % risk, and 50
a week with deviation 3 over two weeks at 10 %, both of one chapter on inventory.
"""

import itertools
from collections.abc import Callable
from decimal import Decimal

import pytest

from planner.core.lots import cheapest_lots, fixed_lots, lots_cost, reorder_point, silver_meal
from planner.core.netting import economic_lot

Rule = Callable[[list[int], float, float], tuple[float, ...]]
TEN_WEEKS = [22, 34, 32, 12, 8, 44, 54, 16, 76, 30]
CASINGS = [42, 42, 32, 12, 26, 112, 45, 14, 76, 38]


def _placed(lots: tuple[float, ...]) -> dict[int, float]:
    return {week: lot for week, lot in enumerate(lots, start=1) if lot}


def test_silver_meal_of_ten_weeks_is_as_printed() -> None:
    lots = silver_meal(TEN_WEEKS, 200, 3.25)
    assert _placed(lots) == {1: 56, 3: 52, 6: 114, 9: 106}
    assert lots_cost(TEN_WEEKS, lots, 200, 3.25) == 1378.5


def test_the_cheapest_lots_of_ten_weeks_are_two_per_cent_better() -> None:
    lots = cheapest_lots(TEN_WEEKS, 200, 3.25)
    assert _placed(lots) == {1: 56, 3: 52, 6: 44, 7: 70, 9: 106}
    assert lots_cost(TEN_WEEKS, lots, 200, 3.25) == 1351.0  # reckoned


def test_trumpet_valve_casings_lot_for_lot_cost_1320() -> None:
    assert lots_cost(CASINGS, CASINGS, 132, 0.6) == 1320


def test_trumpet_valve_casings_in_their_economic_lot() -> None:
    lot = economic_lot(sum(CASINGS) / len(CASINGS), 132, 0.6)
    assert lot == pytest.approx(138.98, abs=0.005)
    lots = fixed_lots(CASINGS, 139)
    assert lots_cost(CASINGS, lots, 132, 0.6) == pytest.approx(919.80)  # reckoned; agrees with memory of the book


@pytest.mark.parametrize(("rule", "cost"), [(silver_meal, 650.40), (cheapest_lots, 610.20)])
def test_trumpet_valve_casings_by_silver_meal_and_at_least_cost(rule: Rule, cost: float) -> None:
    assert lots_cost(CASINGS, rule(CASINGS, 132, 0.6), 132, 0.6) == pytest.approx(cost)  # reckoned


def test_no_other_choice_of_weeks_is_cheaper_than_the_cheapest() -> None:
    needs, least = TEN_WEEKS[:8], float("inf")
    for later in itertools.product((False, True), repeat=7):
        starts = [0, *(week for week, ordered in enumerate(later, start=1) if ordered), 8]
        lots = [0.0] * 8
        for start, end in itertools.pairwise(starts):
            lots[start] = sum(needs[start:end])
        least = min(least, lots_cost(needs, lots, 200, 3.25))
    assert lots_cost(needs, cheapest_lots(needs, 200, 3.25), 200, 3.25) == pytest.approx(least)


@pytest.mark.parametrize(
    ("facts", "published"),
    [((50, 5, 0.03), 59.40), ((50, 3, 0.10, 2), 105.43)],
    ids=["one period at 3 %", "two weeks at 10 %"],
)
def test_reorder_points_of_the_textbook(facts: tuple[float, ...], published: float) -> None:
    assert reorder_point(*facts) == pytest.approx(published, abs=0.01)  # the text rounds z to two places


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="risk"):
        reorder_point(50, 5, 0)
    with pytest.raises(ValueError, match="short"):
        lots_cost([5, 5], [5, 4], 1, 1)


def test_decimal_needs_are_borne_as_whole_numbers() -> None:
    assert silver_meal([float(Decimal(each)) for each in TEN_WEEKS], 200, 3.25) == silver_meal(TEN_WEEKS, 200, 3.25)
