"""Cuts a tall drawing into sheets between two rows, so that each fits a page; lines go on at the same place."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from planner.handover.layout import Box, Layout, Line, Point, Spot, Word, upright_words

MOST_H = 860.0  # what fits on a page of A4 upright under its heading, at 96 points an inch
CHANNEL_GAP = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet of a drawing: its place among them, from where to where it shows, and what is on it."""

    number: int
    count: int
    top: float
    bottom: float
    width: float
    spots: tuple[Spot, ...]
    lines: tuple[Line, ...]
    words: tuple[Word, ...]


def sheets_of(layout: Layout, most_h: float = MOST_H, first_h: float | None = None) -> tuple[Sheet, ...]:
    """Return the sheets of a layout, one at least, none higher than `most_h`, the first `first_h`, unless a single row is."""
    edges = _edges(layout, most_h, most_h if first_h is None else first_h)
    spans = list(pairwise(edges))
    words = (*(word for word in layout.words if not word.is_turned), *upright_words(layout.lines, edges))
    return tuple(
        Sheet(
            number=number + 1,
            count=len(spans),
            top=top,
            bottom=bottom,
            width=layout.width,
            spots=tuple(spot for spot in layout.spots if top <= spot.y < bottom),
            lines=tuple(piece for line in layout.lines for piece in _clipped(line, top, bottom)),
            words=tuple(word for word in words if top <= word.box.y < bottom),
        )
        for number, (top, bottom) in enumerate(spans)
    )


def _edges(layout: Layout, most_h: float, first_h: float) -> list[float]:
    """Return where sheets begin and the last one ends, each a bit above a row."""
    edges = [0.0]
    rows = [cut - CHANNEL_GAP for cut in layout.cuts[1:]]
    ends = [*rows[1:], layout.height]
    for row, end in zip(rows, ends, strict=False):
        if end - edges[-1] > (most_h if len(edges) > 1 else first_h) and row > edges[-1]:
            edges.append(row)
    return [*edges, layout.height]


def _clipped(line: Line, top: float, bottom: float) -> Iterator[Line]:
    """Yield the parts of a line between two heights; all its parts are upright or level."""
    part: list[Point] = []
    for (x, y), (to_x, to_y) in pairwise(line.points):
        low, high = sorted((y, to_y))
        if high < top or low > bottom or (low == high and not top <= y <= bottom):
            if part:
                yield replace(line, points=tuple(part))
            part = []
            continue
        start, end = (x, min(max(y, top), bottom)), (to_x, min(max(to_y, top), bottom))
        if part and part[-1] != start:
            yield replace(line, points=tuple(part))
            part = []
        part = [*(part or [start]), end]
    if len(part) > 1:
        yield replace(line, points=tuple(part))


def box_of(sheet: Sheet) -> Box:
    """Return the rectangle that a sheet shows."""
    return Box(x=0.0, y=sheet.top, w=sheet.width, h=sheet.bottom - sheet.top)
