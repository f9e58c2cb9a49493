"""What the scheduling core sees: tasks that may be done in one of several ways, and what binds them together.

Times are whole minutes (or any other unit, as long as it is one) from an origin of the caller's choice. Money, counts
and weights are whole numbers. Nothing here knows of buildings or crews, so that textbook instances run through the
same code as a campus.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to do a task: by `resource` (None: needs none), wholly inside the half-open span `start` to `end`.

    `cost` is what doing it this way adds to the objective. `label` is the caller's, and not looked at.
    """

    resource: str | None
    start: int
    end: int
    cost: int = 0
    label: int = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A piece of work that is never split. `skip_cost` None: it must be done; else what leaving it out costs.

    `place` decides the gap between two tasks of one resource, see `Network.gaps`.
    """

    key: str
    duration: int
    options: tuple[Option, ...]
    skip_cost: int | None = None
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """A task's use of a capacity, from `lead` after its start to `tail` before its end."""

    task: int
    amount: int = 1
    lead: int = 0
    tail: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """At most `limit` in use at any moment."""

    name: str
    limit: int
    uses: tuple[Use, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The amounts of all chosen (task, option, amount) add up to at most `limit`."""

    name: str
    limit: int
    terms: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """`cost` is paid once if any of the (task, option) is chosen."""

    name: str
    cost: int
    terms: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """A store that holds `initial` and never falls below `floor` (at most `initial`).

    `changes` are (task, change at its start, change at its end). At one moment all changes count together.
    `rises` are (moment, amount) by which the floor goes up from then on, in all to at most `initial`.
    """

    name: str
    initial: int
    floor: int
    changes: tuple[tuple[int, int, int], ...]
    rises: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Tasks and what binds them. `gaps`: least time between two tasks of one resource, by (place, place).

    `precedence` are (before, after): `after` needs `before` done, and starts no sooner than that ends.
    """

    tasks: tuple[Task, ...]
    precedence: tuple[tuple[int, int], ...] = ()
    capacities: tuple[Capacity, ...] = ()
    limits: tuple[Limit, ...] = ()
    charges: tuple[Charge, ...] = ()
    pools: tuple[Pool, ...] = ()
    gaps: Mapping[tuple[str, str], int] = field(default_factory=dict)

    def gap(self, before: int, after: int) -> int:
        """Return the least time between two tasks of one resource."""
        return self.gaps.get((self.tasks[before].place, self.tasks[after].place), 0)

    def choices(self) -> Iterator[tuple[int, int, Task, Option]]:
        """Yield every (task, option) by position, with both records."""
        for index, task in enumerate(self.tasks):
            for number, option in enumerate(task.options):
                yield index, number, task, option


Choice = tuple[int, int]  # number of the option, start
Chosen = tuple[Choice | None, ...]  # one for each task, None where it is left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was found. `chosen` has one entry per task: its option and start, or None where it is left out.

    `objective` is None where no solution was found, and `impossible` tells that there is none; `bound` is proved.
    `effort` is the solver's own count of work, which is the same on every machine.
    """

    chosen: tuple[Choice | None, ...]
    objective: int | None
    bound: int
    effort: float = 0.0
    impossible: bool = False

    @property
    def proved(self) -> bool:
        """Tell whether no better answer exists."""
        return self.objective is not None and self.objective == self.bound


def latest_start(task: Task, option: Option) -> int:
    """Return the last start at which the task still ends inside the option; before `option.start` if it never fits."""
    return option.end - task.duration


def usable(task: Task) -> tuple[int, ...]:
    """Return the numbers of the options that are long enough for the task."""
    return tuple(n for n, option in enumerate(task.options) if latest_start(task, option) >= option.start)


def cost_of(network: Network, chosen: tuple[Choice | None, ...]) -> int:
    """Return the objective of a set of choices: options, tasks left out, and charges.

    Examples
    --------
    >>> one = Task(key="a", duration=2, options=(Option(resource="r", start=0, end=4, cost=3),), skip_cost=9)
    >>> both = Network(tasks=(one, one), charges=(Charge(name="out", cost=5, terms=((0, 0), (1, 0))),))
    >>> cost_of(both, ((0, 0), None)), cost_of(both, ((0, 0), (0, 2)))
    (17, 11)

    """
    used = used_by(chosen)
    total = sum(
        (task.skip_cost or 0) if choice is None else task.options[choice[0]].cost
        for task, choice in zip(network.tasks, chosen, strict=True)
    )
    return total + sum(charge.cost for charge in network.charges if not used.isdisjoint(charge.terms))


def used_by(chosen: tuple[Choice | None, ...]) -> set[tuple[int, int]]:
    """Return the (task, option) of all choices."""
    return {(index, choice[0]) for index, choice in enumerate(chosen) if choice is not None}
