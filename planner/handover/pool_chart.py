"""A spare pool through a plan, drawn as plain SVG: units on the shelf, the band of nine courses in ten, floor and run-out."""

from datetime import date
from html import escape

from inventory.core.saying import MONTHS
from inventory.core.snapshot import Floats
from inventory.core.spares import MONTHS_PER_YEAR, Pool, PoolCourse
from planner.handover.lettering import PHONE_W

LEFT, RIGHT, HEAD, PLOT_HEIGHT, FOOT = 36, 12, 20, 130, 24
WIDTH = PHONE_W - LEFT - RIGHT  # of the plot


def month_named(start: date, month: int) -> str:
    """Return the name of a month of a plan.

    Examples
    --------
    >>> month_named(date(2026, 11, 2), 2)
    'Jan 2027'

    """
    whole = start.year * MONTHS_PER_YEAR + start.month - 1 + month
    return f"{MONTHS[whole % MONTHS_PER_YEAR]} {whole // MONTHS_PER_YEAR}"


def pool_drawing(pool: Pool, course: PoolCourse, start: date, other: PoolCourse | None = None) -> str:
    """Return the drawing of one pool; `other` is its course in another sequence of the work, drawn as a broken line."""
    scale = _Scale(pool, course, other)
    height = HEAD + PLOT_HEIGHT + FOOT
    width = LEFT + WIDTH + RIGHT
    broken = "" if other is None else f'<path class="axis" stroke-dasharray="5 3" d="{_line(other.level, scale)}"/>'
    return (
        f'<svg class="drawing tone-pair" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'aria-label="{escape(spoken(course, start))}">{_band(course, scale)}{_levels(scale, pool.floor)}'
        f'<path class="axis" d="{_line(course.level, scale)}"/>{broken}{_run_out(course, scale, start)}{_years(course, scale, start)}</svg>'
    )


def spoken(course: PoolCourse, start: date) -> str:
    """Return the drawing in words."""
    last = month_named(start, course.level.size - 1)
    ends = f"Spares of {course.model}: {course.level[-1]:.1f} expected on the shelf at the end of {last}"
    if course.first_month is None:
        return f"{ends}; the odds of running out stay bearable"
    return f"{ends}; the odds of running out pass what is bearable in {month_named(start, course.first_month)}"


class _Scale:
    """From months and units to places on the sheet."""

    def __init__(self, pool: Pool, course: PoolCourse, other: PoolCourse | None) -> None:
        levels = course.level if other is None else other.level
        self.on_hand = pool.on_hand
        self.low = min(0.0, float(course.level_low.min()), float(levels.min()))
        self.high = max(1.0, pool.floor, pool.on_hand, float(course.level_high.max()), float(levels.max()))
        self.months = course.level.size

    def x(self, month: float) -> float:
        """Return the place of the end of a month; -1 is the begin of the plan."""
        return round(LEFT + WIDTH * (month + 1) / self.months, 1)

    def y(self, units: float) -> float:
        """Return the place of so many units."""
        return round(HEAD + PLOT_HEIGHT * (self.high - units) / (self.high - self.low), 1)


def _points(levels: Floats, scale: _Scale) -> list[str]:
    """Return the places of the levels, from what is on hand when the plan begins."""
    told = [float(scale.on_hand), *(float(level) for level in levels)]
    return [f"{scale.x(month)} {scale.y(level)}" for month, level in enumerate(told, start=-1)]


def _line(levels: Floats, scale: _Scale) -> str:
    return "M" + "L".join(_points(levels, scale))


def _band(course: PoolCourse, scale: _Scale) -> str:
    there, back = _points(course.level_high, scale), _points(course.level_low, scale)[::-1]
    return f'<path class="fill" d="M{"L".join(there + back)}Z"/>'


def _levels(scale: _Scale, floor: int) -> str:
    """Return the lines of an empty shelf and of the floor, with their figures."""
    right = LEFT + WIDTH
    drawn = [
        f'<path class="axis" d="M{LEFT} {scale.y(0)}H{right}"/>',
        f'<text class="small" x="{LEFT - 6}" y="{scale.y(0) + 4}" text-anchor="end">0</text>',
        f'<text class="small" x="{LEFT - 6}" y="{scale.y(scale.high) + 4}" text-anchor="end">{scale.high:.0f}</text>',
    ]
    if floor:
        drawn.append(f'<path class="grid" stroke-dasharray="2 2" d="M{LEFT} {scale.y(floor)}H{right}"/>')
        drawn.append(f'<text class="small" x="{right}" y="{scale.y(floor) - 4}" text-anchor="end">floor {floor}</text>')
    return "".join(drawn)


def _run_out(course: PoolCourse, scale: _Scale, start: date) -> str:
    if course.first_month is None:
        return ""
    at = scale.x(course.first_month)
    side = "end" if at > LEFT + WIDTH / 2 else "start"
    name = month_named(start, course.first_month)
    return (
        f'<g class="tone-bad"><path class="hatch" d="M{at} {HEAD}V{HEAD + PLOT_HEIGHT}"/></g>'
        f'<text class="small" x="{at}" y="{HEAD - 6}" text-anchor="{side}">may run out from {name}</text>'
    )


def _years(course: PoolCourse, scale: _Scale, start: date) -> str:
    """Return a tick and its year at each January."""
    foot = HEAD + PLOT_HEIGHT
    first = (MONTHS_PER_YEAR - start.month + 1) % MONTHS_PER_YEAR
    return "".join(
        f'<path class="grid" d="M{scale.x(month - 1)} {HEAD}V{foot + 4}"/>'
        f'<text class="small" x="{scale.x(month - 1)}" y="{foot + 16}" text-anchor="middle">{month_named(start, month)[-4:]}</text>'
        for month in range(first, course.level.size, MONTHS_PER_YEAR)
    )
