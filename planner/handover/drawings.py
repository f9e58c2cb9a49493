"""Draws a segment as it is recorded: nodes by kind, runs with their lengths, voltages, ends. Plain SVG, no styles.

Marks are our own: what a node is stands beside it in words too. Colours come from classes of the page's style sheet;
without one, everything is drawn in the colour of the text.
"""

from collections import Counter
from collections.abc import Iterator
from html import escape

from inventory.core.catalogue import NodeKind
from planner.core.findings import Outcome, SegmentReport
from planner.handover.layout import (
    MARK,
    SMALL,
    DrawnNode,
    DrawnRun,
    DrawnSegment,
    Layout,
    Line,
    Spot,
    Word,
    lay_out,
)

MOST_NODES = 60  # what a person can follow on one sheet
MOST_LOOPS = 8  # runs beyond a tree; more hide the rest
NOT_KNOWN = "length not known"

# marks around (0, 0), MARK high and wide on each side
MARKS = {
    NodeKind.STATION: '<rect x="-8" y="-8" width="16" height="16"/>',
    NodeKind.GATEWAY: '<path d="M-9 -6H9V6H-9Z M-3 -6V6 M3 -6V6"/>',
    NodeKind.PANEL: '<path d="M-7 -9H7V9H-7Z M-7 -3H7 M-7 3H7"/>',
    NodeKind.CONTROLLER: '<path d="M-8 -8H8V8H-8Z M-8 8L8 -8"/>',
    NodeKind.SENSOR: '<circle r="8"/>',
    NodeKind.SUPPLY: '<path d="M-8 7H8L0 -8Z"/>',
    NodeKind.JUNCTION: '<circle r="3"/>',
    NodeKind.OTHER: '<path d="M0 -9L9 0L0 9L-9 0Z"/>',
}


def draw_segment(drawn: DrawnSegment) -> str:
    """Return the drawing as an <svg> element; more than MOST_NODES nodes are drawn as a count by kind.

    Examples
    --------
    >>> nodes = (DrawnNode(key="G1", kind="gateway"), DrawnNode(key="S1", kind="station"))
    >>> run = DrawnRun(key="R1", ends=("G1", "S1"), label="31.5 m")
    >>> drawing = draw_segment(DrawnSegment(segment="L1", verdict="in place", nodes=nodes, runs=(run,)))
    >>> drawing.startswith("<svg "), "31.5 m" in drawing, "style=" in drawing
    (True, True, False)

    """
    shown = _counted(drawn) if _is_too_much(drawn) else drawn
    layout = lay_out(shown)
    parts = (
        _head(drawn, layout),
        *(_line(line) for line in layout.lines),
        *(_mark(spot) for spot in layout.spots),
        *(_text(word) for word in layout.words),
        "</svg>",
    )
    return "\n".join(parts)


def _is_too_much(drawn: DrawnSegment) -> bool:
    return len(drawn.nodes) > MOST_NODES or len(drawn.runs) >= len(drawn.nodes) + MOST_LOOPS


def volts_of(report: SegmentReport) -> dict[str, str]:
    """Return the voltage predicted at each node, in words."""
    asked = any(one.rule == "voltage" and one.outcome is Outcome.UNKNOWN for one in report.findings)
    without = "voltage not known" if asked else "no operating point"
    return {load.node: f"{load.voltage_v:.1f} V" if load.voltage_v is not None else without for load in report.voltages}


def node_of(
    *, key: str, kind: str, model: str, room: str | None, volts: str | None, ends: bool, is_old: bool
) -> DrawnNode:
    """Return one node to draw, with the words under its name."""
    notes = (kind, model, room, volts, "end resistor" if ends else None)
    words = " · ".join(note for note in notes if note)
    return DrawnNode(key=key, kind=kind, notes=words, is_old=is_old, ends_bus=ends)


def run_of(*, key: str, ends: tuple[str, str], length_m: float | None, cable: str | None) -> DrawnRun:
    """Return one run to draw, with its length and cable in words."""
    metres = NOT_KNOWN if length_m is None else f"{length_m:g} m"
    return DrawnRun(key=key, ends=ends, label=f"{metres}, {cable or 'cable not known'}")


def _counted(drawn: DrawnSegment) -> DrawnSegment:
    """Return a stand-in for a segment too large to draw: the gateway, then one mark for each kind with its count."""
    root = next((node for node in drawn.nodes if node.key == drawn.root), None)
    counts = Counter(node.kind for node in drawn.nodes if root is None or node.key != root.key)
    old = Counter(node.kind for node in drawn.nodes if node.is_old)
    head = root if root is not None else DrawnNode(key=drawn.segment, kind=NodeKind.JUNCTION.value)
    marks = [
        DrawnNode(
            key=f"{count} x {kind}",
            kind=kind,
            notes=f"{old[kind]} of them old stations" if old[kind] else "",
            is_old=bool(old[kind]),
        )
        for kind, count in sorted(counts.items())
    ]
    keys = [head.key, *(mark.key for mark in marks)]
    label = f"{len(drawn.runs)} runs in all, not drawn one by one"
    runs = tuple(
        DrawnRun(key=f"{number:03d}", ends=(keys[number], keys[number + 1]), label=label if number == 0 else "")
        for number in range(len(keys) - 1)
    )
    return DrawnSegment(segment=drawn.segment, verdict=drawn.verdict, nodes=(head, *marks), runs=runs, root=head.key)


def _head(drawn: DrawnSegment, layout: Layout) -> str:
    kinds = Counter(node.kind for node in drawn.nodes)
    counted = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    size = f'width="{layout.width:g}" height="{layout.height:g}" viewBox="0 0 {layout.width:g} {layout.height:g}"'
    said = escape(f"Segment {drawn.segment}, {drawn.verdict}: {counted or 'no node'}, {len(drawn.runs)} runs")
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" font-family="sans-serif" {size} aria-label="{said}">',
            f"<title>{escape('Segment ' + drawn.segment)}</title>",
            f"<desc>{escape(_told(drawn))}</desc>",
        )
    )


def _told(drawn: DrawnSegment) -> str:
    """Return the wiring in words, for those who hear the drawing."""
    if _is_too_much(drawn):
        return f"{len(drawn.nodes)} nodes and {len(drawn.runs)} runs: too many to draw one by one."
    runs = (f"{run.ends[0]} to {run.ends[1]}: {run.label}." for run in sorted(drawn.runs, key=lambda run: run.key))
    return " ".join(runs) or "No run is on record."


def _line(line: Line) -> str:
    points = " ".join(f"{x:g},{y:g}" for x, y in line.points)
    role = "drawing-run drawing-loop" if line.closes_loop else "drawing-run"
    return (
        f'<polyline class="{role}" points="{points}" fill="none" stroke="currentColor" stroke-width="1.5">'
        f"<title>{escape(f'{line.run.key}: {line.run.label}')}</title></polyline>"
    )


def _mark(spot: Spot) -> str:
    node = spot.node
    kind = NodeKind(node.kind)
    role = f"drawing-node drawing-{kind.value}{' drawing-old' if node.is_old else ''}"
    fill = 'class="fill" fill="Canvas"'
    return (
        f'<g class="{role}" transform="translate({spot.x:g} {spot.y:g})" stroke="currentColor" stroke-width="1.5">'
        f"<title>{escape(f'{node.key}, {node.notes}')}</title><g {fill}>{MARKS[kind]}</g>{''.join(_signs(node))}</g>"
    )


def _signs(node: DrawnNode) -> Iterator[str]:
    """Yield what is added to a mark: a dot for an old station, a small block for an end resistor."""
    if node.is_old:
        yield '<circle class="drawing-dot" r="3.5" fill="currentColor"/>'
    if node.ends_bus:
        yield f'<rect class="drawing-end" x="{MARK + 1}" y="-7" width="5" height="14" fill="currentColor"/>'


def _text(word: Word) -> str:
    turn = f' transform="rotate(-90 {word.x:g} {word.y:g})"' if word.is_turned else ""
    small = " small" if word.size == SMALL else ""
    return (
        f'<text class="drawing-{word.role}{small}" x="{word.x:g}" y="{word.y:g}" font-size="{word.size}" '
        f'fill="currentColor"{turn}>{escape(word.text)}</text>'
    )
