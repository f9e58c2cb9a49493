"""Rows: what any choice of options must satisfy whatever the starts are, as plain sums.

The limits of the network are rows already. The rows made here follow from time: what is done by one resource, or in
one capacity, within a span cannot need more than the span. They cut the relaxation that bounds a plan, and help the
exact search. Each also comes in the rounded forms of the dual-feasible functions
u_k(x) = x if (k + 1) x is whole, else floor((k + 1) x) / k.

References
----------
Fekete, S. P. and Schepers, J. (2001): New classes of fast lower bounds for bin packing problems. Mathematical
Programming 91, 11-31.

"""

from collections import defaultdict
from collections.abc import Iterable, Iterator

from planner.core.schedule.tasks import Capacity, Limit, Network, usable

ROUNDINGS = (1, 2, 3, 4)
SPANS_PER_BLOCK = 4  # distinct spans looked at within one block of overlapping spans
Item = tuple[int, int, int, int, int]  # task, option, from, to, size


def choice_rows(network: Network) -> tuple[Limit, ...]:
    """Return the network's limits and all rows that follow from time."""
    rows = list(network.limits)
    for name, items in sorted(_resource_items(network).items()):
        rows.extend(_rows_of(name, items, 1))
    for capacity in network.capacities:
        rows.extend(_rows_of(capacity.name, _capacity_items(network, capacity), capacity.limit))
    return tuple(rows)


def meeting_rows(network: Network) -> tuple[Limit, ...]:
    """Return the network's limits and the rows that follow where several resources meet: in capacities and in order."""
    rows = list(network.limits)
    for capacity in network.capacities:
        rows.extend(_rows_of(capacity.name, _capacity_items(network, capacity), capacity.limit))
    for before, after in network.precedence:
        rows.extend(_order_rows(network, before, after))
    return tuple(rows)


def _order_rows(network: Network, before: int, after: int) -> Iterator[Limit]:
    """Yield for each end of an option of `after`: who ends by then needs the other in time for it."""
    first, second = network.tasks[before], network.tasks[after]
    name = f"{first.key} before {second.key}"
    for end in sorted({second.options[number].end for number in usable(second)}):
        latest = end - second.duration - first.duration
        late = [(after, number, 1) for number in usable(second) if second.options[number].end <= end]
        early = [(before, number, -1) for number in usable(first) if first.options[number].start <= latest]
        yield Limit(name=name, limit=0, terms=(*late, *early))


def rounded(size: int, length: int, k: int) -> int:
    """Return k x length x u_k(size / length), a whole number.

    Examples
    --------
    >>> [rounded(size, 10, 1) for size in (4, 5, 6)]  # under half counts nothing, over half a whole
    [0, 5, 10]

    """
    if (k + 1) * size % length == 0:
        return k * size
    return (k + 1) * size // length * length


def blocks(items: Iterable[Item]) -> Iterator[list[Item]]:
    """Yield the items in groups whose spans overlap, so that groups share no moment."""
    group: list[Item] = []
    end = None
    for item in sorted(items, key=lambda item: (item[2], item[3], item[0], item[1])):
        if end is not None and item[2] >= end:
            yield group
            group, end = [], None
        group.append(item)
        end = item[3] if end is None else max(end, item[3])
    if group:
        yield group


def _resource_items(network: Network) -> dict[str, list[Item]]:
    items: dict[str, list[Item]] = defaultdict(list)
    for index, task in enumerate(network.tasks):
        for number in usable(task):
            option = task.options[number]
            if option.resource is not None:
                items[option.resource].append((index, number, option.start, option.end, task.duration))
    return items


def _capacity_items(network: Network, capacity: Capacity) -> list[Item]:
    items = []
    for use in capacity.uses:
        task = network.tasks[use.task]
        size = (task.duration - use.lead - use.tail) * use.amount
        for number in usable(task):
            option = task.options[number]
            if size > 0:
                items.append((use.task, number, option.start + use.lead, option.end - use.tail, size))
    return items


def _rows_of(name: str, items: list[Item], limit: int) -> Iterator[Limit]:
    for block in blocks(items):
        for start, end in _spans(block):
            inside = [item for item in block if item[2] >= start and item[3] <= end]
            yield from _span_rows(name, inside, end - start, limit)


def _spans(block: list[Item]) -> list[tuple[int, int]]:
    hull = (min(item[2] for item in block), max(item[3] for item in block))
    counts: dict[tuple[int, int], int] = defaultdict(int)
    for item in block:
        counts[item[2], item[3]] += 1
    often = sorted(counts, key=lambda span: (-counts[span], span))[:SPANS_PER_BLOCK]
    return sorted({hull, *often})


def _span_rows(name: str, items: list[Item], length: int, limit: int) -> Iterator[Limit]:
    tasks = {item[0]: item[4] for item in items}
    if sum(tasks.values()) <= length * limit:
        return
    yield _row(name, items, [item[4] for item in items], length * limit)
    if limit == 1:
        for k in ROUNDINGS:
            yield _row(name, items, [rounded(item[4], length, k) for item in items], k * length)


def _row(name: str, items: list[Item], sizes: list[int], limit: int) -> Limit:
    terms = tuple((item[0], item[1], size) for item, size in zip(items, sizes, strict=True) if size > 0)
    return Limit(name=name, limit=limit, terms=terms)
