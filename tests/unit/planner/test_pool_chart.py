"""The drawing of a spare pool."""

from datetime import date
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from inventory.core.spares import NEVER, Pool, PoolCourse, run_pools
from inventory.core.weibull import Weibull
from planner.handover.pool_chart import HEAD, LEFT, PLOT_HEIGHT, WIDTH, month_named, pool_drawing, spoken

START = date(2026, 11, 2)


def case(on_hand: int, model: str = "WS-20", months: int = 24, floor: int = 0) -> tuple[Pool, PoolCourse]:
    pool = Pool(
        model=model,
        on_hand=on_hand,
        floor=floor,
        curve=Weibull(shape=1.0, scale_years=10.0),
        age_years=np.full(24, 9.0),
        leaves_month=np.full(24, NEVER, dtype=np.int32),
    )
    return pool, run_pools([pool], months)[0]


@pytest.mark.parametrize("on_hand", [0, 3, 40])
@pytest.mark.parametrize("months", [1, 24, 120])
def test_all_that_is_drawn_stays_on_the_sheet(on_hand: int, months: int) -> None:
    drawn = ET.fromstring(pool_drawing(*case(on_hand, months=months, floor=2), START))  # noqa: S314 - our own
    for path in drawn.iter("path"):
        if path.get("class") in {"fill", "axis"}:
            pairs = [pair.split() for pair in path.attrib["d"].strip("MZ").split("L") if "H" not in pair]
            for x, y in pairs:
                assert LEFT - 0.1 <= float(x) <= LEFT + WIDTH + 0.1
                assert HEAD - 0.1 <= float(y) <= HEAD + PLOT_HEIGHT + 0.1


def test_running_out_is_marked_and_said_where_it_is_above_what_is_bearable() -> None:
    pool, short = case(0)
    assert short.first_month is not None
    name = month_named(START, short.first_month)
    assert f"may run out from {name}" in pool_drawing(pool, short, START)
    assert name in spoken(short, START)
    assert "may run out" not in pool_drawing(*case(40), START)
    assert spoken(case(40)[1], START).endswith("the odds of running out stay bearable")


def test_the_line_begins_with_what_is_on_hand() -> None:
    drawn = pool_drawing(*case(40), START)
    top = f'd="M{float(LEFT)} {float(HEAD)}L'
    assert drawn.count(top) == 2


def test_the_floor_is_drawn_only_where_there_is_one() -> None:
    assert "floor 2" in pool_drawing(*case(5, floor=2), START)
    assert "floor" not in pool_drawing(*case(5), START)


def test_each_january_has_its_year() -> None:
    assert [year in pool_drawing(*case(5), START) for year in (">2026<", ">2027<", ">2028<", ">2029<")] == [
        False,
        True,
        True,
        False,
    ]


def test_a_name_with_signs_of_markup_is_escaped() -> None:
    assert "<b>" not in pool_drawing(*case(5, "<b>"), START)


@pytest.mark.parametrize(("month", "name"), [(0, "Nov 2026"), (1, "Dec 2026"), (14, "Jan 2028")])
def test_months_are_named_from_the_first(month: int, name: str) -> None:
    assert month_named(START, month) == name
