"""Where everything of a segment drawing stands: pure geometry, no marks.

Every node has a row of its own, from the gateway downward; the largest part of the wiring goes straight down in its
lane and smaller branches step one lane to the right, so that there are at most about log2(n) lanes and nothing can
overlap. Runs that close a loop go up in channels at the left.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import networkx as nx

ROW_H, LANE_W, CHANNEL_W = 46, 26, 20
TOP, SIDE, MARK = 26, 8, 9  # MARK: half the height of a node's mark
WIDTH, LARGE, SMALL = 360, 13, 11
WIDE = 0.62  # width of a letter, as part of the size of the type, on the wide side
GAP = 6
LANDING_Y = (5, -5, 2, -2)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnNode:
    """One node to draw; `kind` as in the catalogue, `notes` are the words under its name."""

    key: str
    kind: str
    notes: str = ""
    is_old: bool = False
    ends_bus: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRun:
    """One run to draw; `label` says its length, in words where that is not known."""

    key: str
    ends: tuple[str, str]
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSegment:
    """One segment to draw. `root` is the node drawn first, a gateway where there is one."""

    segment: str
    verdict: str
    nodes: tuple[DrawnNode, ...]
    runs: tuple[DrawnRun, ...]
    root: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle around a text: left, top, width, height."""

    x: float
    y: float
    w: float
    h: float

    def overlaps(self, other: "Box") -> bool:
        """Tell whether the two rectangles share an inside."""
        apart_x = self.x + self.w <= other.x or other.x + other.w <= self.x
        return not (apart_x or self.y + self.h <= other.y or other.y + other.h <= self.y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A text where it stands: baseline left end (x, y), its size, and the rectangle it takes; turned: read upward."""

    text: str
    x: float
    y: float
    size: int
    role: str  # name, note or length
    box: Box
    is_turned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A node where it stands: centre of its mark."""

    node: DrawnNode
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A run as a line through points."""

    run: DrawnRun
    points: tuple[tuple[float, float], ...]
    closes_loop: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The whole drawing: size, marks, lines and words."""

    width: float
    height: float
    spots: tuple[Spot, ...]
    lines: tuple[Line, ...]
    words: tuple[Word, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """One row: a node, its lane, and the run that leads to it from above (None: nothing recorded does)."""

    node: str
    lane: int
    parent: str | None
    run: DrawnRun | None


def lay_out(drawn: DrawnSegment) -> Layout:
    """Return the layout of a segment: same segment, same layout, whatever the order of its rows."""
    steps, loops = _walk(drawn)
    margin = SIDE + CHANNEL_W * len(loops) + MARK
    nodes = {node.key: node for node in drawn.nodes}
    spots = {
        step.node: Spot(node=nodes[step.node], x=margin + LANE_W * step.lane + GAP, y=TOP + ROW_H * row)
        for row, step in enumerate(steps)
    }
    lines = [line for step in steps if (line := _down(step, spots)) is not None]
    words = [word for step in steps for word in _words(step, spots[step.node])]
    for channel, run in enumerate(loops):
        line, word = _up(run, channel, spots)
        lines.append(line)
        words.append(word)
    return Layout(
        width=max([WIDTH, *(word.box.x + word.box.w + SIDE for word in words)]),
        height=TOP + ROW_H * max(len(steps) - 1, 0) + TOP,
        spots=tuple(spots[step.node] for step in steps),
        lines=tuple(lines),
        words=tuple(words),
    )


def _walk(drawn: DrawnSegment) -> tuple[list[_Step], list[DrawnRun]]:
    """Return the rows from the top, and the runs that close loops."""
    known = {node.key for node in drawn.nodes}
    runs = sorted((run for run in drawn.runs if set(run.ends) <= known), key=lambda run: run.key)
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(sorted(known))
    for run in runs:
        if run.ends[0] != run.ends[1] and not graph.has_edge(*run.ends):
            graph.add_edge(*run.ends, run=run)
    steps: list[_Step] = []
    for root in _roots(drawn, graph):
        if root not in {step.node for step in steps}:
            steps.extend(_rows_below(graph, root))
    drawn_runs = {step.run.key for step in steps if step.run is not None}
    return steps, [run for run in runs if run.key not in drawn_runs and run.ends[0] != run.ends[1]]


def _roots(drawn: DrawnSegment, graph: "nx.Graph[str]") -> list[str]:
    """Return where each wired piece is drawn from: the root, then gateways, supplies, ends of lines, by name."""
    kinds = {node.key: node.kind for node in drawn.nodes}
    rank = {"gateway": 1, "supply": 2}

    def order(key: str) -> tuple[int, int, str]:
        return (0 if key == drawn.root else rank.get(kinds[key], 3), graph.degree(key), key)

    return sorted(kinds, key=order)


def _rows_below(graph: "nx.Graph[str]", root: str) -> Iterator[_Step]:
    """Yield the rows of one wired piece, without recursion: small branches first, the largest one last."""
    tree = nx.dfs_tree(graph, root, sort_neighbors=sorted)
    sizes: dict[str, int] = {}
    for node in nx.dfs_postorder_nodes(tree, root):
        sizes[node] = 1 + sum(sizes[child] for child in tree.successors(node))
    stack = [_Step(node=root, lane=0, parent=None, run=None)]
    while stack:
        step = stack.pop()
        yield step
        children = sorted(tree.successors(step.node), key=lambda child: (-sizes[child], child))
        for place, child in enumerate(children):  # the largest is pushed first and so comes last
            run = graph.edges[step.node, child]["run"]
            stack.append(_Step(node=child, lane=step.lane + (place > 0), parent=step.node, run=run))


def _down(step: _Step, spots: dict[str, Spot]) -> Line | None:
    if step.run is None or step.parent is None:
        return None
    above, here = spots[step.parent], spots[step.node]
    corner = ((above.x, here.y),) if above.x != here.x else ()
    return Line(run=step.run, points=((above.x, above.y), *corner, (here.x, here.y)))


def _up(run: DrawnRun, channel: int, spots: dict[str, Spot]) -> tuple[Line, Word]:
    """Return the line of a run that closes a loop, and its length, read upward beside it."""
    x = SIDE + CHANNEL_W * channel + CHANNEL_W / 2
    aside = LANDING_Y[channel % len(LANDING_Y)]  # so that it does not run along the branch to the same node
    first, last = sorted((spots[end] for end in run.ends), key=lambda spot: spot.y)
    points = ((first.x, first.y + aside), (x, first.y + aside), (x, last.y + aside), (last.x, last.y + aside))
    shown = _cut(run.label, abs(last.y - first.y) + ROW_H - GAP, SMALL)
    length = _width(shown, SMALL)
    middle = (first.y + last.y) / 2 + length / 2
    box = Box(x=x - 3 - SMALL, y=middle - length, w=SMALL, h=length)
    word = Word(text=shown, x=x - 4, y=middle, size=SMALL, role="length", box=box, is_turned=True)
    return Line(run=run, points=points, closes_loop=True), word


def _words(step: _Step, spot: Spot) -> Iterator[Word]:
    """Yield name and notes at the right of the mark, and above it the length of the run that leads there."""
    left = spot.x + MARK + GAP + (MARK if spot.node.ends_bus else 0)
    room = WIDTH - left - SIDE
    yield _word(spot.node.key, (left, spot.y), LARGE, "name", room)
    if spot.node.notes:
        yield _word(spot.node.notes, (left, spot.y + SMALL + 2), SMALL, "note", room)
    if step.run is not None:
        yield _word(step.run.label, (spot.x + GAP, spot.y - ROW_H / 2 + 5), SMALL, "length", room)


def _word(text: str, at: tuple[float, float], size: int, role: str, room: float) -> Word:
    """Return a text cut to the room there is."""
    shown = _cut(text, room, size)
    box = Box(x=at[0], y=at[1] - size * 0.8, w=_width(shown, size), h=size)
    return Word(text=shown, x=at[0], y=at[1], size=size, role=role, box=box)


def _cut(text: str, room: float, size: int) -> str:
    letters = max(int(room / (size * WIDE)), 4)
    return text if len(text) <= letters else text[: letters - 1] + "…"


def _width(text: str, size: int) -> float:
    return len(text) * size * WIDE


def overlapping(words: Sequence[Word]) -> list[tuple[str, str]]:
    """Return the texts that stand on one another: none in a good drawing."""
    return [
        (one.text, other.text)
        for place, one in enumerate(words)
        for other in words[place + 1 :]
        if one.box.overlaps(other.box)
    ]
