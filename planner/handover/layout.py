"""Where everything of a segment drawing stands: pure geometry, no marks.

Every node has a row of its own, as high as its words need, from the gateway downward; the largest part of the wiring
goes straight down in its lane and smaller branches step one lane to the right, so that there are at most about log2(n)
lanes and nothing can overlap. Runs that close a loop go up in channels at the left.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

from planner.handover.drawn import DrawnNode, DrawnRun, DrawnSegment, Note, Sign
from planner.handover.lettering import PHONE_W, broken, shortened, width_of
from planner.handover.reading import Step, loops_of, steps_of

LANE_W, CHANNEL_W, LEAST_TEXT_W = 26, 22, 150
TOP, SIDE, MARK = 14, 6, 9  # MARK: half the height of a node's mark
WIDTH, LARGE, SMALL = PHONE_W, 13, 11
LARGE_H, SMALL_H, ROW_GAP = 16, 14, 12
GAP, SIGN_W = 6, 13
BRANCH = 12  # how far beside its mark a branch leaves; words begin further right
LANDING_Y = (5, -5, 2, -2)
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle: left, top, width, height."""

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
    """One line of text where it stands: baseline left end (x, y), size, the rectangle it takes; turned: read upward.

    The sign before it stands in the rectangle too, at its left end.
    """

    text: str
    x: float
    y: float
    size: int
    role: str  # name, note or length
    box: Box
    sign: Sign = Sign.NONE
    is_turned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A node where it stands: centre of its mark."""

    node: DrawnNode
    x: float
    y: float

    @property
    def box(self) -> Box:
        """Return the rectangle of the mark."""
        return Box(x=self.x - MARK, y=self.y - MARK, w=2 * MARK, h=2 * MARK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A run as a line through points, from the middle of one mark to that of another: marks are drawn over lines."""

    run: DrawnRun
    points: tuple[Point, ...]
    closes_loop: bool = False  # it goes up in a channel at the left
    in_ring: bool = False  # and closes a ring still once what is left out is gone


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The whole drawing: size, marks, lines and words, and the heights at which it may be cut (between rows)."""

    width: float
    height: float
    spots: tuple[Spot, ...]
    lines: tuple[Line, ...]
    words: tuple[Word, ...]
    cuts: tuple[float, ...]


def lay_out(drawn: DrawnSegment) -> Layout:
    """Return the layout of a segment: same segment, same layout, whatever the order of its rows."""
    steps, loops = walk(drawn)
    margin = SIDE + CHANNEL_W * len(loops) + MARK
    lanes = max((step.lane for step in steps), default=0)
    width = max(WIDTH, margin + LANE_W * lanes + MARK + 2 * GAP + SIDE + LEAST_TEXT_W)
    nodes = {node.key: node for node in drawn.nodes}
    spots: dict[str, Spot] = {}
    words: list[Word] = []
    tops: list[float] = []
    y: float = TOP
    for step in steps:
        x = margin + LANE_W * step.lane
        tops.append(y)
        spots[step.node], own, y = _row(step, nodes[step.node], (x, y), width)
        words += own
    channels = [_up(run, channel, spots, in_ring=_in_ring(run, drawn.runs)) for channel, run in enumerate(loops)]
    lines = [*(line for step in steps if (line := _down(step, spots)) is not None), *channels]
    return Layout(
        width=width,
        height=y,
        spots=tuple(spots[step.node] for step in steps),
        lines=tuple(lines),
        words=(*words, *upright_words(lines)),
        cuts=tuple(tops),
    )


def walk(drawn: DrawnSegment) -> tuple[list[Step[DrawnRun]], list[DrawnRun]]:
    """Return the rows from the top, and the runs that close loops."""
    kinds = {node.key: node.kind for node in drawn.nodes}
    steps = list(steps_of(kinds, drawn.runs, drawn.root))
    return steps, loops_of(steps, drawn.runs, kinds)


def _row(step: Step[DrawnRun], node: DrawnNode, at: Point, width: float) -> tuple[Spot, list[Word], float]:
    """Return mark and words of one row that begins at a height, and where the next begins."""
    x, y = at
    words: list[Word] = []
    left = x + MARK + GAP
    if step.run is not None:
        notes = (Note(text=step.run.label, sign=step.run.sign), *step.run.notes)
        y = _stacked(words, notes, "length", (left, y), width)
        y += GAP / 2
    name = y
    y = _stacked(words, (Note(text=node.key),), "name", (left, y), width)
    y = _stacked(words, node.notes, "note", (left, y), width)
    spot = Spot(node=node, x=x, y=name + LARGE_H / 2)
    return spot, words, max(y, spot.y + MARK) + ROW_GAP


def _stacked(words: list[Word], notes: Sequence[Note], role: str, at: Point, width: float) -> float:
    """Add notes one below the other, each broken to the room there is; return where they end."""
    left, y = at
    size, step = (LARGE, LARGE_H) if role == "name" else (SMALL, SMALL_H)
    for note in (note for note in notes if note.text):
        indent = SIGN_W if note.sign is not Sign.NONE else 0
        for number, text in enumerate(broken(note.text, width - SIDE - left - indent, size)):
            box = Box(x=left, y=y, w=indent + width_of(text, size), h=step)
            sign = note.sign if number == 0 else Sign.NONE
            words.append(Word(text=text, x=left + indent, y=y + step - 4, size=size, role=role, box=box, sign=sign))
            y += step
    return y


def _down(step: Step[DrawnRun], spots: dict[str, Spot]) -> Line | None:
    """Return the run to a row: straight down in its lane, or beside the mark above and one lane to the right."""
    if step.run is None or step.parent is None:
        return None
    above, here = spots[step.parent], spots[step.node]
    if above.x == here.x:
        return Line(run=step.run, points=((above.x, above.y), (here.x, here.y)))
    aside = above.x + BRANCH
    points = ((above.x, above.y), (aside, above.y), (aside, here.y), (here.x, here.y))
    return Line(run=step.run, points=points)


def _up(run: DrawnRun, channel: int, spots: dict[str, Spot], *, in_ring: bool) -> Line:
    """Return the line of a run that closes a loop."""
    x = SIDE + CHANNEL_W * channel + CHANNEL_W / 2 + 4
    aside = LANDING_Y[channel % len(LANDING_Y)]  # so that it does not run along the branch to the same node
    first, last = sorted((spots[end] for end in run.ends), key=lambda spot: spot.y)
    ends = (first.y + aside, last.y + aside)
    points = ((first.x, ends[0]), (x, ends[0]), (x, ends[1]), (last.x, ends[1]))
    return Line(run=run, points=points, closes_loop=True, in_ring=in_ring)


def _in_ring(run: DrawnRun, runs: Iterable[DrawnRun]) -> bool:
    """Tell whether other runs than those left out join the ends of a run, too."""
    graph: nx.Graph[str] = nx.Graph(one.ends for one in runs if one.key != run.key and one.sign is not Sign.OUT)
    return set(run.ends) <= set(graph) and nx.has_path(graph, *run.ends)


def upright_words(lines: Sequence[Line], edges: Sequence[float] = ()) -> Iterator[Word]:
    """Yield the words of runs that close loops, read upward beside them, clear of what crosses there and of `edges`.

    A text is shortened to the longest clear stretch beside its line; where not even a letter fits there is none.
    """
    loops = [line for line in lines if line.closes_loop]
    levels = [y for line in loops for y in (line.points[0][1], line.points[-1][1])]
    for line in loops:
        x, top, bottom = line.points[1][0], line.points[1][1], line.points[2][1]
        barriers = sorted({top, bottom, *(y for y in (*levels, *edges) if top < y < bottom)})
        room, low = max(((high - low - GAP, low) for low, high in pairwise(barriers)), default=(0.0, top))
        text = ", ".join((line.run.label, *(note.text for note in line.run.notes)))
        shown = shortened(text, room, SMALL)
        if len(shown) > 1:
            yield _upright(shown, x, low + (room + GAP) / 2)


def _upright(text: str, x: float, middle: float) -> Word:
    length = width_of(text, SMALL)
    foot = middle + length / 2
    box = Box(x=x - 3 - SMALL, y=foot - length, w=SMALL, h=length)
    return Word(text=text, x=x - 5, y=foot, size=SMALL, role="length", box=box, is_turned=True)


def strokes(line: Line) -> Iterator[Box]:
    """Yield the straight parts of a line as rectangles of one point."""
    for (x, y), (to_x, to_y) in zip(line.points, line.points[1:], strict=False):
        yield Box(x=min(x, to_x) - 0.5, y=min(y, to_y) - 0.5, w=abs(x - to_x) + 1, h=abs(y - to_y) + 1)


def clashes(layout: Layout) -> list[tuple[str, str]]:
    """Return what stands on one another: none in a good drawing. Lines may cross lines, and end at their own marks."""
    words = [(word.text, word.box) for word in layout.words]
    marks = [(spot.node.key, spot.box) for spot in layout.spots]
    lines = [(line.run.key, stroke) for line in layout.lines for stroke in strokes(line)]
    solid = words + marks
    found = [
        (one, other)
        for place, (one, box) in enumerate(solid)
        for other, second in solid[place + 1 :]
        if box.overlaps(second)
    ]
    ends = {line.run.key: set(line.run.ends) for line in layout.lines}
    found += [(key, text) for key, stroke in lines for text, box in words if stroke.overlaps(box)]
    found += [
        (key, node) for key, stroke in lines for node, box in marks if node not in ends[key] and stroke.overlaps(box)
    ]
    return found
