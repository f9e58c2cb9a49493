"""Meeting: which two loads of different resources can never be done together, found before any choice is made.

Two crews in one night seldom have more than a handful of tasks, so that every order in which these could be done is
tried. Loads that clash are by far the most of those that meet; as rows of which at most one may be taken, they make
the relaxation of the choice nearly whole.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations

from planner.core.schedule.layout import Layout, Load
from planner.core.schedule.loads import Pair
from planner.core.schedule.tasks import Network, Use

MOST_TOGETHER = 6  # tasks of two loads whose orders are all tried
MOST_MEETINGS = 60_000  # pairs of loads looked at
Some = tuple[Pair, ...]  # the (task, option) of one load


def clash_rows(network: Network, layout: Layout, loads: list[Load]) -> list[list[int]]:
    """Return sets of loads, by their numbers, of which at most one can be done."""
    rules = Rules(network)
    by_block: dict[int, list[int]] = defaultdict(list)
    for number, load in enumerate(loads):
        by_block[load[0]].append(number)
    some = [tuple(layout.blocks[block].pairs[item] for item in items) for block, items in loads]
    rows, looks = list[list[int]](), 0
    for one, two in _overlapping(network, layout, sorted(by_block)):
        for first in by_block[one]:
            clashing = [other for other in by_block[two] if rules.clash(some[first], some[other])]
            looks += len(by_block[two])
            if clashing:
                single = layout.twins[two] == 1 and one != two
                rows.extend([[first, *clashing]] if single else [[first, other] for other in clashing])
            if looks > MOST_MEETINGS:
                return rows
    return rows


def _overlapping(network: Network, layout: Layout, blocks: list[int]) -> Iterator[tuple[int, int]]:
    """Yield the blocks that meet in time; one with itself where several spans are alike."""
    spans = {}
    for block in blocks:
        options = [network.tasks[task].options[option] for task, option in layout.blocks[block].pairs]
        spans[block] = min(each.start for each in options), max(each.end for each in options)
    for place, one in enumerate(blocks):
        for two in blocks[place:]:
            if (
                (one != two or layout.twins[one] > 1)
                and spans[one][0] < spans[two][1]
                and spans[two][0] < spans[one][1]
            ):
                yield one, two


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trait:
    """What a load has to do with others: its tasks, the capacities that they use, and what must come before them."""

    tasks: frozenset[int]
    capacities: frozenset[int]
    before: frozenset[int]


class Rules:
    """What binds the tasks of two resources: capacities of one, and what must come first."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._uses: dict[int, list[tuple[int, Use]]] = defaultdict(list)
        for number, capacity in enumerate(network.capacities):
            for use in capacity.uses if capacity.limit == 1 else ():
                self._uses[use.task].append((number, use))
        self._before: dict[int, set[int]] = defaultdict(set)
        for one, two in network.precedence:
            self._before[two].add(one)
        self._known: dict[tuple[Some, Some], bool] = {}
        self._traits: dict[Some, _Trait] = {}

    def clash(self, one: Some, two: Some) -> bool:
        """Tell whether two loads cannot be done together; False also where that is too much to look at."""
        if len(one) + len(two) > MOST_TOGETHER or not self._meet(one, two):
            return False
        key = one, two
        if key not in self._known:
            parts = [(one[:n] + one[n + 1 :], two) for n in range(len(one)) if len(one) > 1]
            parts += [(one, two[:n] + two[n + 1 :]) for n in range(len(two)) if len(two) > 1]
            self._known[key] = any(self.clash(*part) for part in parts) or not self._go_together(one, two)
        return self._known[key]

    def _meet(self, one: Some, two: Some) -> bool:
        here, there = self._trait(one), self._trait(two)
        return here.tasks.isdisjoint(there.tasks) and not (
            here.capacities.isdisjoint(there.capacities)
            and here.before.isdisjoint(there.tasks)
            and there.before.isdisjoint(here.tasks)
        )

    def _trait(self, some: Some) -> "_Trait":
        if some not in self._traits:
            tasks = frozenset(task for task, _ in some)
            self._traits[some] = _Trait(
                tasks=tasks,
                capacities=frozenset(number for task in tasks for number, _ in self._uses.get(task, ())),
                before=frozenset(other for task in tasks for other in self._before.get(task, ())),
            )
        return self._traits[some]

    def _go_together(self, one: Some, two: Some) -> bool:
        """Try all orders, by the moment when each begins to use its capacity: any plan has one, and it is earliest."""
        side = dict.fromkeys(one, 0) | dict.fromkeys(two, 1)
        ends = {pair: self._network.tasks[pair[0]].options[pair[1]].end for pair in side}
        return any(
            self._works(order, side) for order in permutations(sorted(side, key=lambda pair: (ends[pair], pair)))
        )

    def _works(self, order: tuple[Pair, ...], side: dict[Pair, int]) -> bool:
        last: dict[int, tuple[int, int]] = {}
        free: dict[int, int] = {}
        end: dict[int, int] = {}
        waiting = {task for task, _ in order}
        for pair in order:
            task, mine = pair[0], side[pair]
            before = self._before.get(task, set()) & waiting
            option, record = self._network.tasks[task].options[pair[1]], self._network.tasks[task]
            start = max(option.start, *(end.get(each, option.end) for each in before), 0)
            if mine in last:
                start = max(start, last[mine][1] + self._network.gap(last[mine][0], task))
            for number, use in self._uses.get(task, ()):
                start = max(start, free.get(number, 0) - use.lead)
            end[task] = start + record.duration
            if end[task] > option.end:
                return False
            last[mine] = task, end[task]
            free.update((number, end[task] - use.tail) for number, use in self._uses.get(task, ()))
        return True
