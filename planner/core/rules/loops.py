"""The longest way through wiring that closes loops."""

from collections import defaultdict, deque
from collections.abc import Sequence

SEARCHED_LOOPS = 2
SEARCHED_WIRES = 60  # two loops with more runs than that are not worth the search

Wires = Sequence[tuple[int, int, float]]
_Links = dict[
    int, dict[int, tuple[int, float]]
]  # of each vertex: its wires, each with the vertex at its other end and length


def is_searched(loops: int, wires: int) -> bool:
    """Tell whether the longest way is searched, or all wire is taken, which no way can exceed."""
    return loops <= 1 or (loops <= SEARCHED_LOOPS and wires <= SEARCHED_WIRES)


def longest_way_m(wires: Wires, loops: int) -> float:
    """Return the longest way between two vertices that passes none twice [m], all wire where that is not searched.

    A way without repeats leaves out at least one wire of every loop, so that of two loops one can be cut open first.

    Examples
    --------
    A ring of four runs of 10 m: three of them in a row.

    >>> longest_way_m([(0, 1, 10.0), (1, 2, 10.0), (2, 3, 10.0), (3, 0, 10.0)], 1)
    30.0

    """
    if not is_searched(loops, len(wires)):
        return float(sum(length for _, _, length in wires))
    if loops <= 1:
        return _one_loop_m(wires)
    return max(
        longest_way_m([*wires[:place], *wires[place + 1 :]], loops - 1)
        for place, (tail, head, _) in enumerate(wires)
        if tail == head or _joined_without(wires, place)
    )


def _linked(wires: Wires) -> _Links:
    """Return the wires at each vertex; one that ends where it begins is part of no way."""
    links: _Links = defaultdict(dict)
    for number, (tail, head, length) in enumerate(wires):
        if tail != head:
            links[tail][number] = head, length
            links[head][number] = tail, length
    return links


def _joined_without(wires: Wires, place: int) -> bool:
    links = _linked([*wires[:place], *wires[place + 1 :]])
    start, goal, _ = wires[place]
    seen, ahead = {start}, [start]
    while ahead:
        further = {other for other, _ in links[ahead.pop()].values()} - seen
        seen |= further
        ahead += further
    return goal in seen


def _one_loop_m(wires: Wires) -> float:
    """Return the longest way where nothing, or one ring, is closed: branches are taken off first, then it goes round."""
    links = _linked(wires)
    depth_m: dict[int, float] = defaultdict(float)  # the longest branch that was taken off at a vertex
    longest = 0.0
    bare = deque(vertex for vertex, ways in links.items() if len(ways) == 1)
    while bare:
        vertex = bare.popleft()
        if not links[vertex]:
            continue
        ((number, (other, length)),) = links.pop(vertex).items()
        del links[other][number]
        reach = depth_m[vertex] + length
        longest = max(longest, depth_m[other] + reach)
        depth_m[other] = max(depth_m[other], reach)
        if len(links[other]) == 1:
            bare.append(other)
    ring = [vertex for vertex, ways in links.items() if ways]
    return max(longest, _round_m(links, ring[0], depth_m)) if ring else longest


def _round_m(links: _Links, start: int, depth_m: dict[int, float]) -> float:
    """Return the longest way along a ring and into the branches at it, by going round once.

    From one vertex to a later one there are two ways: on, by `at`, and back, by what is left of the ring.
    """
    longest, at = 0.0, 0.0
    before, behind = depth_m[start], depth_m[start]  # the best start for going on, less `at`; for going back, with it
    vertex, (number, (other, length)) = start, next(iter(links[start].items()))
    ring_m = _length_round_m(links, start)
    while other != start:
        at += length
        depth = depth_m[other]
        longest = max(longest, before + at + depth, behind + ring_m - at + depth)
        before, behind = max(before, depth - at), max(behind, depth + at)
        vertex, last = other, number
        number, (other, length) = next((one, way) for one, way in links[vertex].items() if one != last)
    return longest


def _length_round_m(links: _Links, start: int) -> float:
    seen, total, ahead = {start}, 0.0, [start]
    while ahead:
        ways = links[ahead.pop()].values()
        total += sum(length for _, length in ways)
        further = {other for other, _ in ways} - seen
        seen |= further
        ahead += further
    return total / 2.0
