"""Improve a plan piece by piece: free the tasks of a few spans, solve those exactly, keep what is no worse.

A task never spans two nights, so nights of a crew are the natural pieces. Each piece is solved by the core with
everything else held in place, which keeps every rule. Several pieces are solved at a time; each is then taken over
only if it still obeys everything beside what the others have changed.
"""

import random
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import partial
from time import monotonic

from planner.core.schedule.board import Board, Pair
from planner.core.schedule.core import EFFORT_PER_SECOND, Effort, solve_tasks
from planner.core.schedule.hands import Hands
from planner.core.schedule.rows import blocks
from planner.core.schedule.tasks import (
    Answer,
    Capacity,
    Charge,
    Choice,
    Chosen,
    Limit,
    Network,
    Option,
    Pool,
    Task,
    usable,
)

PIECE_S = 1.0  # work in one piece, in seconds of Effort
WIDEST = 20  # most spans in one piece
FREE_TASKS, FREE_OF_MANY, MANY = 36, 70, 400  # most placed tasks of a piece; more in networks of more than so many
START_AT_WAITING = 0.8  # share of pieces that start where a task waits
PIECE_WORK = 0.03  # seconds of work counted for cutting and building a piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A network of some tasks with the rest held: `tasks` are positions, `options` numbers, in the whole network.

    `now` are the present choices, in the numbers of the piece. A piece is plain records, so that it can be handed to
    another process.
    """

    network: Network
    tasks: tuple[int, ...]
    options: tuple[tuple[int, ...], ...]
    now: Chosen = ()


class Nights:
    """Some nights at a time, as wide as is proved to be the best in one piece's work."""

    def __init__(self, board: Board, effort: Effort) -> None:
        self._board, self._effort, self._began_s = board, effort, monotonic()
        self._draw = random.Random(effort.seed)  # noqa: S311 - not a secret, and the seed is an argument
        self._spans = Spans(board.network)
        self._width = 3

    @property
    def open(self) -> bool:
        """Tell whether there is anything that could be done otherwise."""
        return bool(self._spans.numbers)

    def step(self, hands: Hands) -> float:
        """Solve as many pieces as there are workers, and take over what is better."""
        pieces = [piece for piece in (self._piece() for _ in range(self._effort.workers)) if piece.tasks]
        work = PIECE_WORK * self._effort.workers
        solve = partial(solve_piece, effort=self._effort.piece(PIECE_S, self._began_s))
        for piece, answer in zip(pieces, hands.map(solve, pieces), strict=True):
            work += answer.effort / EFFORT_PER_SECOND / self._effort.workers
            self._take(piece, answer)
        return work

    def _piece(self) -> Piece:
        free, allowed = self._spans.pick(self._board.ledger.chosen, self._draw, self._width)
        return cut(self._board, free, allowed)

    def _take(self, piece: Piece, answer: Answer) -> None:
        """Take over what is found, and fit the width to how hard it was."""
        self._width = min(self._width + 1, WIDEST) if answer.proved else max(self._width - 2, 2)
        if answer.objective is not None:
            self._board.change(changes(piece, self._board.ledger.chosen, answer.chosen))


class Spans:
    """The nights of each resource: groups of options that overlap in time."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._span_of: dict[Pair, int] = {}
        self._members: list[list[Pair]] = []
        self._spans_of: dict[int, list[int]] = defaultdict(list)
        self._before: dict[int, list[int]] = defaultdict(list)
        for one, two in network.precedence:
            self._before[two].append(one)
        by_resource: dict[str, list[tuple[int, int, int, int, int]]] = defaultdict(list)
        for index, task in enumerate(network.tasks):
            for number in usable(task) if task.skip_cost is not None else ():
                option = task.options[number]
                by_resource[option.resource or f"?{index}"].append((index, number, option.start, option.end, 0))
        for _, items in sorted(by_resource.items()):
            for block in blocks(items):
                self._add([(item[0], item[1]) for item in block])
        self.numbers = range(len(self._members))

    def pick(self, chosen: Iterable[Choice | None], draw: random.Random, width: int) -> tuple[set[int], set[Pair]]:
        """Return tasks to free and the (task, option) they may take: some spans, and who is in or could come in.

        Where a task waits, the piece has spans of its own and of what must come before it; spans are added to which
        those who are there could move, so that there is something to exchange.
        """
        now = list(chosen)
        there: dict[int, list[int]] = defaultdict(list)
        for task, choice in enumerate(now):
            if choice is not None and (task, choice[0]) in self._span_of:
                there[self._span_of[task, choice[0]]].append(task)
        out = [task for task, choice in enumerate(now) if choice is None and task in self._spans_of]
        focus, spans = [], [draw.choice(self.numbers)]
        if out and draw.random() < START_AT_WAITING:
            focus = self._with_earlier(draw.choice(out))
            spans = self._spans_for(focus, now, draw, width)
        for _ in range(2 * width):
            if len(spans) >= width:
                break
            span = draw.choice(spans)
            mover = draw.choice(there[span] or [task for task, _ in self._members[span]])
            other = draw.choice(self._spans_of[mover])
            spans = spans if other in spans else [*spans, other]
        return self._free(now, draw, spans, focus)

    def _add(self, members: list[Pair]) -> None:
        for pair in members:
            self._span_of[pair] = len(self._members)
            if len(self._members) not in self._spans_of[pair[0]]:
                self._spans_of[pair[0]].append(len(self._members))
        self._members.append(members)

    def _with_earlier(self, task: int) -> list[int]:
        return [task, *(one for one in self._before.get(task, ()) if one in self._spans_of)]

    def _spans_for(self, focus: list[int], chosen: list[Choice | None], draw: random.Random, width: int) -> list[int]:
        spans: dict[int, None] = {}
        for task in focus:
            own = self._spans_of[task]
            spans.update(dict.fromkeys(draw.sample(own, min(max(width // 2, 1), len(own)))))
            choice = chosen[task]
            if choice is not None:
                spans[self._span_of[task, choice[0]]] = None
        return list(spans)

    def _free(
        self, chosen: list[Choice | None], draw: random.Random, spans: list[int], focus: list[int]
    ) -> tuple[set[int], set[Pair]]:
        pairs = {pair for span in spans for pair in self._members[span]}
        inside = sorted({pair[0] for pair in pairs})
        here = [index for index in inside if (choice := chosen[index]) and (index, choice[0]) in pairs]
        waiting = [index for index in inside if chosen[index] is None]
        draw.shuffle(here)
        draw.shuffle(waiting)
        many = FREE_TASKS if len(chosen) <= MANY else FREE_OF_MANY
        free = {*focus, *here[:many], *waiting[: max(many - len(here), many // 3)]}
        return free, {pair for pair in pairs if pair[0] in free}


def cut(board: Board, free: set[int], allowed: set[Pair]) -> Piece:
    """Return the network of the free tasks with their allowed options; other tasks stay where they are.

    Those that can meet a free task are in it as tasks with one exact option; what all others use of limits and
    charges is taken off.
    """
    network = board.network
    free = _ready(board, free)
    numbers: dict[int, list[int]] = {task: [] for task in free}
    for task, number in sorted(allowed):
        if task in free:
            numbers[task].append(number)
    for task in _held(board, numbers):
        numbers[task] = [_number(board.at(task))]
    tasks = tuple(sorted(numbers))
    options = tuple(tuple(numbers[task]) for task in tasks)
    place = {task: i for i, task in enumerate(tasks)}
    spot = {(task, o): (place[task], i) for task in tasks for i, o in enumerate(numbers[task])}
    piece = Network(
        tasks=tuple(
            _task(network.tasks[task], numbers[task], None if task in free else board.at(task)) for task in tasks
        ),
        precedence=tuple((place[a], place[b]) for b in tasks for a in board.before[b] if a in place),
        capacities=_capacities(board, place),
        limits=_limits(board, spot),
        charges=_charges(board, spot),
        pools=_pools(network, place),
        gaps=_gaps(network, tasks),
    )
    made = Piece(network=piece, tasks=tasks, options=options)
    return replace(made, now=hint_for(made, board.ledger.chosen))


def solve_piece(piece: Piece, effort: Effort) -> Answer:
    """Solve a piece, beginning with the present choices."""
    return solve_tasks(piece.network, effort, hint=piece.now or None)


def _gaps(network: Network, tasks: tuple[int, ...]) -> dict[tuple[str, str], int]:
    """Return the gaps between the places of some tasks, as far as there are any."""
    places = sorted({network.tasks[task].place for task in tasks})
    return {(one, two): gap for one in places for two in places if (gap := network.gaps.get((one, two), 0))}


def hint_for(piece: Piece, chosen: Chosen | list[Choice | None]) -> Chosen:
    """Return the present choices in the numbers of a piece; those it does not offer are left out."""
    return tuple(
        None if (choice := chosen[task]) is None or choice[0] not in numbers else (numbers.index(choice[0]), choice[1])
        for task, numbers in zip(piece.tasks, piece.options, strict=True)
    )


def changes(piece: Piece, chosen: Chosen | list[Choice | None], answer: Chosen) -> dict[int, Choice | None]:
    """Return what an answer to a piece changes, in the numbers of the whole network."""
    new: dict[int, Choice | None] = {
        task: None if choice is None else (numbers[choice[0]], choice[1])
        for task, numbers, choice in zip(piece.tasks, piece.options, answer, strict=True)
    }
    return {task: choice for task, choice in new.items() if choice != chosen[task]}


def _number(choice: Choice | None) -> int:
    return -1 if choice is None else choice[0]


def _held(board: Board, numbers: dict[int, list[int]]) -> set[int]:
    """Return the placed tasks that are not free and that a free one could meet in time, or that it waits for."""
    network = board.network
    spans: dict[str, set[tuple[int, int]]] = defaultdict(set)
    held: set[int] = set()
    for task, mine in numbers.items():
        options = [network.tasks[task].options[number] for number in mine]
        for option in options:
            if option.resource is not None:
                spans[option.resource].add((option.start, option.end))
        hulls = {(option.start, option.end) for option in options}
        held |= _neighbours(board, task, hulls)
        held |= {*board.before[task], *board.after[task]}
    for resource, some in spans.items():
        held |= {task for start, end in some for task in board.ledger.busy(resource, start, end)}
    for pool in network.pools:
        held |= {task for task, _, _ in pool.changes}
    return {task for task in held if task not in numbers and board.at(task) is not None}


def _neighbours(board: Board, task: int, spans: set[tuple[int, int]]) -> set[int]:
    """Return the tasks that share a capacity with a task and are done within its spans."""
    found = set()
    for other in {use.task for capacity in board.capacities_of.get(task, ()) for use in capacity.uses}:
        choice = board.at(other)
        if choice is not None:
            end = choice[1] + board.network.tasks[other].duration
            if any(choice[1] < b and a < end for a, b in spans):
                found.add(other)
    return found


def _ready(board: Board, free: set[int]) -> set[int]:
    """Return the free tasks without those that wait for a task which is neither free nor placed."""
    while True:
        barred = {b for b in free if any(a not in free and board.at(a) is None for a in board.before[b])}
        if not barred:
            return free
        free = free - barred


def _task(task: Task, numbers: list[int], held: Choice | None) -> Task:
    if held is None:
        return replace(task, options=tuple(task.options[number] for number in numbers))
    option = task.options[held[0]]
    exact = Option(resource=option.resource, start=held[1], end=held[1] + task.duration, cost=option.cost)
    return replace(task, options=(exact,), skip_cost=None)


def _capacities(board: Board, place: dict[int, int]) -> tuple[Capacity, ...]:
    touched = {capacity.name: capacity for task in place for capacity in board.capacities_of.get(task, ())}
    found = []
    for _, capacity in sorted(touched.items()):
        uses = tuple(replace(use, task=place[use.task]) for use in capacity.uses if use.task in place)
        if len(uses) > 1:
            found.append(replace(capacity, uses=uses))
    return tuple(found)


def _limits(board: Board, spot: dict[Pair, Pair]) -> tuple[Limit, ...]:
    """Return the limits that a piece touches, less what others use."""
    inside: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    left: dict[int, int] = {}
    for pair, (task, option) in spot.items():
        for limit, amount in board.ledger.amounts(*pair):
            inside[limit].append((task, option, amount))
            choice = board.at(pair[0])
            mine = amount if choice is not None and choice[0] == pair[1] else 0
            left[limit] = left.get(limit, board.ledger.left(limit)) + mine
    return tuple(
        Limit(name=board.network.limits[limit].name, limit=left[limit], terms=tuple(terms))
        for limit, terms in sorted(inside.items())
    )


def _charges(board: Board, spot: dict[Pair, Pair]) -> tuple[Charge, ...]:
    """Return the charges that a piece could still cause; those paid by others in any case are left out."""
    inside: dict[int, list[Pair]] = defaultdict(list)
    mine: dict[int, int] = defaultdict(int)
    for pair, here in spot.items():
        choice = board.at(pair[0])
        for charge in board.charges_of.get(pair, ()):
            inside[charge].append(here)
            mine[charge] += choice is not None and choice[0] == pair[1]
    return tuple(
        replace(board.network.charges[charge], terms=tuple(terms))
        for charge, terms in sorted(inside.items())
        if board.paid(charge) == mine[charge]
    )


def _pools(network: Network, place: dict[int, int]) -> tuple[Pool, ...]:
    return tuple(
        replace(pool, changes=tuple((place[t], a, b) for t, a, b in pool.changes if t in place))
        for pool in network.pools
    )
