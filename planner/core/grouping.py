"""Which segments share an outage: the grouping with the least outage cost, call-outs and dark rooms.

Pieces are what must stay together. Two groups may share an order when a room, a panel or a floor links them and the
work still fits. A grouping is better if it costs less money (dark room-hours at the brief's rate, and call-outs), with
equal money if rooms are dark for fewer room-minutes, and then if rooms go dark fewer times. Linked pieces up to
EXACT_PIECES are grouped by trying every grouping, more by joining the pair that saves most, again and again.
"""

import heapq
from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations, product

EXACT_PIECES = 8
Score = tuple[Decimal, int, int]
Apart = frozenset[tuple[int, int]]  # pairs of pieces, the lower first, that share no group
NONE_APART: Apart = frozenset()
Group = tuple[int, ...]
Link = Hashable


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What must share an order: its rooms, what links it to others, minutes dark and on site beside that."""

    rooms: frozenset[tuple[str, str]]
    links: frozenset[Link]
    dark_min: int
    live_min: int
    dated: bool = True  # False: its minutes are not known, so it is joined to nothing by choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a group must keep to, and what it costs."""

    longest_dark_min: int
    longest_onsite_min: int
    setup_and_restore_min: int
    outage_rate: Decimal
    call_out: Decimal


def join(one: Piece, other: Piece) -> Piece:
    """Return two pieces as one."""
    return Piece(
        rooms=one.rooms | other.rooms,
        links=one.links | other.links,
        dark_min=one.dark_min + other.dark_min,
        live_min=one.live_min + other.live_min,
        dated=one.dated and other.dated,
    )


def group_pieces(pieces: tuple[Piece, ...], limits: Limits, apart: Apart = NONE_APART) -> tuple[Group, ...]:
    """Return the groups, as sorted positions of their pieces, sorted by the first.

    Parameters
    ----------
    pieces : tuple of Piece
        What must stay together, in a fixed order.
    limits : Limits
        Longest outage and stay [min], and the prices that are weighed.
    apart : frozenset of (int, int), optional
        Pairs of pieces that share no group.

    Examples
    --------
    >>> room = frozenset({("B", "1")})
    >>> piece = Piece(rooms=room, links=frozenset({("room", "B", "1")}), dark_min=60, live_min=0)
    >>> limits = Limits(longest_dark_min=120, longest_onsite_min=480, setup_and_restore_min=30,
    ...                 outage_rate=Decimal(0), call_out=Decimal(0))
    >>> group_pieces((piece, piece, piece), limits)
    ((0,), (1, 2))

    """
    found: list[Group] = []
    for together in linked([piece.links for piece in pieces]):
        exact = len(together) <= EXACT_PIECES
        found += _exact(pieces, together, limits, apart) if exact else _greedy(pieces, together, limits, apart)
    return tuple(sorted(found))


def score(piece: Piece, limits: Limits) -> Score:
    """Return what one group costs: money, dark room-minutes, rooms that go dark."""
    room_min = len(piece.rooms) * piece.dark_min
    return limits.outage_rate * room_min / 60 + limits.call_out, room_min, len(piece.rooms)


def fits(piece: Piece, limits: Limits) -> bool:
    """Tell whether a group keeps to the longest outage and the longest stay."""
    onsite_min = piece.dark_min + piece.live_min + limits.setup_and_restore_min
    return piece.dated and piece.dark_min <= limits.longest_dark_min and onsite_min <= limits.longest_onsite_min


def _sum(scores: Iterable[Score]) -> Score:
    money, room_min, rooms = Decimal(0), 0, 0
    for one in scores:
        money, room_min, rooms = money + one[0], room_min + one[1], rooms + one[2]
    return money, room_min, rooms


def linked(links: Sequence[Collection[Link]]) -> list[Group]:
    """Return the positions whose links join them, directly or by way of others.

    Examples
    --------
    >>> linked([("a",), ("b",), ("a", "c"), ()])
    [(0, 2), (1,), (3,)]

    """
    root = list(range(len(links)))

    def find(at: int) -> int:
        while root[at] != at:
            root[at] = root[root[at]]
            at = root[at]
        return at

    first: dict[Link, int] = {}
    for at, own in enumerate(links):
        for link in own:
            root[find(at)] = find(first.setdefault(link, at))
    groups: dict[int, list[int]] = defaultdict(list)
    for at in range(len(links)):
        groups[find(at)].append(at)
    return [tuple(group) for group in groups.values()]


def _exact(pieces: tuple[Piece, ...], together: Group, limits: Limits, apart: Apart) -> list[Group]:
    """Return the best grouping of a few pieces: over all groups that hold the first piece left, the best of the rest."""
    whole: dict[int, Piece] = {}
    for mask in range(1, 1 << len(together)):
        rest = mask & (mask - 1)
        own = pieces[together[(mask ^ rest).bit_length() - 1]]
        whole[mask] = join(own, whole[rest]) if rest else own
    allowed = {
        mask: score(piece, limits)
        for mask, piece in whole.items()
        if mask & (mask - 1) == 0 or (fits(piece, limits) and _may_share(pieces, _members(mask, together), apart))
    }
    best: dict[int, tuple[Score, tuple[int, ...]]] = {0: ((Decimal(0), 0, 0), ())}
    for mask in range(1, 1 << len(together)):
        first = mask & -mask
        options = (part for part in _parts(mask ^ first, first) if part in allowed)
        best[mask] = min(
            (_sum((allowed[part], best[mask ^ part][0])), (part, *best[mask ^ part][1])) for part in options
        )
    return [_members(part, together) for part in best[(1 << len(together)) - 1][1]]


def _parts(rest: int, first: int) -> Iterable[int]:
    """Yield every subset of `rest` with `first` added."""
    part = rest
    while True:
        yield part | first
        if not part:
            return
        part = (part - 1) & rest


def _members(mask: int, together: Group) -> Group:
    return tuple(at for bit, at in enumerate(together) if mask >> bit & 1)


def _may_share(pieces: tuple[Piece, ...], members: Group, apart: Apart) -> bool:
    is_linked = len(linked([pieces[at].links for at in members])) == 1
    return is_linked and not any(pair in apart for pair in combinations(members, 2))


def _greedy(pieces: tuple[Piece, ...], together: Group, limits: Limits, apart: Apart) -> list[Group]:
    """Join the pair of groups that saves most until none saves; the earlier pair where two save the same."""
    groups: dict[int, tuple[Group, Piece]] = {at: ((at,), pieces[at]) for at in together}
    heap = [entry for pair in combinations(together, 2) if (entry := _saving(groups, *pair, limits, apart))]
    heapq.heapify(heap)
    fresh = max(together) + 1
    while heap:
        _, one, other = heapq.heappop(heap)
        if one not in groups or other not in groups:
            continue
        (members, piece), (more, added) = groups.pop(one), groups.pop(other)
        groups[fresh] = (tuple(sorted(members + more)), join(piece, added))
        for at in sorted(groups.keys() - {fresh}):
            if entry := _saving(groups, at, fresh, limits, apart):
                heapq.heappush(heap, entry)
        fresh += 1
    return [members for members, _ in groups.values()]


def _saving(
    groups: dict[int, tuple[Group, Piece]], one: int, other: int, limits: Limits, apart: Apart
) -> tuple[Score, int, int] | None:
    """Return (cost of joining, below zero: what it saves; the two), None if they may not or it saves nothing."""
    (own, first), (theirs, second) = groups[one], groups[other]
    if first.links.isdisjoint(second.links) or not fits(joined := join(first, second), limits):
        return None
    if any((min(pair), max(pair)) in apart for pair in product(own, theirs)):
        return None
    before, after = _sum((score(first, limits), score(second, limits))), score(joined, limits)
    change = after[0] - before[0], after[1] - before[1], after[2] - before[2]
    return (change, one, other) if change < (0, 0, 0) else None
