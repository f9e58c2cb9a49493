"""The summary that is drawn of a segment too large to draw: what it holds by kind, and where along the wire it sits."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from inventory.core.catalogue import NodeKind
from inventory.core.saying import counted_words
from planner.core.edges import distances
from planner.handover.drawn import DrawnNode, DrawnRun, DrawnSegment, Note
from planner.handover.reading import Outline

STRETCHES = 12  # into which the wire is told apart, at most
NICE = (1, 2, 5, 10)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """How far each node is from the root: in metres of wire, or in runs where a length is not known."""

    far: dict[str, float]
    unit: str


def counted(outline: Outline[Any]) -> DrawnSegment:
    """Return a stand-in: the root with all counts, then a mark for each stretch of wire that says what sits there."""
    root = outline.root if outline.root in outline.kinds else None
    head = outline.segment if root is None else root
    reach = _Reach(far={}, unit="") if root is None else _reach(outline, root)
    marks = [_head(outline, head, root, reach), *_stretches(outline, reach)]
    lost = [node for node in outline.kinds if node not in reach.far and node != head]
    if lost:
        marks.append(_mark("no run on record leads there", outline, lost))
    runs = tuple(
        DrawnRun(key=f"{number:03d}", ends=(one.key, other.key), label="")
        for number, (one, other) in enumerate(pairwise(marks))
        if not (lost and other is marks[-1])
    )
    return DrawnSegment(
        segment=outline.segment, verdict=outline.verdict, nodes=tuple(marks), runs=runs, root=head, when=outline.when
    )


def outline_of(drawn: DrawnSegment) -> Outline[DrawnRun]:
    """Return what is left of a drawn segment without the words beside nodes and runs."""
    return Outline(
        segment=drawn.segment,
        verdict=drawn.verdict,
        when=drawn.when,
        kinds={node.key: node.kind for node in drawn.nodes},
        runs=drawn.runs,
        root=drawn.root,
        old=frozenset(node.key for node in drawn.nodes if node.is_old),
    )


def _head(outline: Outline[Any], key: str, root: str | None, reach: _Reach) -> DrawnNode:
    longest = max(reach.far.values(), default=0.0)
    extent = f"the farthest node is {longest:.0f} {reach.unit} away" if longest else "no run on record leads from here"
    lengths = [run.length_m for run in outline.runs]
    total = sum(length for length in lengths if length is not None)
    without = lengths.count(None)
    wire = f"{total:.0f} m of wire on record" + (f", {without} runs without a length" if without else "")
    notes = (
        Note(text=f"{len(outline.kinds)} nodes and {len(outline.runs)} runs in all, not drawn one by one"),
        Note(text=_words(outline, outline.kinds)),
        Note(text=extent),
        Note(text=wire),
    )
    kind = outline.kinds[root] if root is not None else NodeKind.JUNCTION.value
    return DrawnNode(key=key, kind=kind, notes=notes, is_old=root in outline.old)


def _reach(outline: Outline[Any], root: str) -> _Reach:
    lengths = [run.length_m for run in outline.runs]
    known = [length for length in lengths if length is not None]
    whole = len(known) == len(lengths)
    far = distances([run.ends for run in outline.runs], known if whole else [1.0] * len(lengths), root)
    return _Reach(far=far, unit="m" if whole else "runs")


def _stretches(outline: Outline[Any], reach: _Reach) -> Iterator[DrawnNode]:
    """Yield a mark for each stretch that anything sits on."""
    step = _step(max(reach.far.values(), default=0.0))
    found: dict[int, list[str]] = {}
    for node in outline.kinds:
        if node in reach.far and node != outline.root:
            found.setdefault(int(reach.far[node] / step), []).append(node)
    for number in sorted(found):
        yield _mark(f"{number * step:g} to {(number + 1) * step:g} {reach.unit} away", outline, found[number])


def _step(longest: float) -> float:
    """Return a round length of which at most STRETCHES reach so far."""
    least = max(longest / STRETCHES, 1.0)
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * nice for nice in NICE if power * nice >= least or nice == NICE[-1])


def _mark(key: str, outline: Outline[Any], nodes: list[str]) -> DrawnNode:
    old = not outline.old.isdisjoint(nodes)
    kind = NodeKind.STATION.value if old else NodeKind.JUNCTION.value
    return DrawnNode(key=key, kind=kind, notes=(Note(text=_words(outline, nodes)),), is_old=old)


def _words(outline: Outline[Any], nodes: Iterable[str]) -> str:
    """Return how many of each kind there are, old stations by themselves."""
    counts = Counter("old station" if node in outline.old else outline.kinds[node] for node in nodes)
    return ", ".join(counted_words(count, kind) for kind, count in sorted(counts.items()))
