"""In which order a segment is read: one row a node, from the gateway down; by names and runs alone, row after row.

The largest part of the wiring goes straight down in its lane and comes last, smaller branches one lane to the right.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar


class Wire(Protocol):
    """What is asked of a run: its name, the nodes at its ends, its length [m] (None not known)."""

    @property
    def key(self) -> str:
        """Return its name."""

    @property
    def ends(self) -> tuple[str, str]:
        """Return the nodes at its ends."""

    @property
    def length_m(self) -> float | None:
        """Return its length."""


W = TypeVar("W", bound=Wire)
Beside = Mapping[str, Mapping[str, W]]  # node -> node beside it -> run that leads there


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline(Generic[W]):
    """A segment before anything of it is drawn: what each node is (`kinds`), which are old stations, its runs.

    `when` tells before from after; `root` is read first, a gateway where there is one.
    """

    segment: str
    verdict: str
    when: str
    kinds: Mapping[str, str]
    runs: Sequence[W]
    root: str | None = None
    old: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step(Generic[W]):
    """One row: a node, its lane, and the run that leads to it from above (None: nothing recorded does)."""

    node: str
    lane: int
    parent: str | None
    run: W | None


def steps_of(kinds: Mapping[str, str], runs: Iterable[W], root: str | None) -> Iterator[Step[W]]:
    """Yield the rows from the top: the wired piece of the root first, the others by name."""
    beside = _beside(kinds, runs)
    seen: set[str] = set()
    for start in _starts(kinds, beside, root):
        if start not in seen:
            for step in _rows_below(beside, start):
                seen.add(step.node)
                yield step


def loops_of(steps: Iterable[Step[W]], runs: Iterable[W], kinds: Mapping[str, str]) -> list[W]:
    """Return the runs between these nodes that lead to none of the rows: they close loops."""
    drawn = {step.run.key for step in steps if step.run is not None}
    return [run for run in _between(kinds, runs) if run.key not in drawn]


def _between(kinds: Mapping[str, str], runs: Iterable[W]) -> list[W]:
    held = (run for run in runs if run.ends[0] in kinds and run.ends[1] in kinds and run.ends[0] != run.ends[1])
    return sorted(held, key=lambda run: run.key)


def _beside(kinds: Mapping[str, str], runs: Iterable[W]) -> Beside[W]:
    """Return what lies beside each node; of runs side by side the first by name leads there."""
    found: dict[str, dict[str, W]] = {node: {} for node in kinds}
    for run in _between(kinds, runs):
        near, far = run.ends
        found[near].setdefault(far, run)
        found[far].setdefault(near, run)
    return found


def _starts(kinds: Mapping[str, str], beside: Beside[W], root: str | None) -> Iterator[str]:
    """Yield where each wired piece is read from: the root, then gateways, supplies, ends of lines, by name."""
    if root is not None and root in kinds:
        yield root
    rank = {"gateway": 1, "supply": 2}
    yield from sorted(kinds, key=lambda key: (rank.get(kinds[key], 3), len(beside[key]), key))


def _rows_below(beside: Beside[W], start: str) -> Iterator[Step[W]]:
    """Yield the rows of one wired piece, without recursion: small branches first, the largest one last."""
    before = _depth_first(beside, start)
    sizes = dict.fromkeys(before, 1)
    below: dict[str, list[str]] = {}
    for node, parent in reversed(before.items()):
        if parent is not None:
            sizes[parent] += sizes[node]
            below.setdefault(parent, []).append(node)
    stack: list[Step[W]] = [Step(node=start, lane=0, parent=None, run=None)]
    while stack:
        step = stack.pop()
        yield step
        children = sorted(below.get(step.node, ()), key=lambda child: (-sizes[child], child))
        for place, child in enumerate(children):  # the largest is pushed first and so comes last
            run = beside[step.node][child]
            stack.append(Step(node=child, lane=step.lane + (place > 0), parent=step.node, run=run))


def _depth_first(beside: Beside[W], start: str) -> dict[str, str | None]:
    """Return the node before each, in the order in which a walk that goes deep first meets them, neighbours by name."""
    before: dict[str, str | None] = {}
    ahead: list[tuple[str, str | None]] = [(start, None)]
    while ahead:
        node, parent = ahead.pop()
        if node not in before:
            before[node] = parent
            ahead += [(other, node) for other in sorted(beside[node], reverse=True) if other not in before]
    return before
