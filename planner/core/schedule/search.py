"""Improve a plan piece by piece: free the tasks of a few spans, solve those exactly, keep what is no worse.

A task never spans two nights, so nights of a crew are the natural pieces. Each piece is solved by the core with
everything else held in place, which keeps every rule.
"""

import random
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace

from planner.core.schedule.core import EFFORT_PER_SECOND, Effort, solve_tasks
from planner.core.schedule.rows import blocks
from planner.core.schedule.tasks import (
    Capacity,
    Charge,
    Choice,
    Limit,
    Network,
    Option,
    Pool,
    Task,
    cost_of,
    usable,
    used_by,
)

Chosen = tuple[Choice | None, ...]
Tell = Callable[[Chosen, int, float], bool]  # choices, objective, share of the work done; False means stop
PIECE_S = 0.5  # work in one piece, in seconds of Effort
WIDEST = 14  # most spans in one piece
FREE_TASKS = 36
START_AT_WAITING = 0.5  # share of pieces that start where a task waits
SPENT_PER_TASK = 0.0001  # work counted for building a piece, by tasks of the whole network


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A network of some tasks with the rest held: `tasks` are positions, `options` numbers, in the whole network."""

    network: Network
    tasks: tuple[int, ...]
    options: tuple[tuple[int, ...], ...]


def improve(network: Network, chosen: Chosen, effort: Effort, stop_at: int, tell: Tell) -> tuple[Chosen, float]:
    """Return choices at least as good as those given, and the work it took.

    Ends when the work is spent, when the objective reaches `stop_at` (a proved bound), or when `tell` says so.
    """
    draw = random.Random(effort.seed)  # noqa: S311 - not a secret, and the seed is an argument
    spans = Spans(network)
    best, spent, budget = chosen, 0.0, effort.seconds * EFFORT_PER_SECOND
    worth = cost_of(network, best)
    width = 2
    while spent < budget and worth > stop_at and spans.numbers and tell(best, worth, spent / budget):
        free, allowed = spans.pick(best, draw, width)
        piece = cut(network, best, free, allowed)
        inner = replace(effort, seconds=PIECE_S, seed=draw.randrange(2**30), wall_s=None)
        answer = solve_tasks(piece.network, inner, hint=hint_for(piece, best))
        spent += answer.effort + SPENT_PER_TASK * (len(network.tasks) + 10)
        width = min(width + 1, WIDEST) if answer.proved else max(width - 2, 2)
        if answer.objective is not None:
            new = joined(piece, best, answer.chosen)
            if cost_of(network, new) <= worth:
                best, worth = new, cost_of(network, new)
    return best, spent


class Spans:
    """The nights of each resource: groups of options that overlap in time."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._span_of: dict[tuple[int, int], int] = {}
        self._members: list[list[tuple[int, int]]] = []
        by_resource: dict[str, list[tuple[int, int, int, int, int]]] = defaultdict(list)
        for index, task in enumerate(network.tasks):
            for number in usable(task) if task.skip_cost is not None else ():
                option = task.options[number]
                by_resource[option.resource or f"?{index}"].append((index, number, option.start, option.end, 0))
        for _, items in sorted(by_resource.items()):
            for block in blocks(items):
                for item in block:
                    self._span_of[item[0], item[1]] = len(self._members)
                self._members.append([(item[0], item[1]) for item in block])
        self.numbers = range(len(self._members))

    def pick(self, chosen: Chosen, draw: random.Random, width: int) -> tuple[set[int], set[tuple[int, int]]]:
        """Return tasks to free and the (task, option) they may take: some spans, and who is in or could come in.

        Spans are added through tasks that could move between them, so that a piece has something to exchange.
        """
        out = [index for index, choice in enumerate(chosen) if choice is None and self._options(index)]
        first = (
            draw.choice(self._options(draw.choice(out)))
            if out and draw.random() < START_AT_WAITING
            else draw.choice(self.numbers)
        )
        spans = [first]
        for _ in range(width - 1):
            index, _ = draw.choice(self._members[draw.choice(spans)])
            other = draw.choice(self._options(index))
            if other not in spans:
                spans.append(other)
        return self._free(chosen, draw, spans)

    def _options(self, index: int) -> list[int]:
        return [self._span_of[index, n] for n in usable(self._network.tasks[index]) if (index, n) in self._span_of]

    def _free(self, chosen: Chosen, draw: random.Random, spans: list[int]) -> tuple[set[int], set[tuple[int, int]]]:
        pairs = {pair for span in spans for pair in self._members[span]}
        inside = sorted({pair[0] for pair in pairs})
        here = [index for index in inside if (choice := chosen[index]) and (index, choice[0]) in pairs]
        waiting = [index for index in inside if chosen[index] is None]
        draw.shuffle(here)
        draw.shuffle(waiting)
        most = max(FREE_TASKS - len(here), FREE_TASKS // 3)
        free = {*here[:FREE_TASKS], *waiting[:most]}
        return free, {pair for pair in pairs if pair[0] in free}


def cut(network: Network, chosen: Chosen, free: set[int], allowed: set[tuple[int, int]]) -> Piece:
    """Return the network of the free tasks with their allowed options; other tasks stay where they are.

    Those that can meet a free task are in it as tasks with one exact option; what all others use of limits and
    charges is taken off.
    """
    free = _ready(network, chosen, free)
    held = _held(network, chosen, free, allowed)
    tasks = tuple(sorted(free | held))
    options = tuple(
        tuple(sorted(o for t, o in allowed if t == index)) if index in free else (_number(chosen[index]),)
        for index in tasks
    )
    place = {index: i for i, index in enumerate(tasks)}
    spot = {(t, o): (place[t], i) for t, numbers in zip(tasks, options, strict=True) for i, o in enumerate(numbers)}
    used = {pair for pair in used_by(chosen) if pair[0] not in place}
    made = tuple(
        _task(network.tasks[index], numbers, None if index in free else chosen[index])
        for index, numbers in zip(tasks, options, strict=True)
    )
    piece = Network(
        tasks=made,
        precedence=tuple((place[a], place[b]) for a, b in network.precedence if a in place and b in place),
        capacities=tuple(_capacities(network, place)),
        limits=tuple(_limits(network, used, spot)),
        charges=tuple(_charges(network, used, spot)),
        pools=tuple(_pools(network, place)),
        gaps=network.gaps,
    )
    return Piece(network=piece, tasks=tasks, options=options)


def hint_for(piece: Piece, chosen: Chosen) -> Chosen:
    """Return the present choices in the numbers of a piece."""
    return tuple(
        None if (choice := chosen[index]) is None else (numbers.index(choice[0]), choice[1])
        for index, numbers in zip(piece.tasks, piece.options, strict=True)
    )


def joined(piece: Piece, chosen: Chosen, answer: Chosen) -> Chosen:
    """Return the choices with those of a piece put in."""
    new = list(chosen)
    for index, numbers, choice in zip(piece.tasks, piece.options, answer, strict=True):
        new[index] = None if choice is None else (numbers[choice[0]], choice[1])
    return tuple(new)


def _number(choice: Choice | None) -> int:
    return -1 if choice is None else choice[0]


def _held(network: Network, chosen: Chosen, free: set[int], allowed: set[tuple[int, int]]) -> set[int]:
    """Return the placed tasks that are not free and that a free one could meet in time, or that it waits for."""
    widest = max(network.gaps.values(), default=0)
    reach: dict[str | None, list[tuple[int, int]]] = defaultdict(list)
    for t, o in allowed:
        option = network.tasks[t].options[o]
        reach[option.resource].append((option.start - widest, option.end + widest))
        reach[None].append((option.start, option.end))
    held = _linked(network, free)
    shared = {use.task for each in network.capacities for use in each.uses if any(u.task in free for u in each.uses)}
    for index, choice in enumerate(chosen):
        if choice is None or index in free or index in held:
            continue
        resource = network.tasks[index].options[choice[0]].resource
        start, end = choice[1], choice[1] + network.tasks[index].duration
        spans = reach[resource] if resource is not None else []
        if index in shared:
            spans = [*spans, *reach[None]]
        if any(start < b and a < end for a, b in spans):
            held.add(index)
    return {index for index in held if chosen[index] is not None}


def _ready(network: Network, chosen: Chosen, free: set[int]) -> set[int]:
    """Return the free tasks without those that wait for a task which is neither free nor placed."""
    while True:
        barred = {b for a, b in network.precedence if b in free and a not in free and chosen[a] is None}
        if not barred:
            return free
        free = free - barred


def _linked(network: Network, free: set[int]) -> set[int]:
    linked = {b for a, b in network.precedence if a in free} | {a for a, b in network.precedence if b in free}
    for pool in network.pools:
        linked |= {task for task, _, _ in pool.changes}
    return linked - free


def _task(task: Task, numbers: tuple[int, ...], held: Choice | None) -> Task:
    if held is None:
        return replace(task, options=tuple(task.options[number] for number in numbers))
    option = task.options[held[0]]
    exact = Option(resource=option.resource, start=held[1], end=held[1] + task.duration, cost=option.cost)
    return replace(task, options=(exact,), skip_cost=None)


def _capacities(network: Network, place: dict[int, int]) -> list[Capacity]:
    found = []
    for capacity in network.capacities:
        uses = tuple(replace(use, task=place[use.task]) for use in capacity.uses if use.task in place)
        if len(uses) > 1:
            found.append(replace(capacity, uses=uses))
    return found


def _limits(network: Network, used: set[tuple[int, int]], spot: dict[tuple[int, int], tuple[int, int]]) -> list[Limit]:
    """Return the limits that a piece touches, less what others use. `used` are the pairs outside the piece."""
    found = []
    for limit in network.limits:
        inside = tuple((*spot[t, o], amount) for t, o, amount in limit.terms if (t, o) in spot)
        if inside:
            outside = sum(amount for t, o, amount in limit.terms if (t, o) in used)
            found.append(replace(limit, terms=inside, limit=limit.limit - outside))
    return found


def _charges(
    network: Network, used: set[tuple[int, int]], spot: dict[tuple[int, int], tuple[int, int]]
) -> list[Charge]:
    """Return the charges that a piece could still cause; those paid by others in any case are left out."""
    return [
        replace(charge, terms=tuple(spot[pair] for pair in charge.terms if pair in spot))
        for charge in network.charges
        if not spot.keys().isdisjoint(charge.terms) and used.isdisjoint(charge.terms)
    ]


def _pools(network: Network, place: dict[int, int]) -> list[Pool]:
    return [
        replace(pool, changes=tuple((place[t], a, b) for t, a, b in pool.changes if t in place))
        for pool in network.pools
    ]
