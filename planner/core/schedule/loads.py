"""Loads: what one resource can do in one span, such as a crew in a night.

A task never spans two nights, so a plan is a choice of loads, and what a load earns is found exactly by looking at
one night alone: its tasks, the journeys between their places, and what the night and each place cost once. Priced
with the value that a relaxation puts on each task, the best loads give a far sharper bound than sums of hours
(column generation: the knapsack of each night is solved whole).

References
----------
Gilmore, P. C. and Gomory, R. E. (1961): A linear programming approach to the cutting-stock problem. Operations
Research 9, 849-859.

"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import gcd

import numpy as np
from numpy.typing import NDArray

from planner.core.schedule.rows import Item, blocks
from planner.core.schedule.tasks import Network, usable

Pair = tuple[int, int]  # task, option
Worth = NDArray[np.float64]
STATES = 240  # finest division of a span
LEAST_GAIN = 1e-6
MOST_ORDERED = 9  # tasks of one load whose order is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The items of one place: `fee` is paid once if the load has any of them, `lead` is the least travel to it."""

    fee: int
    lead: int
    items: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One span of one resource, and all spans just like it.

    Sizes, leads and `room` count in steps of time, cut off, and `room` has the lead of the first place added, so that
    whatever fits in time fits in steps. `fee` is paid once for any load, `far` comes before each cluster of places.
    `twins` are the (task, option) of the items in each of the like spans, the first being this one.
    """

    pairs: tuple[Pair, ...]
    sizes: tuple[int, ...]
    fee: int
    far: int
    room: int
    clusters: tuple[tuple[Group, ...], ...]
    twins: tuple[tuple[Pair, ...], ...]


def load_blocks(network: Network, rows_of: dict[Pair, tuple[tuple[int, int], ...]]) -> tuple[Block, ...]:
    """Return the spans of all resources; those in which the same could be done at the same price are one block.

    `rows_of` says with what amount each (task, option) stands in which row; spans that differ there are not alike.
    """
    maker = _Maker(network)
    alike: dict[object, list[Block]] = defaultdict(list)
    for items in _spans(network):
        block = maker.block(items)
        alike[maker.signature(block, rows_of)].append(block)
    return tuple(replace(same[0], twins=tuple(block.pairs for block in same)) for same in alike.values())


def best_load(block: Block, worth: Worth) -> tuple[float, tuple[int, ...]]:
    """Return the most that a load can earn less its fees, and its items; nothing where none earns anything.

    `worth` is what each item of the block earns; those that earn nothing are not taken.
    """
    table = _Table(block.room)
    for cluster in block.clusters:
        chosen = [(group, wanted) for group in cluster if (wanted := _wanted(group, worth))]
        if chosen:
            table.open(block.far, 0)
            for group, wanted in chosen:
                table.open(group.lead, group.fee)
                for item in wanted:
                    table.take(item, block.sizes[item], float(worth[item]))
                table.close()
            table.close()
    gain = table.best() - block.fee
    return (gain, table.items()) if gain > LEAST_GAIN else (0.0, ())


def loads_within(block: Block, worth: Worth, least: float, most: int) -> list[tuple[int, ...]] | None:
    """Return all loads that earn at least `least` (below zero: that lose no more), None if over `most` were looked at.

    A load that breaks a window or needs longer journeys than the least may be among them.
    """
    search = _Search(block, worth, least, most)
    search.go(0, block.room, -float(block.fee), (), (-1, -1))
    return search.found if search.left > 0 else None


def starts_of(network: Network, pairs: Iterable[Pair]) -> dict[int, int] | None:
    """Return starts at which one resource does all these tasks, each in its option; None if it cannot.

    Raises
    ------
    ValueError
        If there are more tasks than MOST_ORDERED.

    """
    some = tuple(sorted(pairs))
    if len(some) > MOST_ORDERED:
        message = f"The order of {len(some)} tasks is not looked for."
        raise ValueError(message)
    if len({task for task, _ in some}) < len(some):
        return None
    states: dict[tuple[int, int], tuple[int, tuple[tuple[int, int], ...]]] = {(0, -1): (-(2**60), ())}
    for _ in some:
        states = _one_more(network, some, states)
    return dict(min(states.values())[1]) if states else None


States = dict[tuple[int, int], tuple[int, tuple[tuple[int, int], ...]]]  # done, last: end, starts


def _one_more(network: Network, some: tuple[Pair, ...], states: States) -> States:
    """Return for each set of one task more and its last task the earliest end; no later end can be better."""
    grown: States = {}
    for (done, last), (end, starts) in states.items():
        for number, (task, option) in enumerate(some):
            if done >> number & 1:
                continue
            gap = network.gap(last, task) if last >= 0 else 0
            start = max(network.tasks[task].options[option].start, end + gap)
            ready = start + network.tasks[task].duration
            key = done | 1 << number, task
            if ready <= network.tasks[task].options[option].end and (key not in grown or ready < grown[key][0]):
                grown[key] = ready, (*starts, (task, start))
    return grown


def _spans(network: Network) -> Iterator[list[Item]]:
    by_resource: dict[str, list[Item]] = defaultdict(list)
    for index, task in enumerate(network.tasks):
        for number in usable(task):
            option = task.options[number]
            by_resource[option.resource or f"?{index}"].append((index, number, option.start, option.end, task.duration))
    for _, items in sorted(by_resource.items()):
        yield from blocks(items)


def _wanted(group: Group, worth: Worth) -> list[int]:
    wanted = [item for item in group.items if worth[item] > LEAST_GAIN]
    return wanted if sum(float(worth[item]) for item in wanted) > group.fee else []


class _Maker:
    """Makes blocks of spans: finds what is paid once, and how far places are apart."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._charges: dict[Pair, list[int]] = defaultdict(list)
        for number, charge in enumerate(network.charges):
            for pair in charge.terms:
                self._charges[pair].append(number)

    def block(self, items: list[Item]) -> Block:
        network = self._network
        ordered = sorted(items, key=lambda item: (item[0], item[1]))
        pairs = tuple((item[0], item[1]) for item in ordered)
        near, far, clusters = _distances(network, sorted({network.tasks[task].place for task, _ in pairs}))
        length = max(item[3] for item in items) - min(item[2] for item in items)
        step = max(gcd(length, near, far, *(item[4] for item in items)), -(-length // STATES), 1)
        places: dict[str, list[int]] = defaultdict(list)
        for position, (task, _) in enumerate(pairs):
            places[network.tasks[task].place].append(position)
        return Block(
            pairs=pairs,
            sizes=tuple(item[4] // step for item in ordered),
            fee=self._fee(set(pairs)),
            far=(far - near) // step,
            room=(length + far) // step,
            clusters=tuple(
                tuple(self._group([pairs[i] for i in places[place]], places[place], near // step) for place in cluster)
                for cluster in clusters
            ),
            twins=(pairs,),
        )

    def signature(self, block: Block, rows_of: dict[Pair, tuple[tuple[int, int], ...]]) -> object:
        """Return what two blocks have in common if they are alike."""
        costs = tuple(self._network.tasks[task].options[option].cost for task, option in block.pairs)
        spans = tuple(
            (task, self._network.tasks[task].options[option].start, self._network.tasks[task].options[option].end)
            for task, option in block.pairs
        )
        return replace(block, pairs=(), twins=()), spans, costs, tuple(rows_of.get(pair, ()) for pair in block.pairs)

    def _group(self, pairs: list[Pair], positions: list[int], lead: int) -> Group:
        return Group(fee=self._fee(set(pairs)), lead=lead, items=tuple(positions))

    def _fee(self, pairs: set[Pair]) -> int:
        """Return what is charged for any of the pairs and for nothing else; other charges are not counted here."""
        first = min(pairs)
        return sum(
            self._network.charges[number].cost
            for number in self._charges[first]
            if set(self._network.charges[number].terms) == pairs
        )


def _distances(network: Network, places: list[str]) -> tuple[int, int, list[list[str]]]:
    """Return the least travel between two places, the least between two clusters of them, and the clusters."""
    gaps = network.gaps
    apart = {(a, b): min(gaps.get((a, b), 0), gaps.get((b, a), 0)) for a in places for b in places if a < b}
    if not apart:
        return 0, 0, [places]
    far = max(apart.values())
    cluster = {place: place for place in places}
    for (a, b), gap in apart.items():
        if gap < far and cluster[a] != cluster[b]:
            old, new = cluster[b], cluster[a]
            cluster = {place: new if name == old else name for place, name in cluster.items()}
    names = sorted(set(cluster.values()))
    return min(apart.values()), far, [[place for place in places if cluster[place] == name] for name in names]


class _Table:
    """The most that can be earned in each number of steps, with the way back to how."""

    def __init__(self, room: int) -> None:
        self._now = np.zeros(room + 1)
        self._before: list[NDArray[np.float64]] = []
        self._log: list[tuple[str, int, int, NDArray[np.bool_] | None]] = []

    def open(self, lead: int, fee: int) -> None:
        """Begin something that takes `lead` and costs `fee`, if it is done at all."""
        self._before.append(self._now)
        self._now = self._later(lead) - fee
        self._log.append(("open", lead, 0, None))

    def take(self, item: int, size: int, gain: float) -> None:
        """Offer an item."""
        with_it = self._later(size) + gain
        self._log.append(("take", size, item, with_it > self._now))
        self._now = np.maximum(self._now, with_it)

    def close(self) -> None:
        """End what was opened last: it is done where that earns more."""
        before = self._before.pop()
        self._log.append(("close", 0, 0, self._now > before))
        self._now = np.maximum(self._now, before)

    def best(self) -> float:
        return float(self._now[-1])

    def items(self) -> tuple[int, ...]:
        """Return the items behind the best."""
        state, skipping, found = len(self._now) - 1, 0, []
        for kind, size, item, mask in reversed(self._log):
            if skipping:
                skipping += {"close": 1, "open": -1, "take": 0}[kind]
            elif mask is None:
                state -= size
            elif kind == "close":
                skipping = 0 if mask[state] else 1
            elif mask[state]:
                found.append(item)
                state -= size
        return tuple(sorted(found))

    def _later(self, steps: int) -> NDArray[np.float64]:
        moved = np.full(len(self._now), -np.inf)
        if steps < len(moved):
            moved[steps:] = self._now[: len(moved) - steps]
        return moved


class _Search:
    """Looks through the loads of a block, leaving off where no more items can make them earn enough."""

    def __init__(self, block: Block, worth: Worth, least: float, most: int) -> None:
        self._block, self._worth, self._least = block, worth, least
        self.left, self.found = most, list[tuple[int, ...]]()
        self._steps = [
            (item, group.fee, group.lead, (number, place))
            for number, cluster in enumerate(block.clusters)
            for place, group in enumerate(cluster)
            for item in group.items
        ]
        self._most = self._bounds()

    def go(self, step: int, room: int, gain: float, items: tuple[int, ...], at: tuple[int, int]) -> None:
        """Go through what can be added from a step on, in the room left, having earned so much."""
        self.left -= 1
        if self.left <= 0:
            return
        if items and gain >= self._least:
            self.found.append(tuple(sorted(items)))
        for later in range(step, len(self._steps)):
            if gain + self._most[later][room] < self._least or self.left <= 0:
                return
            item, fee, lead, place = self._steps[later]
            new_place, new_cluster = place != at, place[0] != at[0]
            needed = self._block.sizes[item] + new_place * lead + new_cluster * self._block.far
            if needed <= room:
                earned = float(self._worth[item]) - new_place * fee
                self.go(later + 1, room - needed, gain + earned, (*items, item), place)

    def _bounds(self) -> list[NDArray[np.float64]]:
        """Return what the items from each step on can earn at most, by room, with neither fees nor leads."""
        table = np.zeros(self._block.room + 1)
        bounds = [table]
        for item, _, _, _ in reversed(self._steps):
            size, worth = self._block.sizes[item], float(self._worth[item])
            if worth > 0:
                moved = np.full(len(table), -np.inf)
                moved[size:] = table[: len(table) - size]
                table = np.maximum(table, moved + worth)
            bounds.append(table)
        return bounds[::-1]
