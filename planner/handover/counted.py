"""The summary that is drawn of a segment too large to draw: what it holds by kind, and where along the wire it sits."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

from inventory.core.catalogue import NodeKind
from planner.handover.drawn import DrawnNode, DrawnRun, DrawnSegment, Note

STRETCHES = 12  # into which the wire is told apart, at most
NICE = (1, 2, 5, 10)
PLURAL = {"supply": "supplies", "other": "others"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """How far each node is from the root: in metres of wire, or in runs where a length is not known."""

    far: dict[str, float]
    unit: str


def counted(drawn: DrawnSegment) -> DrawnSegment:
    """Return a stand-in: the root with all counts, then a mark for each stretch of wire that says what sits there."""
    root = next((node for node in drawn.nodes if node.key == drawn.root), None)
    head = root.key if root is not None else drawn.segment
    reach = _reach(drawn, root.key) if root is not None else _Reach(far={}, unit="")
    marks = [_head(drawn, head, root, reach), *_stretches(drawn, reach)]
    lost = [node for node in drawn.nodes if node.key not in reach.far and node.key != head]
    if lost:
        marks.append(_mark("no run on record leads there", lost))
    runs = tuple(
        DrawnRun(key=f"{number:03d}", ends=(one.key, other.key), label="")
        for number, (one, other) in enumerate(pairwise(marks))
        if not (lost and other is marks[-1])
    )
    return DrawnSegment(
        segment=drawn.segment, verdict=drawn.verdict, nodes=tuple(marks), runs=runs, root=head, when=drawn.when
    )


def _head(drawn: DrawnSegment, key: str, root: DrawnNode | None, reach: _Reach) -> DrawnNode:
    longest = max(reach.far.values(), default=0.0)
    extent = f"the farthest node is {longest:.0f} {reach.unit} away" if longest else "no run on record leads from here"
    lengths = [run.length_m for run in drawn.runs]
    total = sum(length for length in lengths if length is not None)
    without = lengths.count(None)
    wire = f"{total:.0f} m of wire on record" + (f", {without} runs without a length" if without else "")
    notes = (
        Note(text=f"{len(drawn.nodes)} nodes and {len(drawn.runs)} runs in all, not drawn one by one"),
        Note(text=_words(drawn.nodes)),
        Note(text=extent),
        Note(text=wire),
    )
    kind = root.kind if root is not None else NodeKind.JUNCTION.value
    return DrawnNode(key=key, kind=kind, notes=notes, is_old=root is not None and root.is_old)


def _reach(drawn: DrawnSegment, root: str) -> _Reach:
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(node.key for node in drawn.nodes)
    lengths = {run.key: run.length_m for run in drawn.runs}
    whole = all(length is not None for length in lengths.values())
    for run in sorted(drawn.runs, key=lambda run: run.key):
        step = lengths[run.key] if whole else 1.0
        held = graph.edges[run.ends]["step"] if graph.has_edge(*run.ends) else math.inf
        graph.add_edge(*run.ends, step=min(held, step or 0.0))
    return _Reach(
        far=dict(nx.single_source_dijkstra_path_length(graph, root, weight="step")), unit="m" if whole else "runs"
    )


def _stretches(drawn: DrawnSegment, reach: _Reach) -> Iterator[DrawnNode]:
    """Yield a mark for each stretch that anything sits on."""
    step = _step(max(reach.far.values(), default=0.0))
    found: dict[int, list[DrawnNode]] = {}
    for node in drawn.nodes:
        if node.key in reach.far and node.key != drawn.root:
            found.setdefault(int(reach.far[node.key] / step), []).append(node)
    for number in sorted(found):
        yield _mark(f"{number * step:g} to {(number + 1) * step:g} {reach.unit} away", found[number])


def _step(longest: float) -> float:
    """Return a round length of which at most STRETCHES reach so far."""
    least = max(longest / STRETCHES, 1.0)
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * nice for nice in NICE if power * nice >= least or nice == NICE[-1])


def _mark(key: str, nodes: list[DrawnNode]) -> DrawnNode:
    old = any(node.is_old for node in nodes)
    kind = NodeKind.STATION.value if old else NodeKind.JUNCTION.value
    return DrawnNode(key=key, kind=kind, notes=(Note(text=_words(nodes)),), is_old=old)


def _words(nodes: Iterable[DrawnNode]) -> str:
    """Return how many of each kind there are, old stations by themselves."""
    counts = Counter("old station" if node.is_old else node.kind for node in nodes)
    return ", ".join(
        f"{count} {kind if count == 1 else PLURAL.get(kind, f'{kind}s')}" for kind, count in sorted(counts.items())
    )
