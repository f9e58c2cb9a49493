"""The board: a plan that changes piece by piece, with what hangs together looked up at once instead of searched for."""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from planner.core.schedule.listing import Ledger
from planner.core.schedule.tasks import Capacity, Choice, Chosen, Network

Pair = tuple[int, int]  # task, option


class Board:
    """Choices that obey a network, their cost, and indices of what binds them."""

    def __init__(self, network: Network, chosen: Chosen) -> None:
        self.network = network
        self.ledger = Ledger(network)
        self.cost = sum(task.skip_cost or 0 for task in network.tasks)
        self.charges_of: dict[Pair, list[int]] = defaultdict(list)
        for number, charge in enumerate(network.charges):
            for pair in charge.terms:
                self.charges_of[pair].append(number)
        self.capacities_of: dict[int, list[Capacity]] = defaultdict(list)
        for capacity in network.capacities:
            for use in capacity.uses:
                self.capacities_of[use.task].append(capacity)
        self.before: dict[int, list[int]] = defaultdict(list)
        self.after: dict[int, list[int]] = defaultdict(list)
        for one, two in network.precedence:
            self.before[two].append(one)
            self.after[one].append(two)
        self._counts = [0] * len(network.charges)
        for task, choice in enumerate(chosen):
            self._enter(task, choice)

    @property
    def chosen(self) -> Chosen:
        """The choices as they stand."""
        return tuple(self.ledger.chosen)

    def at(self, task: int) -> Choice | None:
        """Return the choice of a task."""
        return self.ledger.chosen[task]

    def paid(self, charge: int) -> int:
        """Return by how many choices a charge is caused."""
        return self._counts[charge]

    def change(self, new: Mapping[int, Choice | None]) -> bool:
        """Make some choices anew if that obeys everything and costs no more; else leave all as it was."""
        cost = self.cost
        old = {task: self._leave(task) for task in sorted(new)}
        if self._enter_all(new) and self.cost <= cost and self._complete(new):
            return True
        for task in new:
            self._leave(task)
        for task, choice in old.items():
            self._enter(task, choice)
        return False

    def settle(self, new: Mapping[int, Choice | None]) -> list[int]:
        """Make some choices anew, each where it fits best if not as wished, unless all then costs more.

        Returns the tasks that did not fit as wished.
        """
        cost = self.cost
        old = {task: self._leave(task) for task in sorted(new)}
        in_time = sorted((choice[1], task) for task, choice in new.items() if choice is not None)
        misfits = [task for _, task in in_time if not self._enter_at(task, new[task])]
        for task in [*misfits, *(task for task in sorted(new) if new[task] is None)]:
            self._enter(task, self.ledger.first_fit(task))
        if self.cost > cost or not self._complete(new):
            for task in new:
                self._leave(task)
            for task, choice in old.items():
                self._enter(task, choice)
        return misfits

    def _enter_at(self, task: int, choice: Choice | None) -> bool:
        fits = choice is not None and self.ledger.fits_at(task, choice)
        if fits:
            self._enter(task, choice)
        return fits

    def _enter_all(self, new: Mapping[int, Choice | None]) -> bool:
        in_time = sorted((choice[1], task, choice) for task, choice in new.items() if choice is not None)
        for _, task, choice in in_time:
            if not self.ledger.fits_at(task, choice):
                return False
            self._enter(task, choice)
        return True

    def _complete(self, new: Iterable[int]) -> bool:
        """Tell whether nothing waits for a task that is left out."""
        chosen = self.ledger.chosen
        return all(chosen[task] is not None or all(chosen[two] is None for two in self.after[task]) for task in new)

    def _enter(self, task: int, choice: Choice | None) -> None:
        if choice is None:
            return
        self.ledger.book(task, choice)
        self.cost += self._price(task, choice)
        for charge in self.charges_of.get((task, choice[0]), ()):
            self._counts[charge] += 1
            self.cost += self.network.charges[charge].cost if self._counts[charge] == 1 else 0

    def _leave(self, task: int) -> Choice | None:
        choice = self.ledger.unbook(task)
        if choice is None:
            return None
        self.cost -= self._price(task, choice)
        for charge in self.charges_of.get((task, choice[0]), ()):
            self._counts[charge] -= 1
            self.cost -= self.network.charges[charge].cost if self._counts[charge] == 0 else 0
        return choice

    def _price(self, task: int, choice: Choice) -> int:
        """Return what doing a task so costs beyond leaving it out."""
        record = self.network.tasks[task]
        return record.options[choice[0]].cost - (record.skip_cost or 0)
