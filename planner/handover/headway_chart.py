"""Stations converted against the plan over time, drawn as plain SVG: two staircases over months.

The broken line is what the plan has dated by then, the full one what is converted; it ends today. The same figures
stand in a table beside it.
"""

from collections.abc import Sequence
from datetime import date
from html import escape
from itertools import pairwise

from inventory.core.saying import MONTHS, day_words
from planner.handover.lettering import PHONE_W, width_of

LEFT, RIGHT, HEAD, PLOT_HEIGHT, FOOT = 44, 8, 16, 130, 24
WIDTH = PHONE_W - LEFT - RIGHT  # of the plot
SMALL = 11
MONTHS_A_YEAR = 12

Step = tuple[date, int]  # a night, and how many stations there are up to it


def headway_drawing(planned: Sequence[date], done: Sequence[date], today: date) -> str:
    """Return the drawing of the nights on which stations are dated and those on which they were converted; one at least.

    Each night stands as often as stations are converted in it.
    """
    scale = _Scale(sorted(planned), today)
    steps, reached = _line(sorted(planned), scale, scale.end), _line(sorted(done), scale, today)
    width, height = LEFT + WIDTH + RIGHT, HEAD + PLOT_HEIGHT + FOOT
    now = f'<path class="grid" d="M{scale.x(today)} {HEAD}v{PLOT_HEIGHT}"/>'
    return (
        f'<svg class="drawing tone-good" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'aria-label="{escape(spoken(planned, done, today))}">{_frame(scale)}{now}'
        f'<path class="axis" stroke-dasharray="5 3" d="{steps}"/><path class="fill" fill-opacity="0" d="{reached}"/></svg>'
    )


def spoken(planned: Sequence[date], done: Sequence[date], today: date) -> str:
    """Return the drawing in words."""
    due = sum(night <= today for night in planned)
    return (
        f"Converted against plan: {len(done)} of {len(planned)} stations are converted; {due} were dated to "
        f"{day_words(today)}; the last is dated {day_words(max(planned))}"
    )


class _Scale:
    """From days and stations to places on the sheet: whole months, today among them."""

    def __init__(self, planned: Sequence[date], today: date) -> None:
        first, last = min(planned[0], today), max(planned[-1], today)
        self.begin = first.replace(day=1)
        self.end = _month_after(last)
        self.most = len(planned)

    def x(self, at: date) -> float:
        return round(LEFT + WIDTH * ((at - self.begin) / (self.end - self.begin)), 1)

    def y(self, stations: int) -> float:
        return round(HEAD + PLOT_HEIGHT * (1 - stations / self.most), 1)


def _month_after(day: date) -> date:
    return date(day.year + day.month // MONTHS_A_YEAR, day.month % MONTHS_A_YEAR + 1, 1)


def _line(nights: Sequence[date], scale: _Scale, end: date) -> str:
    """Return the staircase of the nights, from the first day of the drawing to `end`."""
    path = [f"M{scale.x(scale.begin)} {scale.y(0)}"]
    for night in sorted(set(nights)):
        stations = sum(one <= night for one in nights)
        path.append(f"H{scale.x(night)}V{scale.y(stations)}")
    last = max([end, *nights])
    return "".join(path) + f"H{scale.x(last)}"


def _frame(scale: _Scale) -> str:
    foot = HEAD + PLOT_HEIGHT
    counts = "".join(
        f'<text class="small" x="{LEFT - 6}" y="{scale.y(count) + 4}" text-anchor="end">{count}</text>'
        for count in sorted({0, scale.most})
    )
    named = "".join(_month(month, scale, foot) for month in _named(scale))
    return f'<path class="axis" d="M{LEFT} {HEAD}V{foot}H{LEFT + WIDTH}"/>{counts}{named}'


def _months(scale: _Scale) -> list[date]:
    months = [scale.begin]
    while (following := _month_after(months[-1])) < scale.end:
        months.append(following)
    return months


def _named(scale: _Scale) -> list[date]:
    """Return months at equal steps, as many as can be named along the foot with no name on another or past the edge."""
    months = _months(scale)
    room = max(width_of(_name(month), SMALL) for month in months)
    steps = (months[::every] for every in range(1, len(months) + 1))
    roomy = next(some for some in steps if all(scale.x(b) - scale.x(a) >= room for a, b in pairwise(some)))
    return [month for month in roomy if scale.x(month) + room <= PHONE_W]


def _name(month: date) -> str:
    return f"{MONTHS[month.month - 1]} {month.year}"


def _month(month: date, scale: _Scale, foot: int) -> str:
    name, x = _name(month), scale.x(month)
    return f'<path class="grid" d="M{x} {foot}v4"/><text class="small" x="{x}" y="{foot + 16}">{name}</text>'
