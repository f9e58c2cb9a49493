"""Which verdicts a change of the records can touch, so that only those are reached for again.

A segment sees of another one across a gateway its name, what it carries, and, where it has old stations, how it can
convert. The way it converts in its turn depends on the segments across its own gateways. So a change reaches the
neighbours of a changed segment, and through a neighbour with old stations that one's neighbours with old stations;
never through a segment without any, however many lines hang on it.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from planner.core.verdicts import Campus

REACH = 2  # gateways that a change is felt across
VIEW = 2 * REACH  # gateways within which everything must be known to judge all that a change reaches


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """What other segments see of one: its buses (by any number that names them), and whether it has old stations."""

    buses: frozenset[int]
    old: bool


def quiet(before: Mapping[str, Face], after: Mapping[str, Face], rewritten: Collection[int]) -> frozenset[str]:
    """Return the changed segments that look to others as they did; `rewritten` are buses whose own row changed.

    Examples
    --------
    >>> backbone, line = Face(buses=frozenset({1}), old=False), Face(buses=frozenset({2}), old=True)
    >>> sorted(quiet({"N0": backbone, "L1": line}, {"N0": backbone, "L1": line}, ()))
    ['N0']
    >>> sorted(quiet({"N0": backbone}, {"N0": backbone}, {1}))
    []

    """
    return frozenset(
        key
        for key, face in after.items()
        if not face.old and before.get(key) == face and face.buses.isdisjoint(rewritten)
    )


def is_rewired(before: Mapping[str, Face], after: Mapping[str, Face]) -> bool:
    """Tell whether segments have other names or buses than before, so that whoever names them must be told."""
    return {key: face.buses for key, face in before.items()} != {key: face.buses for key, face in after.items()}


def reached(campus: Campus, changed: Collection[int], silent: Collection[int], *, rewired: bool) -> tuple[int, ...]:
    """Return the segments whose report may differ now that `changed` did; the `silent` of them are seen as before."""
    found = set(changed)
    for label in set(changed).difference(silent):
        for near in campus.neighbours(label):
            if near in campus.models_of:
                found |= {near, *(far for far in campus.neighbours(near) if far in campus.models_of)}
            elif rewired:
                found.add(near)
    return tuple(sorted(found))
