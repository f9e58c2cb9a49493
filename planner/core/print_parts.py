"""Many work packs as one print, in parts of as many orders as a page may weigh.

What a pack will weigh is reckoned before it is written, from above: its words, and for each table row and each drawing the
most that they were seen to take. A pack heavier than a part stands alone.
"""

from collections.abc import Sequence

from planner.core.workpack import WorkPack

MOST_BYTES = 90_000  # of the packs of one part; head and foot of the page come on top
PACK, SEGMENT, STATION, STEP, SETTING = 3_600, 6_600, 2_000, 150, 110  # bytes beside the words


def weight_of(pack: WorkPack) -> int:
    """Return what the print of a pack weighs at most [bytes]."""
    words = sum(len(step.text.encode()) + len(step.where.encode()) for step in pack.steps)
    words += sum(len(f"{one.station}{one.kind}{one.key}{one.label}{one.what}".encode()) for one in pack.settings)
    rows = STEP * len(pack.steps) + SETTING * len(pack.settings)
    return PACK + SEGMENT * len(pack.order.segments) + STATION * len(pack.order.stations) + rows + words


def parts_of(weights: Sequence[int], most: int = MOST_BYTES) -> tuple[range, ...]:
    """Return the places of the packs of each part, in their order.

    Examples
    --------
    >>> parts_of([30, 40, 50, 200, 10, 10], 100)
    (range(0, 2), range(2, 3), range(3, 4), range(4, 6))
    >>> parts_of([])
    ()

    """
    parts: list[range] = []
    begin = held = 0
    for place, weight in enumerate(weights):
        if place > begin and held + weight > most:
            parts.append(range(begin, place))
            begin, held = place, 0
        held += weight
    return (*parts, range(begin, len(weights))) if weights else ()
