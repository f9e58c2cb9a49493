"""Which segments share an order by a planner's choice, and why a choice does not hold.

A choice holds where its parts can be told apart and each can be one order: of one building, without a gateway between
two parts, and within the longest outage. Where a later choice contradicts an earlier one, the later one falls.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from itertools import combinations, product

from planner.core.choices import Refusal, Sharing
from planner.core.grouping import Apart, Limits, Piece, fits, join

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What choices are held against: pieces with their building and segments, and what gateway makes each one piece."""

    pieces: tuple[Piece, ...]
    buildings: tuple[str, ...]
    segments: tuple[tuple[str, ...], ...]
    gateways: tuple[str, ...]  # "" where a piece is one segment
    limits: Limits

    @property
    def place(self) -> Mapping[str, int]:
        """Return the piece of each segment."""
        return {segment: at for at, own in enumerate(self.segments) for segment in own}


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The choices that hold, as pieces: those that are one, and pairs that stay apart; and why others do not."""

    bundles: tuple[tuple[int, ...], ...]
    apart: Apart
    refused: tuple[Refusal, ...]


@dataclass(slots=True, kw_only=True)
class _Kept:
    """What was held so far: the bundle of each piece, and pairs of pieces apart with the choice that parts them."""

    bundle: dict[int, frozenset[int]]
    apart: dict[Pair, str] = field(default_factory=dict)


def hold(ground: Ground, sharings: Sequence[Sharing]) -> Held:
    """Return what of a planner's choices holds, the oldest first; segments that no order converts are passed over."""
    kept = _Kept(bundle={at: frozenset({at}) for at in range(len(ground.pieces))})
    refused = []
    place = ground.place
    for sharing in sharings:
        parts = [tuple(sorted({place[key] for key in part if key in place})) for part in sharing.parts]
        parts = [part for part in parts if part]
        why = next(_faults(ground, kept, parts), None)
        if why is not None:
            refused.append(Refusal(about=sharing.name, why=why))
            continue
        _keep(kept, parts, sharing.name)
        if sharing.alone:
            _keep_alone(kept, parts, sharing.name)
    bundles = {min(bundle): tuple(sorted(bundle)) for bundle in kept.bundle.values()}
    return Held(
        bundles=tuple(bundles[first] for first in sorted(bundles)), apart=frozenset(kept.apart), refused=tuple(refused)
    )


def _keep(kept: _Kept, parts: Sequence[tuple[int, ...]], name: str) -> None:
    for part in parts:
        whole = _whole(kept, part)
        kept.bundle.update(dict.fromkeys(whole, whole))
    for one, other in combinations(parts, 2):
        kept.apart.update(dict.fromkeys(_pairs(one, other), name))


def _keep_alone(kept: _Kept, parts: Sequence[tuple[int, ...]], name: str) -> None:
    """Keep every other piece away from each part."""
    for part in parts:
        others = kept.bundle.keys() - _whole(kept, part)
        kept.apart.update(dict.fromkeys(_pairs(part, sorted(others)), name))


def _whole(kept: _Kept, part: Sequence[int]) -> frozenset[int]:
    """Return the pieces of a part with all that earlier choices put with them."""
    return frozenset().union(*(kept.bundle[at] for at in part))


def _pairs(one: Sequence[int], other: Sequence[int]) -> Iterator[Pair]:
    return ((min(pair), max(pair)) for pair in product(one, other))


def _faults(ground: Ground, kept: _Kept, parts: Sequence[tuple[int, ...]]) -> Iterator[str]:
    """Yield in words why a choice cannot hold."""
    for one, other in combinations(parts, 2):
        for at in set(one) & set(other):
            segments = " and ".join(ground.segments[at])
            yield f"{segments} hang on gateway {ground.gateways[at]}, which is changed once: they share one outage."
        both = _whole(kept, one) & _whole(kept, other)
        if both:
            yield f"An earlier choice keeps {_named(ground, sorted(both)[:1])} together with segments of both parts."
    for part in parts:
        yield from _faults_of(ground, kept, sorted(_whole(kept, part)))


def _faults_of(ground: Ground, kept: _Kept, whole: Sequence[int]) -> Iterator[str]:
    """Yield why some pieces cannot be one order."""
    if len(whole) == 1:
        return
    places = sorted({ground.buildings[at] for at in whole})
    if len(places) > 1:
        yield f"{_named(ground, whole)} are in {len(places)} buildings ({', '.join(places)}); an order is work in one."
    parted = next((pair for pair in combinations(whole, 2) if pair in kept.apart), None)
    if parted is not None:
        yield f"An earlier choice keeps {_named(ground, parted[:1])} and {_named(ground, parted[1:])} apart."
    joined, limits = reduce(join, (ground.pieces[at] for at in whole)), ground.limits
    if joined.dated and not fits(joined, limits):
        onsite_min = joined.dark_min + joined.live_min + limits.setup_and_restore_min
        is_dark = joined.dark_min > limits.longest_dark_min
        took, most = (joined.dark_min, limits.longest_dark_min) if is_dark else (onsite_min, limits.longest_onsite_min)
        what = "the longest outage is" if is_dark else "the longest stay is"
        yield f"Together {_named(ground, whole)} take {took} min, {what} {most} min."


def _named(ground: Ground, places: Sequence[int]) -> str:
    names = [segment for at in places for segment in ground.segments[at]]
    return ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1]
