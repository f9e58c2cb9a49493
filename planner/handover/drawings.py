"""Draws a segment before a change and after it: nodes by kind, runs with length and cable, what goes and what comes.

Plain SVG, no styles. Marks are our own, and what each says stands beside it in words too. Colours come from classes of
the page's style sheet; without one, everything is drawn in the colour of the text.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from html import escape
from typing import Any

from inventory.core.catalogue import NodeKind
from inventory.core.saying import counted_words
from planner.handover.counted import counted, outline_of
from planner.handover.drawn import DrawnNode, DrawnSegment, Sign
from planner.handover.layout import SMALL, Line, Spot, Word, lay_out
from planner.handover.reading import Outline
from planner.handover.sheets import MOST_H, Sheet, sheets_of

MOST_NODES = 60  # what a person can follow one by one
MOST_LOOPS = 4  # runs beyond a tree; more hide the rest

# outlines from the middle of a mark, 9 high and wide on each side, in steps from point to point
MARKS = {
    NodeKind.STATION: "m-8-8h16v16h-16z",
    NodeKind.GATEWAY: "m-9-6h18v12h-18zm6 0v12m6-12v12",
    NodeKind.PANEL: "m-7-9h14v18h-14zm0 6h14m-14 6h14",
    NodeKind.CONTROLLER: "m-8-8h16v16h-16zm0 16l16-16",
    NodeKind.SENSOR: "m-8 0a8 8 0 1 0 16 0a8 8 0 1 0-16 0z",
    NodeKind.SUPPLY: "m-8 7h16l-8-15z",
    NodeKind.JUNCTION: "m-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0z",
    NodeKind.OTHER: "m0-9l9 9l-9 9l-9-9z",
}
# over a mark: what becomes of the node; before words: what they tell of. 5 high and wide on each side.
SIGNS = {Sign.OUT: "m-5-5l10 10m-10 0l10-10", Sign.IN: "m-5 0h10m-5-5v10", Sign.END: "m-3-5h6v10h-6z"}
DOT = "m-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0z"  # an old station
ROLES = {"name": "", "note": " small", "length": " small"}


def is_too_much(nodes: int, runs: int) -> bool:
    """Tell whether a segment is drawn as a summary: it has too many nodes, or too many loops."""
    return nodes > MOST_NODES or runs >= nodes + MOST_LOOPS


def draw_sheets(drawn: DrawnSegment, most_h: float = MOST_H, first_h: float | None = None) -> tuple[str, ...]:
    """Return the drawing as one <svg> element a sheet, each low enough for a page, the first for what is left of one.

    More than MOST_NODES nodes are drawn as a summary. Each sheet has a title; the first one's description is the whole
    wiring in words.

    Examples
    --------
    >>> from planner.handover.drawn import DrawnRun
    >>> nodes = (DrawnNode(key="G1", kind="gateway"), DrawnNode(key="S1", kind="station"))
    >>> run = DrawnRun(key="R1", ends=("G1", "S1"), label="31.5 m")
    >>> drawing, = draw_sheets(DrawnSegment(segment="L1", verdict="in place", nodes=nodes, runs=(run,)))
    >>> drawing.startswith("<svg "), "31.5 m" in drawing, "style=" in drawing
    (True, True, False)

    """
    if is_too_much(len(drawn.nodes), len(drawn.runs)):
        return draw_summary(outline_of(drawn), most_h, first_h)
    return tuple(_drawn(drawn, told_of(drawn), sheet) for sheet in sheets_of(lay_out(drawn), most_h, first_h))


def draw_summary(outline: Outline[Any], most_h: float = MOST_H, first_h: float | None = None) -> tuple[str, ...]:
    """Return the summary that is drawn of a segment with too much on it, as one <svg> element a sheet."""
    shown = counted(outline)
    told = f"{_first_words(outline.verdict, outline.kinds.values(), len(outline.runs))} Too many to draw one by one."
    return tuple(_drawn(shown, told, sheet) for sheet in sheets_of(lay_out(shown), most_h, first_h))


def draw_segment(drawn: DrawnSegment) -> str:
    """Return the whole drawing as one <svg> element, however high."""
    return draw_sheets(drawn, most_h=float("inf"))[0]


def _drawn(drawn: DrawnSegment, told: str, sheet: Sheet) -> str:
    stroke = '<g class="drawing-node" fill="none" stroke="currentColor" stroke-width="1.5">'
    parts = (
        _head(drawn, told, sheet),
        stroke,
        *_lines(sheet.lines),
        *_marks(sheet.spots),
        *_signs(sheet.words),
        "</g>",
    )
    return "\n".join((*parts, *_texts(sheet.words), "</svg>"))


def _head(drawn: DrawnSegment, told: str, sheet: Sheet) -> str:
    height = sheet.bottom - sheet.top
    part = f", sheet {sheet.number} of {sheet.count}" if sheet.count > 1 else ""
    title = escape(f"Segment {drawn.segment} {drawn.when}{part}")
    told = told if sheet.number == 1 else f"The wiring goes on from sheet {sheet.number - 1}."
    size = f'width="{sheet.width:g}" height="{height:g}" viewBox="0 {sheet.top:g} {sheet.width:g} {height:g}"'
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" font-family="sans-serif" {size} aria-label="{title}">',
            f"<title>{title}</title>",
            f"<desc>{escape(told)}</desc>",
        )
    )


def told_of(drawn: DrawnSegment) -> str:
    """Return the drawing in words, for those who hear it."""
    first = _first_words(drawn.verdict, (node.kind for node in drawn.nodes), len(drawn.runs))
    if not drawn.says_runs:
        return first
    runs = (f"{run.ends[0]} to {run.ends[1]}: {run.label}." for run in sorted(drawn.runs, key=lambda run: run.key))
    return " ".join((first, *runs))


def _first_words(verdict: str, kinds: Iterable[str], runs: int) -> str:
    count = ", ".join(counted_words(count, kind) for kind, count in sorted(Counter(kinds).items()))
    return f"{verdict}: {count or 'no node'}, {counted_words(runs, 'run')}."


def _lines(lines: Iterable[Line]) -> Iterator[str]:
    """Yield all lines, those of one look as one path: plain, closing a loop, pulled anew, left out."""
    looks: dict[str, list[str]] = {}
    for line in lines:
        looks.setdefault(_look(line), []).append("M" + "L".join(f"{x:g} {y:g}" for x, y in line.points))
    for look in sorted(looks):
        yield f'<path class="drawing-run"{look} d="{"".join(looks[look])}"/>'


def _look(line: Line) -> str:
    dash = "1 5" if line.run.sign is Sign.OUT else ("6 3" if line.in_ring else "")
    width = ' stroke-width="3"' if line.run.sign is Sign.IN else ""
    return f'{width} stroke-dasharray="{dash}"' if dash else width


def _marks(spots: Iterable[Spot]) -> Iterator[str]:
    """Yield all marks, those of one tone as one path; then the dots of old stations and what becomes of nodes."""
    tones: dict[str, list[str]] = {}
    dots, over = [], []
    for spot in spots:
        place, node = f"M{spot.x:g} {spot.y:g}", spot.node
        tones.setdefault(_tone(node), []).append(place + MARKS[NodeKind(node.kind)])
        dots += [place + DOT] if node.is_old else []
        over += [place + SIGNS[node.sign]] if node.sign in (Sign.IN, Sign.OUT) else []
    for tone in sorted(tones):
        yield f'<path class="fill{tone}" fill="Canvas" d="{"".join(tones[tone])}"/>'
    if dots:
        yield f'<path class="drawing-dot" fill="currentColor" stroke="none" d="{"".join(dots)}"/>'
    if over:
        yield f'<path class="drawing-sign" d="{"".join(over)}"/>'


def _tone(node: DrawnNode) -> str:
    return " drawing-old" if node.is_old else (" drawing-new" if node.sign is Sign.IN else "")


def _signs(words: Iterable[Word]) -> Iterator[str]:
    """Yield the signs before words; that of an end resistor is filled."""
    found: dict[str, list[str]] = {}
    for word in (word for word in words if word.sign is not Sign.NONE):
        fill = ' fill="currentColor"' if word.sign is Sign.END else ""
        place = f"M{word.box.x + SMALL / 2:g} {word.box.y + word.box.h / 2:g}"
        found.setdefault(fill, []).append(place + SIGNS[word.sign])
    for fill in sorted(found):
        yield f'<path class="drawing-sign"{fill} d="{"".join(found[fill])}"/>'


def _texts(words: Iterable[Word]) -> Iterator[str]:
    """Yield all texts, those of one role together, with their signs."""
    words = tuple(words)
    for role, small in ROLES.items():
        own = [word for word in words if word.role == role]
        if own:
            yield f'<g class="drawing-{role}{small}" font-size="{own[0].size}" fill="currentColor">'
            yield from (_text(word) for word in own)
            yield "</g>"


def _text(word: Word) -> str:
    turn = f' transform="rotate(-90 {word.x:g} {word.y:g})"' if word.is_turned else ""
    return f'<text x="{word.x:g}" y="{word.y:g}"{turn}>{escape(word.text)}</text>'
