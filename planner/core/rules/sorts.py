"""Standards that publish lengths of their own for each sort of cable: which sort a cable is, and whether a row holds for it."""

from collections.abc import Iterator
from functools import cache

from inventory.core.catalogue import Cable, ProtocolRow
from inventory.core.limits import DENSITY, MIXED, SECTION, SORTS_OF, Sort
from inventory.core.standards import open_standards
from planner.core.rules.answers import say
from planner.core.rules.columns import area_mm2, data_mm2

LENGTHS = ("longest_bus_m", "farthest_pair_m", "total_wire_m")


def sort_doubts(row: ProtocolRow, cable: Cable) -> Iterator[str]:
    """Yield what is not known where lengths differ by the sort of cable, and may be less than the row's for this one.

    A cable counts as the thickest sort that is no thicker than it. Its category is not looked at: a blank one does
    not say that it is none.
    """
    sorts = SORTS_OF.get(row.protocol)
    if sorts is None:
        return
    area = data_mm2(cable)
    if area is None:
        yield f"Data conductor of cable {cable.key}"
        return
    fitting = [sort for sort in sorts if sort.least_mm2 <= area]
    if not fitting:
        yield f"Longest line of {row.protocol} on cable {cable.key}, thinner than {say(sorts[0].least_mm2, 'mm2')}"
    elif not _holds(row, fitting[-1]) and not (is_mixed(row, cable) and _carries_no_more(cable, fitting[-1])):
        yield f"Longest line of {row.protocol} on cable {cable.key}, which counts as {fitting[-1].protocol}"


def times_longer(row: ProtocolRow) -> float | None:
    """Return how many metres of a row's own sort of cable a metre of the other stands for in one trunk; None: never mixed."""
    other = _standards().get((MIXED.get(row.protocol, ""), row.bit_rate_kbit_s))
    if other is None or not row.longest_bus_m or not other.longest_bus_m:
        return None
    return max(row.longest_bus_m / other.longest_bus_m, 1.0)


def is_mixed(row: ProtocolRow, cable: Cable) -> bool:
    """Tell whether a cable is of the other sort that a trunk under a row may be of in part."""
    area, sorts = data_mm2(cable), SORTS_OF.get(row.protocol, ())
    fitting = [sort.protocol for sort in sorts if area is not None and sort.least_mm2 <= area]
    return bool(fitting) and fitting[-1] == MIXED.get(row.protocol) and times_longer(row) is not None


def _carries_no_more(cable: Cable, sort: Sort) -> bool:
    """Tell whether the conductors of a cable are held to what the sort may carry, whatever the row."""
    area, limit = area_mm2(cable), SECTION.get(sort.protocol)
    return (
        limit is None
        or not cable.power_pairs
        or (area is not None and area * DENSITY.value * cable.power_pairs <= limit.value)
    )


def _holds(row: ProtocolRow, sort: Sort) -> bool:
    """Tell whether the lengths of a row are no more than a sort of cable allows."""
    if sort.protocol == row.protocol:
        return True
    other = _standards().get((sort.protocol, row.bit_rate_kbit_s))
    return other is not None and all(_within(getattr(row, name), getattr(other, name)) for name in LENGTHS)


def _within(own: float | None, other: float | None) -> bool:
    return own is None or (other is not None and own <= other)


@cache
def _standards() -> dict[tuple[str, float | None], ProtocolRow]:
    return {(row.protocol, row.bit_rate_kbit_s): row for row in open_standards()}
