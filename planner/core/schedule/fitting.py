"""Fitting: whether loads of several resources go together to the minute, and if not, the tasks that do not.

Loads are chosen by sums. Where resources meet in time, in a capacity or in the order of two tasks, sums may promise
what minutes do not keep. Each set of tasks that cannot be done so together is a row that no plan breaks, so that a
choice of loads with enough of these rows is exact (combinatorial Benders cuts).

References
----------
Codato, G. and Fischetti, M. (2006): Combinatorial Benders' cuts for mixed-integer linear programming. Operations
Research 54, 756-766.

"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.loads import Pair, starts_of
from planner.core.schedule.tasks import Answer, Capacity, Network

FIT_S = 10.0  # most work for one look, in seconds of Effort
Some = tuple[Pair, ...]  # the (task, option) of one load


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """Starts by task, for the loads that go together; `clashes` are least sets of (task, option), by load, that do not.

    `open` tells that the work did not suffice to say so of some.
    """

    starts: dict[int, int]
    clashes: tuple[tuple[Some, ...], ...]
    open: bool = False


def fit(network: Network, loads: tuple[Some, ...]) -> Fitted:
    """Find starts for loads of different resources or spans, each of which can be done by itself.

    Examples
    --------
    >>> from planner.core.schedule.tasks import Option, Task, Use
    >>> tasks = tuple(Task(key=r, duration=6, options=(Option(resource=r, start=0, end=10),)) for r in "rs")
    >>> one = Capacity(name="dark", limit=1, uses=(Use(task=0), Use(task=1)))
    >>> fit(Network(tasks=tasks), (((0, 0),), ((1, 0),))).starts
    {0: 0, 1: 0}
    >>> fit(Network(tasks=tasks, capacities=(one,)), (((0, 0),), ((1, 0),))).clashes
    ((((0, 0),), ((1, 0),)),)

    """
    starts: dict[int, int] = {}
    clashes: list[tuple[Some, ...]] = []
    unsure = False
    for group in _meeting(network, loads):
        if len(group) == 1:
            starts.update(starts_of(network, group[0]) or {})
            continue
        answer = _solved(network, group)
        if answer.objective is not None:
            starts.update(_starts(group, answer))
        elif answer.impossible:
            clashes.append(_least(network, group))
        else:
            unsure = True
    return Fitted(starts=starts, clashes=tuple(clashes), open=unsure)


def _meeting(network: Network, loads: tuple[Some, ...]) -> Iterator[tuple[Some, ...]]:
    """Yield the loads in groups that meet in time, in a capacity or in the order of their tasks."""
    load_of = {task: number for number, load in enumerate(loads) for task, _ in load}
    option_of = dict(pair for load in loads for pair in load)
    group = list(range(len(loads)))
    for one, two in _bound(network):
        if one in load_of and two in load_of and _overlap(network, (one, option_of[one]), (two, option_of[two])):
            old, new = group[load_of[one]], group[load_of[two]]
            group = [new if each == old else each for each in group]
    for number in sorted(set(group)):
        yield tuple(load for load, mine in zip(loads, group, strict=True) if mine == number)


def _bound(network: Network) -> Iterator[Pair]:
    yield from network.precedence
    for capacity in network.capacities:
        yield from combinations((use.task for use in capacity.uses), 2)


def _overlap(network: Network, one: Pair, two: Pair) -> bool:
    a, b = network.tasks[one[0]].options[one[1]], network.tasks[two[0]].options[two[1]]
    return a.start < b.end and b.start < a.end


def _least(network: Network, loads: tuple[Some, ...]) -> tuple[Some, ...]:
    """Return a part of loads that do not go together, of which nothing can be left out."""
    for two in combinations(loads, 2):
        if _solved(network, two).impossible:
            loads = two
            break
    for pair in [pair for load in loads for pair in load]:
        fewer = tuple(some for load in loads if (some := tuple(each for each in load if each != pair)))
        if fewer and _solved(network, fewer).impossible:
            loads = fewer
    return loads


def _solved(network: Network, loads: tuple[Some, ...]) -> Answer:
    """Solve the network of just these tasks, each by its one option."""
    pairs = [pair for load in loads for pair in load]
    place = {task: number for number, (task, _) in enumerate(pairs)}
    part = Network(
        tasks=tuple(
            replace(network.tasks[task], options=(network.tasks[task].options[option],), skip_cost=None)
            for task, option in pairs
        ),
        precedence=tuple((place[a], place[b]) for a, b in network.precedence if a in place and b in place),
        capacities=tuple(_part(capacity, place) for capacity in network.capacities),
        gaps=network.gaps,
    )
    return solve_tasks(part, Effort(seconds=FIT_S))


def _part(capacity: Capacity, place: dict[int, int]) -> Capacity:
    return replace(
        capacity, uses=tuple(replace(use, task=place[use.task]) for use in capacity.uses if use.task in place)
    )


def _starts(loads: tuple[Some, ...], answer: Answer) -> dict[int, int]:
    tasks = [task for load in loads for task, _ in load]
    return {task: choice[1] for task, choice in zip(tasks, answer.chosen, strict=True) if choice is not None}
