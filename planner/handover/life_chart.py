"""How long a model lives, drawn as plain SVG: the steps of what was seen, with their band, and the fitted curve over them."""

from dataclasses import dataclass
from html import escape

import numpy as np

from inventory.core.snapshot import Floats
from inventory.core.survival import SurvivalCurve
from inventory.core.weibull import Weibull
from planner.handover.lettering import PHONE_W

LEFT, RIGHT, HEAD, PLOT_HEIGHT, FOOT = 44, 14, 12, 130, 34
WIDTH = PHONE_W - LEFT - RIGHT  # of the plot
FITTED_POINTS = 60
TICKS = 5
MOST_ROWS = 12


def life_drawing(model: str, seen: SurvivalCurve, fitted: Weibull) -> str:
    """Return the drawing of one model's life; both curves count from the age that the first unit under watch had."""
    last = float(seen.age_years[-1])
    span = (seen.from_years, last if last > seen.from_years else seen.from_years + 1)
    height, width = HEAD + PLOT_HEIGHT + FOOT, LEFT + WIDTH + RIGHT
    return (
        f'<svg class="drawing tone-pair" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'aria-label="{escape(spoken(model, seen, fitted))}">{_band(seen, span)}{_frame(span)}'
        f'<path class="axis" d="{_path(_stairs(seen.age_years, seen.survival, span), span)}"/>'
        f'<path class="axis" stroke-dasharray="5 3" d="{_path(_fitted(fitted, span), span)}"/></svg>'
    )


def spoken(model: str, seen: SurvivalCurve, fitted: Weibull) -> str:
    """Return the drawing in words."""
    last = float(seen.age_years[-1])
    share = float(fitted.survival(last) / fitted.survival(seen.from_years))
    return (
        f"Life of {model}: {seen.survival[-1]:.0%} of what was seen outlives {last:.1f} years, "
        f"{share:.0%} by the fitted curve"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeRow:
    """The shares [0 to 1] that outlive an age [years]: seen, with its 95 % band (None: not known), and fitted."""

    age_years: float
    seen: float
    low: float | None
    high: float | None
    fitted: float


def life_rows(seen: SurvivalCurve, fitted: Weibull, most: int = MOST_ROWS) -> tuple[LifeRow, ...]:
    """Return the table behind the drawing: of many ages some, evenly taken, the last always among them."""
    last = len(seen.age_years) - 1
    picked = sorted({round(at) for at in np.linspace(last, 0, min(most, last + 1)).tolist()}) if last >= 0 else []
    from_start = float(fitted.survival(seen.from_years))
    return tuple(
        LifeRow(
            age_years=float(seen.age_years[at]),
            seen=float(seen.survival[at]),
            low=_told(seen.low[at]),
            high=_told(seen.high[at]),
            fitted=float(fitted.survival(float(seen.age_years[at]))) / from_start,
        )
        for at in picked
    )


def _told(share: float) -> float | None:
    return float(share) if np.isfinite(share) else None


Span = tuple[float, float]
Points = list[tuple[float, float]]


def _stairs(ages: Floats, shares: Floats, span: Span) -> Points:
    found: Points = [(span[0], 1.0)]
    for age, share in zip(ages.tolist(), shares.tolist(), strict=True):
        found += [(age, found[-1][1]), (age, share)]
    return found


def _fitted(fitted: Weibull, span: Span) -> Points:
    ages = np.linspace(*span, FITTED_POINTS)
    shares = fitted.survival(ages) / fitted.survival(span[0])
    return list(zip(ages.tolist(), shares.tolist(), strict=True))


def _band(seen: SurvivalCurve, span: Span) -> str:
    """Return the confidence band, as far as it is known."""
    known = np.isfinite(seen.low)
    ages = seen.age_years[known]
    if not ages.size:
        return ""
    there, back = _stairs(ages, seen.high[known], span), _stairs(ages, seen.low[known], span)[::-1]
    return f'<path class="fill" d="{_path(there + back, span)}Z"/>'


def _path(points: Points, span: Span) -> str:
    return "M" + "L".join(f"{_x(age, span)} {_y(share)}" for age, share in points)


def _x(age: float, span: Span) -> float:
    return round(LEFT + WIDTH * (age - span[0]) / (span[1] - span[0]), 1)


def _y(share: float) -> float:
    return round(HEAD + PLOT_HEIGHT * (1 - share), 1)


def _frame(span: Span) -> str:
    """Return the two axes with their figures: share in percent, age in years."""
    foot, right = HEAD + PLOT_HEIGHT, LEFT + WIDTH
    shares = "".join(
        f'<text class="small" x="{LEFT - 6}" y="{_y(share) + 4}" text-anchor="end">{share:.0%}</text>'
        for share in (0.0, 0.5, 1.0)
    )
    ages = "".join(
        f'<text class="small" x="{_x(age, span)}" y="{foot + 15}" text-anchor="middle">{age:.0f}</text>'
        for age in np.linspace(*span, TICKS).tolist()
    )
    title = f'<text class="small" x="{right}" y="{foot + 29}" text-anchor="end">age in years</text>'
    return f'<path class="axis" d="M{LEFT} {HEAD}V{foot}H{right}"/>{shares}{ages}{title}'
