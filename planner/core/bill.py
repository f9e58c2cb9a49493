"""The parts of an order (gross), and the old units it frees.

A line of a method counts once for each station under the method. Where the stations of one segment fall under several
methods, what those list per cable end, segment, gateway or order is one and the same piece of work: the larger
quantity counts, never both.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from inventory.core.catalogue import Method
from planner.core.plans import PartNeed

LARGER_SUPPLY = "larger supply"


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentWork:
    """What one segment takes: `stations` are (old model, its method), `gateways` and `supplies` (node, model or None)."""

    segment: str
    stations: tuple[tuple[str, Method], ...]
    gateways: tuple[tuple[str, str | None], ...]
    supplies: tuple[tuple[str, str | None], ...]
    cable_ends: int
    extras: tuple[str, ...]

    @property
    def methods(self) -> tuple[Method, ...]:
        """Each method once, sorted by key."""
        return tuple(
            sorted({method.key: method for _, method in self.stations}.values(), key=lambda method: method.key)
        )


def bill(works: tuple[SegmentWork, ...], model_parts: dict[str, str | None]) -> tuple[PartNeed, ...]:
    """Return the parts that the segments of one order take together.

    Parameters
    ----------
    works : tuple of SegmentWork
        The segments.
    model_parts : dict
        Part of each model, to leave out a new gateway where the new model is in place already.

    Returns
    -------
    tuple of PartNeed
        One for each part, sorted.

    """
    need: dict[str, Decimal] = defaultdict(Decimal)
    for work in works:
        for part, quantity in _of_segment(work):
            need[part] += quantity
    for part, quantity in (*_of_gateways(works, model_parts), *_of_order(works)):
        need[part] += quantity
    return tuple(PartNeed(part=part, quantity=quantity) for part, quantity in sorted(need.items()) if quantity)


def added(*needs: tuple[PartNeed, ...]) -> tuple[PartNeed, ...]:
    """Return several lists of parts as one, sorted.

    Examples
    --------
    >>> added((PartNeed(part="B", quantity=Decimal(1)),), (PartNeed(part="B", quantity=Decimal(2)),))
    (PartNeed(part='B', quantity=Decimal('3')),)

    """
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for need in (need for some in needs for need in some):
        sums[need.part] += need.quantity
    return tuple(PartNeed(part=part, quantity=quantity) for part, quantity in sorted(sums.items()))


def _listed(methods: Iterable[Method], per: str, extras: tuple[str, ...]) -> dict[str, Decimal]:
    """Return the largest quantity that any of the methods lists of each part, for what it is counted by."""
    found: dict[str, Decimal] = {}
    for method in methods:
        own: dict[str, Decimal] = defaultdict(Decimal)
        for line in method.parts:
            if line.per == per and line.when in ("always", *extras):
                own[line.part] += line.quantity
        for part, quantity in own.items():
            found[part] = max(found.get(part, quantity), quantity)
    return found


def _of_segment(work: SegmentWork) -> Iterator[tuple[str, Decimal]]:
    for _, method in work.stations:
        yield from _listed((method,), "station", work.extras).items()
    for part, quantity in _listed(work.methods, "cable end", work.extras).items():
        yield part, quantity * work.cable_ends
    yield from _listed(work.methods, "segment", work.extras).items()


def _of_gateways(works: tuple[SegmentWork, ...], model_parts: dict[str, str | None]) -> Iterator[tuple[str, Decimal]]:
    """Yield parts for each gateway once, however many of the segments hang on it."""
    for gateway in sorted({name for work in works for name, _ in work.gateways}):
        found: dict[str, Decimal] = {}
        for work in works:
            model = dict(work.gateways).get(gateway, "")
            if model == "":
                continue
            in_place = {model_parts.get(model or "") for method in work.methods if method.new_gateway_model == model}
            for part, quantity in _listed(work.methods, "gateway", work.extras).items():
                if part not in in_place:
                    found[part] = max(found.get(part, quantity), quantity)
        yield from found.items()


def _of_order(works: tuple[SegmentWork, ...]) -> Iterator[tuple[str, Decimal]]:
    found: dict[str, Decimal] = {}
    for work in works:
        for part, quantity in _listed(work.methods, "order", work.extras).items():
            found[part] = max(found.get(part, quantity), quantity)
    yield from found.items()


def freed_units(works: tuple[SegmentWork, ...]) -> tuple[tuple[str, int], ...]:
    """Return the units that go back to the shelf, by model: old stations, exchanged gateways, outgrown supplies."""
    counts = Counter(model for work in works for model, _ in work.stations)
    exchanged: dict[str, str | None] = {}
    for work in works:
        new = {method.new_gateway_model for method in work.methods} - {None}
        exchanged |= {name: model for name, model in work.gateways if new and model not in new}
        if LARGER_SUPPLY in work.extras:
            exchanged |= dict(work.supplies)
    counts.update(model for model in exchanged.values() if model is not None)
    return tuple(sorted(counts.items()))
