"""The stages of the search for a plan, each of which only ever makes the best plan, or the bound, better."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from functools import partial
from time import monotonic

from planner.core.plans import Placed, Progress
from planner.core.schedule.board import Board
from planner.core.schedule.compose import compose, good_loads
from planner.core.schedule.core import EFFORT_PER_SECOND, Effort, solve_tasks
from planner.core.schedule.dive import Depth, Dive
from planner.core.schedule.groups import regrouping
from planner.core.schedule.hands import Hands
from planner.core.schedule.layout import Layout, Load
from planner.core.schedule.listing import first_fits
from planner.core.schedule.proof import prove
from planner.core.schedule.puzzle import SIDE_BY_SIDE, solve_puzzle
from planner.core.schedule.relax import Relaxed, relax
from planner.core.schedule.search import Nights
from planner.core.schedule.tasks import Chosen, Network, cost_of, usable
from planner.core.schedule.turns import Way, take_turns

MOST_LEFT = (9000, 4500)  # loads that a dive leaves to puzzles
DIVE_S = 10.0  # work in one of these, in seconds of Effort
MOST_COMPOSED = 15  # loads that a plan is put together from, for each task
LEAST_REGROUPED = 71  # tasks; smaller networks are one group
WORK_SHARE = 0.8  # of the time for a large plan, what is counted as work: the rest is for what nobody counts
Tell = Callable[[Progress], bool]


@dataclass(slots=True, kw_only=True)
class Teller:
    """Passes progress on, with the best bound so far; once told to stop, it stays stopped.

    The clock stops the search too, where the machine is slower than the work is counted for; that costs the promise
    that the same input gives the same plan.
    """

    tell: Tell | None
    seconds: float
    bound: int | None = None
    best: int | None = None
    done: float = 0.0
    stopped: bool = field(default=False)
    began: float = field(default_factory=monotonic)
    draw: Callable[[Chosen], tuple[Placed, ...]] | None = None
    plan: Callable[[], tuple[Placed, ...]] | None = None

    def has(self, chosen: Chosen) -> None:
        """Take in the best plan so far, to be made from its choices where somebody wants it."""
        if self.draw is not None:
            self.plan = partial(self.draw, chosen)

    def __call__(self, doing: str, objective: int | None, done: float) -> bool:
        """Pass a state on, and tell whether to go on."""
        if objective is not None:
            self.best = objective if self.best is None else min(self.best, objective)
        self.done = max(self.done, round(min(done, 1.0), 3))
        if self.tell is not None and not self.stopped:
            state = Progress(doing=doing, objective=self.best, bound=self.bound, done=self.done, best=self.plan)
            self.stopped = not self.tell(state)
        return not self.stopped and self.left_s() > 0

    def at_least(self, bound: int) -> int:
        """Take in a proved bound, and return the best one."""
        self.bound = bound if self.bound is None else max(self.bound, bound)
        return self.bound

    def left_s(self) -> float:
        """Return how long the clock leaves [s]."""
        return self.began + self.seconds - monotonic()


@dataclass(slots=True, kw_only=True)
class Hunt:
    """The best plan so far, and the work spent on it [s of an idle machine]."""

    network: Network
    effort: Effort
    tell: Teller
    best: Chosen
    hands: Hands | None = None
    spent: float = 0.0
    relaxation: Relaxed | None = None

    def going(self) -> bool:
        """Tell whether to go on: nobody has stopped it, work is left, and the best is not proved to be the best."""
        open_still = cost_of(self.network, self.best) > self.tell.at_least(0)
        return open_still and not self.tell.stopped and self.spent < self.effort.seconds and self.tell.left_s() > 0

    def whole(self, until: float) -> None:
        """Solve the whole network by the core, until a share of all work is done."""

        def report(objective: int | None, bound: int) -> bool:
            self.tell.at_least(bound)
            return self.tell("proving", objective, self._share())

        answer = solve_tasks(self.network, self._until(until), hint=self.best, report=report)
        self.spent += answer.effort / EFFORT_PER_SECOND
        self.tell.at_least(answer.bound)
        if answer.objective is not None:
            self._take(answer.chosen)
        self.tell("proving", answer.objective, self._share())

    def relaxed(self, share: float) -> None:
        """Find a bound, and a plan that follows the relaxation."""

        def report(bound: int) -> bool:
            self.tell.at_least(bound)
            return self.tell("bounding", None, self._share())

        if report(0):
            self.relaxation = relax(self.network, share * self.effort.seconds, report)
            self.spent += self.relaxation.work
            self.tell.at_least(self.relaxation.bound)
            self._take(guided(self.network, self.relaxation))
            self.tell("bounding", cost_of(self.network, self.best), self._share())

    def composed(self, share: float) -> None:
        """Put a plan together from the loads that lose least."""
        relaxation, layout = self.relaxation, self.relaxation.layout if self.relaxation else None
        if relaxation is None or layout is None:
            return
        loads = good_loads(self.network, layout, relaxation, MOST_COMPOSED * len(self.network.tasks))
        self._compose(relaxation, layout, loads, self._share() + share)

    def dived(self, share: float) -> None:
        """Take loads by their prices until few are left, and puzzle those out, from several depths at a time."""
        relaxation, layout = self.relaxation, self.relaxation.layout if self.relaxation else None
        if relaxation is None or layout is None or relaxation.prices is None:
            return
        if layout.table is None:
            self.composed(share)
            return
        if not len(layout.table.costs):
            return
        before, dive = self.spent, Dive(self.network, layout, layout.table, relaxation.prices)

        def going(work: float) -> bool:
            self.spent = before + work
            return self.tell("composing", None, self._share())

        depths = {len(depth.rows): depth for depth in (dive.down_to(most, going) for most in MOST_LEFT)}
        if going(dive.work):
            self._puzzle_out(dive, tuple(depths.values()), min(share * self.effort.seconds, DIVE_S))

    def _puzzle_out(self, dive: Dive, depths: tuple[Depth, ...], seconds: float) -> None:
        effort = replace(self.effort, seconds=seconds, workers=1, wall_s=self.tell.left_s())
        with nullcontext(self.hands) if self.hands else ThreadPoolExecutor(self.effort.workers) as able:
            answers = able.map(partial(solve_puzzle, effort=effort), [depth.puzzle for depth in depths])
            for depth, solved in zip(depths, answers, strict=True):
                self.spent += SIDE_BY_SIDE * solved.work / self.effort.workers
                self._take(dive.finish(depth, solved))
                self.tell("composing", cost_of(self.network, self.best), self._share())

    def proved(self, share: float) -> None:
        """Prove the best plan from every load that a better one could have, in a share of all work."""
        until = self._until(self._share() + share)
        proof = (
            None if self.relaxation is None else prove(self.network, self.relaxation, self.best, self.tell.at_least(0))
        )
        if proof is None:
            return
        before = self.spent
        for _ in proof.guesses(until):
            self._take(proof.best)
            self.tell.at_least(proof.bound)
            self.spent = before + proof.work
            if not self.tell("proving", proof.cost, self._share()):
                return

    def _compose(self, relaxation: Relaxed, layout: Layout, loads: list[Load], until: float) -> None:
        found = compose(self.network, layout, relaxation, loads, self._until(until))
        self.spent += found.work
        if found.chosen is not None:
            self._take(found.chosen)
        self.tell("composing", cost_of(self.network, self.best), self._share())

    def improved(self, until: float) -> None:
        """Improve the plan by nights and by groups of them, until a share of all work is done."""
        effort, before = self._until(until), self.spent
        board = Board(self.network, self.best)

        def report(_: Board, share: float) -> bool:
            self.spent = before + share * effort.seconds
            if self.tell.best is None or board.cost < self.tell.best:
                self._take(board.chosen)
            return self.tell("improving", board.cost, self._share())

        work = take_turns(board, self._ways(board, effort), effort, self.tell.at_least(0), report, self.hands)
        self.spent = before + work
        self._take(board.chosen)

    def _ways(self, board: Board, effort: Effort) -> tuple[Way, ...]:
        nights = Nights(board, effort)
        if not nights.open:
            return ()
        relaxation = self.relaxation
        if len(self.network.tasks) < LEAST_REGROUPED or relaxation is None:
            return (nights,)
        grouping = regrouping(board, relaxation, effort)
        return (nights,) if grouping is None else (grouping, nights)

    def _until(self, share: float) -> Effort:
        """Return the effort that is left until a share of all work is done."""
        seconds = max(share * self.effort.seconds - self.spent, 0.01)
        return Effort(seconds=seconds, seed=self.effort.seed, workers=self.effort.workers, wall_s=self.tell.left_s())

    def _share(self) -> float:
        return min(self.spent / self.effort.seconds, 1.0) if self.effort.seconds else 1.0

    def _take(self, chosen: Chosen) -> None:
        if cost_of(self.network, chosen) < cost_of(self.network, self.best):
            self.best = chosen
            self.tell.has(chosen)


def guided(network: Network, relaxed: Relaxed) -> Chosen:
    """Return the cheapest of some lists that the relaxation leads: each task at the option it would choose most.

    The first to be booked are in turn those it is surest of, and those that are long and have few options.
    """
    tasks = range(len(network.tasks))
    surest = dict.fromkeys(tasks, 0.0)
    for (task, _), share in relaxed.shares.items():
        surest[task] = max(surest[task], round(share, 6))
    long = [max(task.duration, 1) for task in network.tasks]
    few = [len(usable(task)) for task in network.tasks]
    orders = (
        sorted(tasks, key=lambda t: (-surest[t], -long[t], t)),
        sorted(tasks, key=lambda t: (few[t] / long[t], t)),
        sorted(tasks, key=lambda t: (few[t] / long[t] ** 2, t)),
    )
    ranks = [{task: place for place, task in enumerate(order)} for order in orders]
    lists = [first_fits(network, tuple(rank[task] for task in tasks), shares=relaxed.shares) for rank in ranks]
    return min(lists, key=lambda chosen: cost_of(network, chosen))
