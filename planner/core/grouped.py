"""Columns in groups: where groups begin, rows of chosen groups, sorting by group, each value once, groups that hang together."""

import numpy as np
from numpy.typing import NDArray

from planner.core.compiled import compiled

Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]


def spread(first: Longs, chosen: Longs) -> tuple[Longs, Longs, Longs]:
    """Return the rows of each chosen group, the number of its copy, and where each copy begins.

    Examples
    --------
    >>> [part.tolist() for part in spread(np.array([0, 2, 5]), np.array([1, 0]))]
    [[2, 3, 4, 0, 1], [0, 0, 0, 1, 1], [0, 3, 5]]

    """
    begins = begins_of(first[chosen + 1] - first[chosen])
    return *_spread(first, chosen, begins), begins


@compiled
def _spread(first: Longs, chosen: Longs, begins: Longs) -> tuple[Longs, Longs]:
    rows, copy = np.empty(begins[-1], np.int64), np.empty(begins[-1], np.int64)
    for place in range(chosen.size):
        shift = first[chosen[place]] - begins[place]
        for row in range(begins[place], begins[place + 1]):
            rows[row], copy[row] = row + shift, place
    return rows, copy


def begins_of(sizes: Longs) -> Longs:
    """Return where each of several groups in a row begins, and the end of the last."""
    begins = np.zeros(len(sizes) + 1, dtype=np.int64)
    np.cumsum(sizes, out=begins[1:])
    return begins


def distinct(values: Longs) -> Longs:
    """Return each value once, sorted; four times faster than to hash them.

    Examples
    --------
    >>> distinct(np.array([3, 1, 3])).tolist()
    [1, 3]

    """
    ordered = np.sort(values)
    first: NDArray[np.bool_] = np.append(True, ordered[1:] != ordered[:-1])[: len(ordered)]
    return ordered[first]


def order_by(label: Longs, count: int) -> Longs:
    """Return the order that sorts rows by label and leaves equals as they are; labels run from 0 to `count` - 1."""
    return sorted_by(label, count)[0]


def sorted_by(label: Longs, count: int) -> tuple[Longs, Longs]:
    """Return the order that sorts rows by label and leaves equals as they are, and the labels in that order."""
    if (label[1:] >= label[:-1]).all():
        return np.arange(len(label), dtype=np.int64), label
    return _counted(label, count)


@compiled
def _counted(label: Longs, count: int) -> tuple[Longs, Longs]:
    """Return the order that sorts rows by label and the labels in that order, by counting."""
    next_of = np.zeros(count + 1, np.int64)
    for one in label:
        next_of[one + 1] += 1
    for one in range(count):
        next_of[one + 1] += next_of[one]
    order, ordered = np.empty(label.size, np.int64), np.empty(label.size, np.int64)
    for row in range(label.size):
        at = next_of[label[row]]
        next_of[label[row]] += 1
        order[at], ordered[at] = row, label[row]
    return order, ordered


def components(count: int, tail: Longs, head: Longs) -> Longs:
    """Return the connected component of each of `count` vertices joined by edges tail to head."""
    return _joined(count, tail, head)


def closing(count: int, tail: Longs, head: Longs, asked: Flags) -> Longs:
    """Return the edges, of those asked about, that join what those before them join already; `asked` : bool[e].

    Examples
    --------
    >>> closing(3, np.array([0, 1, 2]), np.array([1, 2, 0]), np.array([True, True, True])).tolist()
    [2]

    """
    return np.flatnonzero(_closing(count, tail, head, asked))


@compiled
def _top(above: Longs, vertex: int) -> int:
    """Return the vertex that stands for the set of another, and shorten the way there."""
    while above[vertex] != vertex:
        above[vertex] = above[above[vertex]]
        vertex = above[vertex]
    return vertex


@compiled
def _closing(count: int, tail: Longs, head: Longs, asked: Flags) -> Flags:
    above = np.arange(count)
    closes = np.zeros(tail.size, np.bool_)
    for edge in range(tail.size):
        if asked[edge]:
            one, other = _top(above, tail[edge]), _top(above, head[edge])
            above[max(one, other)] = min(one, other)
            closes[edge] = one == other
    return closes


@compiled
def _joined(count: int, tail: Longs, head: Longs) -> Longs:
    """Join two sets edge by edge, and number them in the order of their first vertices."""
    above = np.arange(count)  # towards the first vertex of each set
    for edge in range(tail.size):
        one, other = _top(above, tail[edge]), _top(above, head[edge])
        above[max(one, other)] = min(one, other)
    label = np.empty(count, np.int64)
    sets = 0
    for vertex in range(count):
        if above[vertex] == vertex:
            label[vertex] = sets
            sets += 1
        else:
            label[vertex] = label[above[vertex]]
    return label
