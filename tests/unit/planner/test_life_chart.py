"""The drawing of a model's life."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from inventory.core.survival import survival_curve
from inventory.core.weibull import Weibull
from planner.handover.life_chart import HEAD, LEFT, PLOT_HEIGHT, WIDTH, life_drawing, spoken

CURVE = Weibull(shape=2.0, scale_years=10.0)


@pytest.mark.parametrize(
    ("begin", "end", "failed"),
    [
        pytest.param([0, 0, 0], [3, 6, 9], [True, True, False], id="some"),
        pytest.param([2, 3, 4], [5, 6, 9], [True, True, True], id="late entry, all failed"),
        pytest.param([0], [3], [True], id="one unit"),
    ],
)
def test_all_that_is_drawn_stays_on_the_sheet(begin: list[float], end: list[float], failed: list[bool]) -> None:
    drawn = ET.fromstring(life_drawing("WS-20", survival_curve(begin, end, failed), CURVE))  # noqa: S314 - our own
    paths = [path.attrib["d"] for path in drawn.iter("path") if "H" not in path.attrib["d"]]
    assert paths
    for path in paths:
        for pair in path.strip("MZ").split("L"):
            x, y = map(float, pair.split())
            assert LEFT <= x <= LEFT + WIDTH
            assert HEAD <= y <= HEAD + PLOT_HEIGHT


def test_the_fitted_curve_counts_from_the_first_age_under_watch() -> None:
    # Seen from 5 years on, at 10 years: exp(-1) / exp(-0.25) = exp(-0.75) = 47 %.
    seen = survival_curve([5, 5], [10, 12], [True, False])
    assert (
        spoken("WS-20", seen, CURVE)
        == "Life of WS-20: 50% of what was seen outlives 10.0 years, 47% by the fitted curve"
    )
    assert np.exp(-0.75) == pytest.approx(0.472, abs=1e-3)


def test_a_name_with_signs_of_markup_is_escaped() -> None:
    assert "<b>" not in life_drawing("<b>", survival_curve([0, 0], [3, 4], [True, False]), CURVE)
