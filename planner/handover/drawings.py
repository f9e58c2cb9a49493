"""Draws a segment before a change and after it: nodes by kind, runs with length and cable, what goes and what comes.

Plain SVG, no styles. Marks are our own, and what each says stands beside it in words too. Colours come from classes of
the page's style sheet; without one, everything is drawn in the colour of the text.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from html import escape

from inventory.core.catalogue import NodeKind
from planner.handover.counted import counted
from planner.handover.drawn import DrawnNode, DrawnSegment, Sign
from planner.handover.layout import SMALL, Line, Spot, Word, lay_out
from planner.handover.sheets import MOST_H, Sheet, sheets_of

MOST_NODES = 60  # what a person can follow one by one
MOST_LOOPS = 4  # runs beyond a tree; more hide the rest

# outlines around (0, 0), 9 high and wide on each side
MARKS = {
    NodeKind.STATION: "M-8-8H8V8H-8Z",
    NodeKind.GATEWAY: "M-9-6H9V6H-9ZM-3-6V6M3-6V6",
    NodeKind.PANEL: "M-7-9H7V9H-7ZM-7-3H7M-7 3H7",
    NodeKind.CONTROLLER: "M-8-8H8V8H-8ZM-8 8L8-8",
    NodeKind.SENSOR: "M-8 0A8 8 0 1 0 8 0A8 8 0 1 0-8 0Z",
    NodeKind.SUPPLY: "M-8 7H8L0-8Z",
    NodeKind.JUNCTION: "M-3 0A3 3 0 1 0 3 0A3 3 0 1 0-3 0Z",
    NodeKind.OTHER: "M0-9L9 0L0 9L-9 0Z",
}
# over a mark: what becomes of the node; before words: what they tell of. Around (0, 0), 5 high and wide on each side.
SIGNS = {Sign.OUT: "M-5-5L5 5M-5 5L5-5", Sign.IN: "M-5 0H5M0-5V5", Sign.END: "M-3-5H3V5H-3Z"}
DOT = "M-3 0A3 3 0 1 0 3 0A3 3 0 1 0-3 0Z"  # an old station
ROLES = {"name": "", "note": " small", "length": " small"}


def is_too_much(drawn: DrawnSegment) -> bool:
    """Tell whether a segment is drawn as a summary: it has too many nodes, or too many loops."""
    return len(drawn.nodes) > MOST_NODES or len(drawn.runs) >= len(drawn.nodes) + MOST_LOOPS


def draw_sheets(drawn: DrawnSegment, most_h: float = MOST_H) -> tuple[str, ...]:
    """Return the drawing as one <svg> element a sheet, each low enough for a page.

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
    shown = counted(drawn) if is_too_much(drawn) else drawn
    return tuple(_drawn(drawn, sheet) for sheet in sheets_of(lay_out(shown), most_h))


def draw_segment(drawn: DrawnSegment) -> str:
    """Return the whole drawing as one <svg> element, however high."""
    return draw_sheets(drawn, most_h=float("inf"))[0]


def _drawn(drawn: DrawnSegment, sheet: Sheet) -> str:
    return "\n".join(
        (
            _head(drawn, sheet),
            *(_line(line) for line in sheet.lines),
            '<g class="drawing-node" fill="none" stroke="currentColor" stroke-width="1.5">',
            *(part for spot in sheet.spots for part in _mark(spot)),
            "</g>",
            *_texts(sheet.words),
            "</svg>",
        )
    )


def _head(drawn: DrawnSegment, sheet: Sheet) -> str:
    height = sheet.bottom - sheet.top
    part = f", sheet {sheet.number} of {sheet.count}" if sheet.count > 1 else ""
    title = escape(f"Segment {drawn.segment} {drawn.when}{part}")
    told = told_of(drawn) if sheet.number == 1 else f"The wiring goes on from sheet {sheet.number - 1}."
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
    kinds = Counter(node.kind for node in drawn.nodes)
    count = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    first = f"{drawn.verdict}: {count or 'no node'}, {len(drawn.runs)} runs."
    if is_too_much(drawn):
        return f"{first} Too many to draw one by one."
    runs = (f"{run.ends[0]} to {run.ends[1]}: {run.label}." for run in sorted(drawn.runs, key=lambda run: run.key))
    return " ".join((first, *runs))


def _line(line: Line) -> str:
    points = " ".join(f"{x:g},{y:g}" for x, y in line.points)
    role = " drawing-loop" if line.closes_loop else ""
    dash = "1 5" if line.run.sign is Sign.OUT else ("6 3" if line.closes_loop else "")
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    width = "3" if line.run.sign is Sign.IN else "1.5"
    return (
        f'<polyline class="drawing-run{role}" points="{points}" fill="none" stroke="currentColor" '
        f'stroke-width="{width}"{dashes}/>'
    )


def _mark(spot: Spot) -> Iterator[str]:
    """Yield the outline of a node, and in it a dot for an old station or the sign of what becomes of it."""
    node = spot.node
    place = f'transform="translate({spot.x:g} {spot.y:g})"'
    yield f'<path class="fill{_toned(node)}" fill="Canvas" {place} d="{MARKS[NodeKind(node.kind)]}"/>'
    if node.is_old:
        yield f'<path class="drawing-dot" fill="currentColor" stroke="none" {place} d="{DOT}"/>'
    if node.sign in (Sign.IN, Sign.OUT):
        yield f'<path {place} d="{SIGNS[node.sign]}"/>'


def _toned(node: DrawnNode) -> str:
    return " drawing-old" if node.is_old else (" drawing-new" if node.sign is Sign.IN else "")


def _texts(words: Iterable[Word]) -> Iterator[str]:
    """Yield all texts, those of one role together, with their signs."""
    words = tuple(words)
    for role, small in ROLES.items():
        own = [word for word in words if word.role == role]
        if own:
            yield f'<g class="drawing-{role}{small}" font-size="{own[0].size}" fill="currentColor">'
            yield from (_text(word) for word in own)
            yield "</g>"
    signs = [word for word in words if word.sign is not Sign.NONE]
    if signs:
        yield '<g class="drawing-sign" fill="none" stroke="currentColor" stroke-width="1.5">'
        yield from (_sign(word) for word in signs)
        yield "</g>"


def _text(word: Word) -> str:
    turn = f' transform="rotate(-90 {word.x:g} {word.y:g})"' if word.is_turned else ""
    return f'<text x="{word.x:g}" y="{word.y:g}"{turn}>{escape(word.text)}</text>'


def _sign(word: Word) -> str:
    fill = ' fill="currentColor"' if word.sign is Sign.END else ""
    x, y = word.box.x + SMALL / 2, word.box.y + word.box.h / 2
    return f'<path transform="translate({x:g} {y:g})"{fill} d="{SIGNS[word.sign]}"/>'
