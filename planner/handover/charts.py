"""Figures drawn as plain SVG, to click through and to print. Colours come from the page by class, never from here."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

BAR_WIDTH, BAR_HEIGHT = 200, 10
COLUMN_WIDTH, GAP, PLOT_HEIGHT, FOOT, HEAD = 32, 5, 120, 50, 20  # eight columns fit a phone's sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of a drawing: what it counts, how many, where a click leads, and its tone."""

    label: str
    count: int
    spoken: str
    address: str
    tone: str = "rest"


def bar(count: float, most: float, tone: str) -> str:
    """Return one bar, as long as its share of the greatest count; a count above zero is never drawn as nothing."""
    width = round(BAR_WIDTH * count / most, 1) if most else 0.0
    width = max(width, 2.0) if count else 0.0
    drawn = f'<rect class="fill" width="{width}" height="{BAR_HEIGHT}"/>' if width else ""
    return (
        f'<svg class="drawing bar-drawing tone-{tone}" viewBox="0 0 {BAR_WIDTH} {BAR_HEIGHT}" '
        f'preserveAspectRatio="none" aria-hidden="true">{drawn}</svg>'
    )


def columns(title: str, figures: Sequence[Figure], unit: str = "") -> str:
    """Return columns over a common foot, each a link, with its count above and its label below; `unit` is said last."""
    most = max((figure.count for figure in figures), default=0)
    width = len(figures) * (COLUMN_WIDTH + GAP) + GAP
    height = HEAD + PLOT_HEIGHT + FOOT
    drawn = "".join(_column(figure, number, most) for number, figure in enumerate(figures))
    foot = HEAD + PLOT_HEIGHT
    said = f'<text class="small" x="{width}" y="{height - 4}" text-anchor="end">{escape(unit)}</text>' if unit else ""
    return (
        f'<svg class="drawing" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="group" '
        f'aria-label="{escape(title)}">{drawn}<path class="axis" d="M0 {foot}H{width}"/>{said}</svg>'
    )


def _column(figure: Figure, number: int, most: int) -> str:
    left = GAP + number * (COLUMN_WIDTH + GAP)
    tall = max(round(PLOT_HEIGHT * figure.count / most, 1), 2.0) if figure.count else 0.0
    top = HEAD + PLOT_HEIGHT - tall
    middle = left + COLUMN_WIDTH / 2
    words = "".join(
        f'<tspan x="{middle}" dy="{dy}">{escape(line)}</tspan>'
        for dy, line in zip((16, 14), figure.label.split("\n"), strict=False)
    )
    return (
        f'<a href="{escape(figure.address)}" class="tone-{figure.tone}" aria-label="{escape(figure.spoken)}">'
        f'<rect class="touch" x="{left}" y="0" width="{COLUMN_WIDTH}" height="{HEAD + PLOT_HEIGHT + FOOT}"/>'
        f'<rect class="fill" x="{left}" y="{top}" width="{COLUMN_WIDTH}" height="{tall}"/>'
        f'<text x="{middle}" y="{top - 5}" text-anchor="middle">{figure.count}</text>'
        f'<text class="small" x="{middle}" y="{HEAD + PLOT_HEIGHT}" text-anchor="middle">{words}</text></a>'
    )
