"""The plain list a person would make: oldest first, each in the first span that fits, obeying everything."""

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Mapping
from heapq import heappop, heappush

from planner.core.schedule.tasks import Capacity, Choice, Network, Pool, Use, latest_start, usable

Shares = Mapping[tuple[int, int], float]
Booking = tuple[int, int, int]  # start, end, task


def first_fits(
    network: Network,
    ranks: tuple[int, ...],
    kept: tuple[Choice | None, ...] | None = None,
    shares: Shares | None = None,
) -> tuple[Choice | None, ...]:
    """Book tasks one by one, by rank and with what must come first before it, each at its first option that fits.

    Parameters
    ----------
    network : Network
        What to book. Tasks that must be done are booked first, at the start of their first option, whatever the rest.
    ranks : tuple of int
        One per task, smaller first; equal ranks go by position.
    kept : tuple, optional
        Choices to keep where they still fit.
    shares : mapping, optional
        Options to try before others, by (task, option), the largest first.

    Returns
    -------
    tuple
        One entry per task: option and start, or None where nothing fits.

    Examples
    --------
    >>> from planner.core.schedule.tasks import Option, Task
    >>> span = (Option(resource="crew", start=0, end=9),)
    >>> three = tuple(Task(key=key, duration=4, options=span, skip_cost=1) for key in "abc")
    >>> first_fits(Network(tasks=three), (2, 0, 1))
    (None, (0, 0), (0, 4))

    """
    ledger = Ledger(network)
    ledger.book_musts()
    order = _in_order(network, ranks)
    for index in order:
        choice = kept[index] if kept else None
        if ledger.chosen[index] is None and choice is not None and ledger.fits_at(index, choice):
            ledger.book(index, choice)
    for index in order:
        if ledger.chosen[index] is None:
            choice = ledger.first_fit(index, shares)
            if choice is not None:
                ledger.book(index, choice)
    return tuple(ledger.chosen)


def _in_order(network: Network, ranks: tuple[int, ...]) -> list[int]:
    """Return all tasks by rank, none before those that must precede it; tasks on a cycle are left out."""
    waits = [0] * len(network.tasks)
    after: dict[int, list[int]] = defaultdict(list)
    for one, two in network.precedence:
        after[one].append(two)
        waits[two] += 1
    ready: list[tuple[int, int]] = []
    for index, count in enumerate(waits):
        if count == 0:
            heappush(ready, (ranks[index], index))
    order = []
    while ready:
        _, index = heappop(ready)
        order.append(index)
        for two in after[index]:
            waits[two] -= 1
            if waits[two] == 0:
                heappush(ready, (ranks[two], two))
    return order


def _remove(bookings: list[Booking], booking: Booking) -> None:
    del bookings[bisect_left(bookings, booking)]


class Ledger:
    """What is booked so far, and what still fits beside it."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self.chosen: list[Choice | None] = [None] * len(network.tasks)
        self._by_resource: dict[str, list[Booking]] = defaultdict(list)
        self._left = [limit.limit for limit in network.limits]
        self._amounts: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
        for number, limit in enumerate(network.limits):
            for task, option, amount in limit.terms:
                self._amounts[task, option].append((number, amount))
        self._uses: dict[int, list[tuple[Capacity, Use]]] = defaultdict(list)
        for capacity in network.capacities:
            for use in capacity.uses:
                self._uses[use.task].append((capacity, use))
        self._dark: dict[str, list[Booking]] = defaultdict(list)
        self._before: dict[int, list[int]] = defaultdict(list)
        self._after: dict[int, list[int]] = defaultdict(list)
        for one, two in network.precedence:
            self._before[two].append(one)
            self._after[one].append(two)
        self._widest_gap = max(network.gaps.values(), default=0)
        self._pools = network.pools

    def book_musts(self) -> None:
        """Enter the tasks that must be done, at the start of their first option, whatever the rest."""
        for index, task in enumerate(self._network.tasks):
            if task.skip_cost is None and task.options:
                self.book(index, (0, task.options[0].start))

    def book(self, index: int, choice: Choice) -> None:
        """Enter a choice, which the caller knows to fit."""
        number, start = choice
        task = self._network.tasks[index]
        self.chosen[index] = choice
        resource = task.options[number].resource
        if resource is not None:
            insort(self._by_resource[resource], (start, start + task.duration, index))
        for limit, amount in self._amounts[index, number]:
            self._left[limit] -= amount
        for capacity, use in self._uses[index]:
            insort(self._dark[capacity.name], (start + use.lead, start + task.duration - use.tail, use.amount))

    def unbook(self, index: int) -> Choice | None:
        """Take a choice out again, and return it."""
        choice = self.chosen[index]
        if choice is None:
            return None
        number, start = choice
        task = self._network.tasks[index]
        self.chosen[index] = None
        resource = task.options[number].resource
        if resource is not None:
            _remove(self._by_resource[resource], (start, start + task.duration, index))
        for limit, amount in self._amounts[index, number]:
            self._left[limit] += amount
        for capacity, use in self._uses[index]:
            _remove(self._dark[capacity.name], (start + use.lead, start + task.duration - use.tail, use.amount))
        return choice

    def left(self, limit: int) -> int:
        """Return what is left of a limit."""
        return self._left[limit]

    def amounts(self, index: int, number: int) -> list[tuple[int, int]]:
        """Return which limits an option counts in, with its amounts."""
        return self._amounts.get((index, number), [])

    def busy(self, resource: str, start: int, end: int) -> list[int]:
        """Return the tasks of a resource that overlap a span widened by the longest gap."""
        bookings = self._by_resource[resource]
        near = bisect_right(bookings, (end + self._widest_gap, -1, -1))
        return [task for _, ready, task in bookings[:near] if ready > start - self._widest_gap]

    def first_fit(self, index: int, shares: Shares | None = None) -> Choice | None:
        """Return the first option in which a task fits, by its share and then its start, and the first start in it."""
        wish = shares or {}
        task = self._network.tasks[index]
        numbers = sorted(usable(task), key=lambda n: (-wish.get((index, n), 0.0), task.options[n].start, n))
        return next((choice for number in numbers if (choice := self.fit_in(index, number))), None)

    def fit_in(self, index: int, number: int) -> Choice | None:
        """Return the first start of a task in an option; None where it does not fit there."""
        task, bounds = self._network.tasks[index], self._bounds(index)
        option = task.options[number]
        if bounds is None or any(amount > self._left[limit] for limit, amount in self._amounts[index, number]):
            return None
        earliest, latest = max(option.start, bounds[0]), min(latest_start(task, option), bounds[1])
        start = self._first_start(index, option.resource, earliest, latest)
        return None if start is None or not self._pools_hold(index, start) else (number, start)

    def fits_at(self, index: int, choice: Choice) -> bool:
        """Tell whether a task fits at exactly this option and start."""
        number, start = choice
        task, bounds = self._network.tasks[index], self._bounds(index)
        option = task.options[number]
        if bounds is None or not max(option.start, bounds[0]) <= start <= min(latest_start(task, option), bounds[1]):
            return False
        if any(amount > self._left[limit] for limit, amount in self._amounts[index, number]):
            return False
        return self._first_start(index, option.resource, start, start) == start and self._pools_hold(index, start)

    def _bounds(self, index: int) -> tuple[int, int] | None:
        """Return first and last start between what comes before and after; None if something before is not booked."""
        earliest, latest = -(2**60), 2**60
        for one in self._before[index]:
            choice = self.chosen[one]
            if choice is None:
                return None
            earliest = max(earliest, choice[1] + self._network.tasks[one].duration)
        for two in self._after[index]:
            choice = self.chosen[two]
            if choice is not None:
                latest = min(latest, choice[1] - self._network.tasks[index].duration)
        return earliest, latest

    def _first_start(self, index: int, resource: str | None, start: int, latest: int) -> int | None:
        while start <= latest:
            later = start if resource is None else self._past_bookings(index, resource, start)
            for capacity, use in self._uses[index]:
                later = self._past_peaks(index, capacity, use, later)
            if later == start:
                return start
            start = later
        return None

    def _past_bookings(self, index: int, resource: str, start: int) -> int:
        """Return the first start from `start` on at which the resource is free, with its gaps."""
        duration = self._network.tasks[index].duration
        bookings = self._by_resource[resource]
        near = bisect_right(bookings, (start - self._widest_gap, 2**60, 0)) - 1
        for begin, end, other in bookings[max(near, 0) :]:
            if begin >= start + duration + self._widest_gap:
                break
            if start < end + self._network.gap(other, index) and begin < start + duration + self._network.gap(
                index, other
            ):
                start = end + self._network.gap(other, index)
        return start

    def _past_peaks(self, index: int, capacity: Capacity, use: Use, start: int) -> int:
        """Return the first start from `start` on at which the capacity has room, or `start` moved past one conflict."""
        begin, end = start + use.lead, start + self._network.tasks[index].duration - use.tail
        if end <= begin:
            return start
        inside = [each for each in self._dark[capacity.name] if each[0] < end and begin < each[1]]
        moments = [begin, *(each[0] for each in inside if each[0] > begin)]
        peak = max(sum(each[2] for each in inside if each[0] <= moment < each[1]) for moment in moments)
        if peak + use.amount <= capacity.limit:
            return start
        return min(each[1] for each in inside) - use.lead

    def _pools_hold(self, index: int, start: int) -> bool:
        return all(self._pool_holds(pool, index, start) for pool in self._pools)

    def _pool_holds(self, pool: Pool, index: int, start: int) -> bool:
        moves: dict[int, int] = defaultdict(int)
        for moment, amount in pool.rises:
            moves[moment] -= amount
        for task, at_start, at_end in pool.changes:
            choice = (0, start) if task == index else self.chosen[task]
            if choice is not None:
                moves[choice[1]] += at_start
                moves[choice[1] + self._network.tasks[task].duration] += at_end
        level = pool.initial
        for moment in sorted(moves):
            level += moves[moment]
            if level < pool.floor:
                return False
        return True
