"""Meeting: which loads of different resources can never be done together, found before any choice is made.

Two crews in one night seldom have more than a handful of tasks, so that every order in which these could be done is
tried, for all pairs of loads of a kind side by side. Loads that clash are by far the most of those that meet; as sets
of loads of which at most one can be done (cliques), they make the relaxation of the choice nearly whole.

References
----------
Atamturk, A., Nemhauser, G. L. and Savelsbergh, M. W. P. (2000): Conflict graphs in solving integer programming
problems. European Journal of Operational Research 121, 40-55 (rows of cliques instead of pairs).

"""

from collections import defaultdict
from collections.abc import Iterator
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from planner.core.schedule.layout import Layout, Load
from planner.core.schedule.loads import Pair
from planner.core.schedule.tasks import Network

MOST_TOGETHER = 7  # tasks of two loads whose orders are all tried
MOST_MEETINGS = 4_000_000  # pairs of loads looked at
MOST_AT_ONCE = 20_000  # pairs of loads tried side by side
S_PER_LOOK = 2e-6  # seconds that a pair of loads is counted for
FREE = -(2**40)  # gap between tasks that do not bind each other
NEVER = 2**40
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


def clash_rows(network: Network, layout: Layout, loads: list[Load]) -> tuple[list[list[int]], float]:
    """Return sets of loads, by their numbers, of which at most one can be done, and the work [s of an idle machine]."""
    rows, looks = list[list[int]](), 0
    for numbers in _nights(network, layout, loads):
        looks += len(numbers) ** 2
        if looks > MOST_MEETINGS:
            break
        night = Night(network, layout, [loads[number] for number in numbers])
        clash = night.clashes()
        rows.extend([numbers[place] for place in row] for row in cliques(clash, clash | night.apart))
    return rows, looks * S_PER_LOOK


def cliques(wanted: Bools, known: Bools) -> Iterator[list[int]]:
    """Yield sets of numbers any two of which are `known` not to go together, until each `wanted` pair is in one.

    Both are symmetric tables without a diagonal, and what is wanted is known.

    Examples
    --------
    >>> three = ~np.eye(3, dtype=bool)
    >>> list(cliques(three, three))
    [[0, 1, 2]]

    """
    left = np.triu(wanted)
    degree = known.sum(axis=1)
    for one in range(len(left)):
        while left[one].any():
            row = [one, int(np.argmax(left[one]))]
            able = known[row[0]] & known[row[1]]
            while able.any():
                more = int(np.argmax(np.where(able, degree + len(left) * left[one], -1)))
                row.append(more)
                able &= known[more]
            row.sort()
            left[np.ix_(row, row)] = False
            yield row


def _nights(network: Network, layout: Layout, loads: list[Load]) -> Iterator[list[int]]:
    """Yield the numbers of loads in groups that share no moment."""
    spans = {}
    for block in {load[0] for load in loads}:
        options = [network.tasks[task].options[option] for task, option in layout.blocks[block].pairs]
        spans[block] = min(each.start for each in options), max(each.end for each in options)
    group: list[int] = []
    end = 0
    for number in sorted(range(len(loads)), key=lambda each: (spans[loads[each][0]], each)):
        start, ready = spans[loads[number][0]]
        if group and start >= end:
            yield sorted(group)
            group = []
        end = max(end, ready) if group else ready
        group.append(number)
    if group:
        yield sorted(group)


class Night:
    """Loads of some resources that meet in time; `apart` are those that exclude each other whatever the minutes are."""

    def __init__(self, network: Network, layout: Layout, loads: list[Load]) -> None:
        pairs = [[layout.blocks[block].pairs[item] for item in items] for block, items in loads]
        items = sorted({pair for some in pairs for pair in some})
        place = {pair: number for number, pair in enumerate(items)}
        self._sizes = np.array([len(some) for some in pairs])
        self._padded = np.zeros((len(pairs), int(self._sizes.max())), dtype=int)
        self._moments = _Moments(network, items)
        block, single = np.array([load[0] for load in loads]), layout.twins[[load[0] for load in loads]] == 1
        self._held = np.zeros((len(loads), len(items)), dtype=np.float32)
        for number, some in enumerate(pairs):
            mine = [place[pair] for pair in some]
            self._padded[number, : len(mine)] = mine
            self._held[number, mine] = 1
        same_task = self._moments.same_task[:, None] == self._moments.same_task[None, :]
        self.apart: Bools = (self._held @ same_task @ self._held.T > 0) | (
            (block[:, None] == block[None, :]) & single[:, None]
        )
        np.fill_diagonal(self.apart, val=False)

    def clashes(self) -> Bools:
        """Return which two loads cannot be done together though nothing else forbids it."""
        found = np.zeros(self.apart.shape, dtype=bool)
        meet = np.triu((self._held @ self._moments.bound @ self._held.T > 0) & ~self.apart, 1)
        one, two = np.nonzero(meet)
        sizes = self._sizes
        for first, second in sorted({(int(a), int(b)) for a, b in zip(sizes[one], sizes[two], strict=True)}):
            if first + second <= MOST_TOGETHER:
                of_kind = np.flatnonzero((sizes[one] == first) & (sizes[two] == second))
                for part in np.array_split(of_kind, len(of_kind) // MOST_AT_ONCE + 1):
                    some = np.hstack([self._padded[one[part], :first], self._padded[two[part], :second]])
                    found[one[part], two[part]] = ~self._moments.go_together(some, first)
        return found | found.T


class _Moments:
    """When each (task, option) can be, and how long after the end of one another can begin."""

    def __init__(self, network: Network, items: list[Pair]) -> None:
        tasks = [task for task, _ in items]
        options = [network.tasks[task].options[option] for task, option in items]
        self.same_task = np.array(tasks)
        self._start = np.array([option.start for option in options])
        self._end = np.array([option.end for option in options])
        self._duration = np.array([network.tasks[task].duration for task in tasks])
        self._between = _between(network, tasks)
        self._own = np.maximum(self._between, np.array([[network.gap(one, two) for two in tasks] for one in tasks]))
        self.bound = (self._between > FREE).astype(np.float32)

    def go_together(self, some: Ints, first: int) -> Bools:
        """Tell which pairs of loads go together: one a row, the items of one load and from `first` on of the other.

        All orders are tried, by the moment when each begins to use its capacity: any plan has one. In a given order
        nothing is better than the earliest start.
        """
        size = some.shape[1]
        side = np.arange(size) < first
        two = some[:, :, None], some[:, None, :]
        gaps = np.where((side[:, None] == side[None, :])[None], self._own[two], self._between[two])
        found = np.zeros(len(some), dtype=bool)
        start, last = self._start[some], self._end[some] - self._duration[some]
        duration = self._duration[some]

        def go(rows: Ints, placed: tuple[int, ...], ends: tuple[Ints, ...]) -> None:
            if len(placed) == size:
                found[rows] = True
                return
            for item in (each for each in range(size) if each not in placed):
                begin = start[rows, item]
                for other, end in zip(placed, ends, strict=True):
                    begin = np.maximum(begin, end + gaps[rows, other, item])
                works = np.flatnonzero((begin <= last[rows, item]) & ~found[rows])
                if len(works):
                    ready = (begin + duration[rows, item])[works]
                    go(rows[works], (*placed, item), (*(end[works] for end in ends), ready))

        go(np.arange(len(some)), (), ())
        return found


def _between(network: Network, tasks: list[int]) -> Ints:
    """Return how long after the end of one item another can begin, whoever does them."""
    found = np.full((len(tasks), len(tasks)), FREE)
    places: dict[int, list[int]] = defaultdict(list)
    for number, task in enumerate(tasks):
        places[task].append(number)
    for capacity in network.capacities:
        uses = [use for use in capacity.uses if use.task in places] if capacity.limit == 1 else []
        for one, two in permutations(uses, 2):
            at = np.ix_(places[one.task], places[two.task])
            found[at] = np.maximum(found[at], -one.tail - two.lead)
    for before, after in network.precedence:
        if before in places and after in places:
            at = np.ix_(places[before], places[after])
            found[at] = np.maximum(found[at], 0)
            found[at[::-1]] = NEVER
    return found
