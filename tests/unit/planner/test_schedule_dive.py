"""Plans put together by a dive, against the core's model of the whole network, and by hand."""

from dataclasses import replace
from functools import partial

import pytest

from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.dive import Depth, Dive
from planner.core.schedule.hunt import Hunt, Teller
from planner.core.schedule.puzzle import Puzzle, Solved, solve_puzzle
from planner.core.schedule.relax import relax
from planner.core.schedule.tasks import Capacity, Chosen, Limit, Network, Option, Task, Use, cost_of
from tests.unit.planner.test_schedule_loads import network_by_chance

NOTHING_MORE = Solved(taken=None, bound=0.0, work=0.0)
ALL = 10**6


def dive_into(network: Network) -> Dive:
    relaxed = relax(network, 2.0)
    assert relaxed.layout is not None
    assert relaxed.layout.table is not None
    assert relaxed.prices is not None
    return Dive(network, relaxed.layout, relaxed.layout.table, relaxed.prices)


def plan_from(dive: Dive, depth: Depth, *, puzzled: bool) -> Chosen:
    return dive.finish(depth, solve_puzzle(depth.puzzle, Effort(seconds=20)) if puzzled else NOTHING_MORE)


def can_be_kept(network: Network, chosen: Chosen) -> bool:
    """Tell by the core's model, which knows nothing of loads, whether these choices go together to the minute."""
    tasks = tuple(
        replace(task, options=(), skip_cost=0)
        if choice is None
        else replace(
            task,
            skip_cost=None,
            options=tuple(
                replace(option, start=choice[1], end=choice[1] + task.duration)
                if number == choice[0]
                else replace(option, end=option.start)
                for number, option in enumerate(task.options)
            ),
        )
        for task, choice in zip(network.tasks, chosen, strict=True)
    )
    return solve_tasks(replace(network, tasks=tasks), Effort(seconds=10)).objective is not None


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize(("most", "puzzled"), [(0, False), (20, True), (ALL, True)])
def test_what_a_dive_makes_can_be_kept_to_the_minute_and_costs_no_less_than_the_best(
    seed: int, most: int, *, puzzled: bool
) -> None:
    network = network_by_chance(seed, count=7)
    dive = dive_into(network)
    chosen = plan_from(dive, dive.down_to(most), puzzled=puzzled)
    best = solve_tasks(network, Effort(seconds=20))
    assert best.objective is not None
    assert can_be_kept(network, chosen)
    assert best.objective <= cost_of(network, chosen) < sum(task.skip_cost or 0 for task in network.tasks)


@pytest.mark.parametrize("seed", range(10))
def test_the_puzzle_of_everything_promises_no_less_than_the_best(seed: int) -> None:
    network = network_by_chance(seed, count=6)
    left = dive_into(network).down_to(ALL)
    solved = solve_puzzle(left.puzzle, Effort(seconds=20))
    best = solve_tasks(network, Effort(seconds=20)).objective or 0
    assert left.loads == ()
    assert solved.taken is not None
    assert sum(task.skip_cost or 0 for task in network.tasks) + left.puzzle.costs[list(solved.taken)].sum() <= best


def test_like_nights_of_two_crews_are_given_one_load_each() -> None:
    spans = tuple(Option(resource=crew, start=0, end=10) for crew in "rs")
    network = Network(tasks=tuple(Task(key=key, duration=6, options=spans, skip_cost=9) for key in "ab"))
    dive = dive_into(network)
    taken = dive.down_to(0)
    assert sorted(option for load in taken.loads for _, option in load) == [0, 1]
    assert sorted(choice[0] for choice in plan_from(dive, taken, puzzled=False) if choice) == [0, 1]
    again = dive_into(network)
    assert sorted(choice[0] for choice in plan_from(again, again.down_to(ALL), puzzled=True) if choice) == [0, 1]


def test_a_task_that_waits_for_another_is_taken_once_that_is() -> None:
    nights = tuple(Option(resource="r", start=start, end=start + 10) for start in (0, 24))
    tasks = tuple(Task(key=key, duration=6, options=nights, skip_cost=9) for key in "ab")
    dive = dive_into(Network(tasks=tasks, precedence=((0, 1),)))
    taken = dive.down_to(0)
    assert taken.loads == (((0, 0),), ((1, 1),))
    assert plan_from(dive, taken, puzzled=False) == ((0, 0), (1, 24))


def test_tasks_that_wait_are_not_forgotten_while_others_are_taken() -> None:
    tasks = tuple(
        Task(key=str(i), duration=6, options=(Option(resource="r", start=24 * i, end=24 * i + 10),), skip_cost=9 + i)
        for i in range(12)
    )
    chain = Network(tasks=tasks, precedence=tuple((i, i + 1) for i in range(11)))
    assert len(dive_into(chain).down_to(0).loads) == 12


def test_two_crews_that_cannot_both_darken_a_building_at_once_are_not_taken_together() -> None:
    # 4 and 6 of 10 fit by their sum; as the first begins at 3, neither 3 before it nor 3 after it is room for the other
    spans = ((4, Option(resource="r", start=3, end=7)), (6, Option(resource="s", start=0, end=10)))
    tasks = tuple(Task(key=str(size), duration=size, options=(span,), skip_cost=9) for size, span in spans)
    dark = Capacity(name="dark", limit=1, uses=(Use(task=0), Use(task=1)))
    dive = dive_into(Network(tasks=tasks, capacities=(dark,)))
    assert len(dive.down_to(0).loads) == 1


def test_a_dive_that_is_told_to_stop_takes_nothing_more() -> None:
    network = network_by_chance(1, count=7)
    told: list[float] = []
    dive = dive_into(network)
    assert dive.down_to(0, lambda work: told.append(work) or False).loads == ()  # type: ignore[func-returns-value]
    assert told == [0.0]


def test_a_large_plan_in_which_nothing_can_be_paid_for_leaves_all_out() -> None:
    # no load at all keeps the limit, so that there is nothing to dive into
    nights = [Option(resource="r", start=24 * i, end=24 * i + 10) for i in range(80)]
    tasks = tuple(Task(key=str(i), duration=6, options=(span,), skip_cost=9) for i, span in enumerate(nights))
    money = Limit(name="money", limit=0, terms=tuple((i, 0, 5) for i in range(80)))
    hunt = Hunt(
        network=Network(tasks=tasks, limits=(money,)),
        effort=Effort(seconds=2.0),
        tell=Teller(tell=None, seconds=20.0),
        best=(None,) * 80,
    )
    for stage in (partial(hunt.relaxed, 0.3), partial(hunt.dived, 0.3), partial(hunt.improved, 1.0)):
        stage()
    assert hunt.best == (None,) * 80


def test_one_puzzle_is_not_solved_twice_where_few_loads_are_left_at_any_depth(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[int] = []
    real = solve_puzzle

    def counted(puzzle: Puzzle, effort: Effort) -> Solved:
        seen.append(len(puzzle.costs))
        return real(puzzle, effort)

    monkeypatch.setattr("planner.core.schedule.hunt.solve_puzzle", counted)
    network = network_by_chance(1, count=7)
    hunt = Hunt(network=network, effort=Effort(seconds=5.0), tell=Teller(tell=None, seconds=60.0), best=(None,) * 7)
    hunt.relaxed(0.3)
    hunt.dived(0.3)
    assert len(seen) == 1
    assert cost_of(network, hunt.best) >= (solve_tasks(network, Effort(seconds=20)).objective or 0)
