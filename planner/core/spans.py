"""Half-open spans of whole minutes as sorted arrays: the arithmetic under calendars and windows.

A set of spans is an int64 array of shape (n, 2), rows (start, end) with start < end, sorted, neither touching nor
overlapping. Minutes count from 1970-01-01 00:00 UTC (or local, where the name says `wall`).
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

Spans = NDArray[np.int64]


def empty() -> Spans:
    """Return the set without a span."""
    return np.empty((0, 2), dtype=np.int64)


def merge(spans: Iterable[tuple[int, int]] | Spans) -> Spans:
    """Return the union of any spans as a set.

    Parameters
    ----------
    spans : pairs or int array, shape (n, 2)
        Start and end [min], in any order; those that do not end after their start are nothing.

    Returns
    -------
    numpy.ndarray, shape (m, 2)
        Sorted, apart from each other.

    Examples
    --------
    >>> merge([(30, 40), (0, 10), (10, 20), (5, 5)]).tolist()
    [[0, 20], [30, 40]]

    """
    rows = np.asarray(spans if isinstance(spans, np.ndarray) else list(spans), dtype=np.int64).reshape(-1, 2)
    rows = rows[rows[:, 1] > rows[:, 0]]
    if not len(rows):
        return empty()
    rows = rows[np.lexsort((rows[:, 1], rows[:, 0]))]
    reach = np.maximum.accumulate(rows[:, 1])
    first = np.concatenate(([True], rows[1:, 0] > reach[:-1]))
    last = np.concatenate((np.flatnonzero(first)[1:] - 1, [len(rows) - 1]))
    return np.column_stack((rows[first, 0], reach[last]))


def complement(spans: Spans, start: int, end: int) -> Spans:
    """Return what a set leaves of [start, end) [min].

    Examples
    --------
    >>> complement(merge([(10, 20)]), 0, 30).tolist()
    [[0, 10], [20, 30]]

    """
    edges = np.concatenate(([start], np.clip(spans, start, end).ravel(), [end])).reshape(-1, 2)
    return edges[edges[:, 1] > edges[:, 0]]


def meet(rows: Spans, spans: Spans) -> tuple[Spans, NDArray[np.intp]]:
    """Return every piece that a row shares with a set, and the row it comes from.

    Parameters
    ----------
    rows : int array, shape (n, 2)
        Spans [min]; they may overlap each other.
    spans : int array, shape (m, 2)
        A set of spans [min].

    Returns
    -------
    pieces : int array, shape (k, 2)
        Shared spans [min], by row and then by time.
    row : int array, shape (k,)
        Position of the row each piece comes from.

    Examples
    --------
    >>> pieces, row = meet(merge([(0, 15), (18, 40)]), merge([(10, 20), (30, 50)]))
    >>> pieces.tolist(), row.tolist()
    ([[10, 15], [18, 20], [30, 40]], [0, 1, 1])

    """
    low = np.searchsorted(spans[:, 1], rows[:, 0], side="right")
    high = np.searchsorted(spans[:, 0], rows[:, 1], side="left")
    count = np.maximum(high - low, 0)
    row = np.repeat(np.arange(len(rows)), count)
    offset = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    taken = spans[np.repeat(low, count) + offset]
    start = np.maximum(rows[row, 0], taken[:, 0])
    end = np.minimum(rows[row, 1], taken[:, 1])
    return np.column_stack((start, end)), row


def both(one: Spans, other: Spans) -> Spans:
    """Return the minutes that lie in two sets.

    Examples
    --------
    >>> both(merge([(0, 10)]), merge([(5, 20)])).tolist()
    [[5, 10]]

    """
    return meet(one, other)[0]
