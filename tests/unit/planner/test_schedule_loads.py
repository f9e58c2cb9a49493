"""Loads of a night by hand and by counting: what fits, what it earns, what a bound from it may claim."""

import random
from itertools import combinations, permutations, product

import numpy as np
import pytest
from scipy.sparse import csr_array

from planner.core.schedule.board import Board
from planner.core.schedule.compose import compose, loads_losing
from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.fitting import fit
from planner.core.schedule.layout import Layout
from planner.core.schedule.loads import MOST_ORDERED, best_load, load_blocks, loads_within, starts_of
from planner.core.schedule.meeting import clash_rows
from planner.core.schedule.proof import prove
from planner.core.schedule.puzzle import Puzzle, solve_puzzle
from planner.core.schedule.relax import relax
from planner.core.schedule.rows import meeting_rows
from planner.core.schedule.search import Nights
from planner.core.schedule.tasks import Capacity, Charge, Limit, Network, Option, Task, Use, cost_of
from planner.core.schedule.turns import take_turns

GAPS = {(a, b): 0 if a == b else 1 if {a, b} == {"x", "y"} else 3 for a in "xyz" for b in "xyz"}


def network_by_chance(seed: int, count: int = 6) -> Network:
    """Return a small network with everything in it that a bound must survive."""
    draw = random.Random(seed)
    tasks = tuple(
        Task(
            key=str(i),
            duration=draw.randint(2, 5),
            place=draw.choice("xyz"),
            skip_cost=draw.randint(30, 90),
            options=tuple(
                Option(
                    resource=r, start=100 * night + draw.randint(0, 2), end=100 * night + 10, cost=draw.randint(0, 20)
                )
                for r in "rs"
                for night in range(2)
            ),
        )
        for i in range(count)
    )
    spans = [(r, night) for r in "rs" for night in range(2)]
    charges = tuple(
        Charge(name=f"{place}{i}", cost=draw.randint(1, 9), terms=terms)
        for i in range(4)
        for place in ("", "x", "y", "z")
        if (terms := tuple((t, i) for t, task in enumerate(tasks) if place in ("", task.place)))
    )
    assert len(spans) == 4
    return Network(
        tasks=tasks,
        gaps=GAPS,
        charges=charges,
        precedence=((0, 1),) if draw.random() < 0.5 else (),
        limits=(Limit(name="money", limit=12, terms=tuple((t, o, 1 + t % 3) for t in range(count) for o in range(4))),),
        capacities=(Capacity(name="dark", limit=1, uses=tuple(Use(task=t, lead=1) for t in range(0, count, 2))),),
    )


@pytest.mark.parametrize("seed", range(12))
def test_the_best_load_earns_what_counting_all_loads_finds(seed: int) -> None:
    network = network_by_chance(seed)
    draw = np.random.default_rng(seed)
    for block in load_blocks(network, {}):
        worth = draw.uniform(-5, 20, len(block.pairs))
        gain, items = best_load(block, worth)
        counted = max(
            (earned(network, block.pairs, worth, some), some)
            for size in range(len(block.pairs) + 1)
            for some in combinations(range(len(block.pairs)), size)
            if not some or starts_of(network, [block.pairs[i] for i in some]) is not None
        )
        assert gain >= counted[0] - 1e-9  # a relaxation: it may count a load that starts late, never miss one
        assert gain == pytest.approx(max(earned(network, block.pairs, worth, items), 0.0))
        within = loads_within(block, worth, counted[0] - 1e-9, 100_000)
        assert within is not None
        assert not counted[1] or counted[1] in within


def earned(network: Network, pairs: tuple[tuple[int, int], ...], worth: np.ndarray, some: tuple[int, ...]) -> float:
    chosen = {pairs[item] for item in some}
    fees = sum(charge.cost for charge in network.charges if not chosen.isdisjoint(charge.terms))
    return float(sum(worth[item] for item in some)) - fees


def test_starts_keep_windows_and_journeys() -> None:
    def two(end: int, late: int = 0) -> Network:
        spans = (Option(resource="r", start=0, end=end), Option(resource="r", start=late, end=end))
        tasks = tuple(
            Task(key=place, duration=4, place=place, options=(span,)) for place, span in zip("xz", spans, strict=True)
        )
        return Network(tasks=tasks, gaps=GAPS)

    # 4 + 3 of travel + 4 = 11
    assert starts_of(two(11), ((0, 0), (1, 0))) == {0: 0, 1: 7}
    assert starts_of(two(10), ((0, 0), (1, 0))) is None
    assert starts_of(two(12, late=8), ((0, 0), (1, 0))) == {0: 0, 1: 8}
    assert starts_of(two(11), ()) == {}
    with pytest.raises(ValueError, match=f"{MOST_ORDERED + 1} tasks"):
        starts_of(two(11), [(i, 0) for i in range(MOST_ORDERED + 1)])


@pytest.mark.parametrize("seed", range(20))
def test_no_bound_is_above_the_best_plan(seed: int) -> None:
    network = network_by_chance(seed)
    best = solve_tasks(network, Effort(seconds=20))
    assert best.proved
    assert best.objective is not None
    relaxed = relax(network, 2.0)
    assert relaxed.bound <= best.objective
    assert relaxed.layout is not None
    loads = loads_losing(network, relaxed.layout, relaxed, best.objective - relaxed.value + 1, 5000)
    assert loads is not None
    composed = compose(network, relaxed.layout, relaxed, loads, Effort(seconds=50))
    assert composed.bound <= best.objective + 1e-6
    assert composed.chosen is not None
    assert cost_of(network, composed.chosen) >= best.objective


def test_loads_prove_what_hours_cannot() -> None:
    # nights of 10 hold one of 6 each, whatever else: three of 6 and one of 4 in two nights leave one of 6 out
    sizes = (6, 6, 6, 4)
    spans = (Option(resource="r", start=0, end=10), Option(resource="r", start=24, end=34))
    tasks = tuple(Task(key=str(i), duration=size, options=spans, skip_cost=100) for i, size in enumerate(sizes))
    assert relax(Network(tasks=tasks), 2.0).bound == 100


def test_like_nights_of_two_crews_are_one_block_and_unlike_ones_are_not() -> None:
    spans = tuple(Option(resource=r, start=0, end=10, cost=1) for r in "rs")
    tasks = tuple(Task(key=key, duration=4, options=spans, skip_cost=9) for key in "ab")
    assert [len(block.twins) for block in load_blocks(Network(tasks=tasks), {})] == [2]
    assert len(load_blocks(Network(tasks=tasks), {(0, 0): ((0, 1),)})) == 2  # a limit that only one of them is under


def test_who_comes_after_counts_only_as_far_as_the_other_comes_in_time() -> None:
    spans = tuple(Option(resource="r", start=s, end=s + 10) for s in (0, 24))
    network = Network(
        tasks=tuple(Task(key=k, duration=6, options=spans, skip_cost=9) for k in "ab"), precedence=((0, 1),)
    )
    assert {row.terms for row in meeting_rows(network)} == {((1, 0, 1),), ((1, 0, 1), (1, 1, 1), (0, 0, -1))}
    assert Layout(network).amounts.shape == (4, 2)


def test_a_board_refuses_what_breaks_a_rule_or_costs_more_and_stays_as_it_was() -> None:
    spans = tuple(Option(resource="r", start=s, end=s + 10, cost=c) for s, c in ((0, 0), (24, 5)))
    tasks = tuple(Task(key=key, duration=6, options=spans, skip_cost=50) for key in "ab")
    network = Network(tasks=tasks, precedence=((0, 1),))
    board = Board(network, ((0, 0), (1, 24)))
    assert board.cost == 5
    for change in ({1: (0, 2)}, {0: (1, 24), 1: (0, 0)}, {0: None}, {1: None}):
        assert not board.change(change)
        assert (board.chosen, board.cost) == (((0, 0), (1, 24)), 5)
    assert Board(network, (None, None)).change({0: (0, 0), 1: (1, 24)})


@pytest.mark.parametrize("seed", range(6))
def test_the_table_holds_exactly_the_loads_that_can_be_done(seed: int) -> None:
    network = network_by_chance(seed)
    layout = Layout(network)
    assert layout.table is not None
    seen = {layout.load_at(row, layout.table) for row in range(len(layout.table.costs))}
    for number, block in enumerate(layout.blocks):
        for size in range(1, len(block.pairs) + 1):
            for some in combinations(range(len(block.pairs)), size):
                pairs = [block.pairs[item] for item in some]
                assert ((number, some) in seen) == can_be_done(network, pairs), pairs


def can_be_done(network: Network, pairs: list[tuple[int, int]]) -> bool:
    """Tell whether a load has starts, in an order that keeps what comes first, within every limit by itself."""
    if solo := [
        limit for limit in network.limits if sum(a for t, o, a in limit.terms if (t, o) in pairs) > limit.limit
    ]:
        return not solo
    return any(in_turn(network, list(order)) for order in permutations(pairs))


def in_turn(network: Network, pairs: list[tuple[int, int]]) -> bool:
    ready, last = -(2**30), -1
    for task, option in pairs:
        span = network.tasks[task].options[option]
        ready = max(span.start, ready + (network.gap(last, task) if last >= 0 else 0)) + network.tasks[task].duration
        last = task
        if ready > span.end:
            return False
    place = {task: number for number, (task, _) in enumerate(pairs)}
    return all(place[a] < place[b] for a, b in network.precedence if a in place and b in place)


@pytest.mark.parametrize("seed", range(8))
def test_a_puzzle_is_solved_to_the_best_of_all_choices_whatever_the_prices(seed: int) -> None:
    draw = np.random.default_rng(seed)
    uses = draw.integers(-1, 4, (9, 4)).astype(float)
    limits, costs = draw.integers(1, 6, 4).astype(float), draw.integers(-20, 3, 9).astype(float)
    ways = np.array(list(product((0, 1), repeat=9)), dtype=float)
    best = (ways @ costs)[(ways @ uses <= limits).all(axis=1)].min()
    for prices in (np.zeros(4), draw.uniform(0, 5, 4), np.array([0.001, 0.3, 0.0, 9.0])):
        puzzle = Puzzle(costs=costs, uses=csr_array(uses), limits=limits, prices=prices)
        solved = solve_puzzle(puzzle, Effort(seconds=20))
        assert solved.taken is not None
        assert costs[list(solved.taken)].sum() == best
        assert best - 1 < solved.bound <= best + 1e-6


def test_what_does_not_go_together_is_not_taken_together() -> None:
    two = csr_array(np.array([[1.0], [1.0]]))
    puzzle = Puzzle(costs=np.array([-3.0, -5.0]), uses=two, limits=np.array([2.0]), prices=np.zeros(1), apart=((0, 1),))
    assert solve_puzzle(puzzle, Effort(seconds=5)).taken == (1,)


def test_a_board_books_elsewhere_what_does_not_fit_as_wished_and_never_pays_more() -> None:
    spans = tuple(Option(resource="r", start=s, end=s + 10, cost=c) for s, c in ((0, 0), (24, 5)))
    tasks = tuple(Task(key=key, duration=6, options=spans, skip_cost=50) for key in "ab")
    board = Board(Network(tasks=tasks), ((0, 0), None))
    assert board.settle({1: (0, 2)}) == [1]
    assert board.chosen == ((0, 0), (1, 24))
    waits = Board(Network(tasks=tasks[:1]), ((0, 0),))
    waits.settle({0: (1, 24)})  # possible, and dearer
    assert waits.chosen == ((0, 0),)


def test_a_task_that_is_worth_less_than_its_price_is_paid_for_where_it_is_left_out() -> None:
    # of two loads that share a task only one is taken; the price of the task must not make leaving it out cheap
    one = csr_array(np.array([[1.0, 0.0], [1.0, 1.0]]))
    puzzle = Puzzle(costs=np.array([-3.0, -2.0]), uses=one, limits=np.ones(2), prices=np.array([9.0, 4.0]))
    solved = solve_puzzle(puzzle, Effort(seconds=5))
    assert (solved.taken, solved.bound) == ((0,), -3.0)


def test_a_solver_that_is_stopped_before_it_has_an_answer_proves_nothing() -> None:
    # so stopped, it reports a bound of nought, which is above all costs here: that was once taken for a proof
    draw = np.random.default_rng(1)
    uses = csr_array((draw.random((4000, 900)) < 0.02).astype(float))
    puzzle = Puzzle(costs=-draw.uniform(1, 9, 4000).round(), uses=uses, limits=np.ones(900), prices=np.zeros(900))
    solved = solve_puzzle(puzzle, Effort(seconds=1e-6, wall_s=0.1))
    assert not solved.proved
    assert solved.bound < solved_value(puzzle, solve_puzzle(puzzle, Effort(seconds=0.5)).taken)


def solved_value(puzzle: Puzzle, taken: tuple[int, ...] | None) -> float:
    """Return what some columns cost; nothing taken costs nothing."""
    return float(puzzle.costs[list(taken or ())].sum())


@pytest.mark.parametrize("seed", [0, 2])
def test_loads_that_clash_are_those_that_no_starts_bring_together(seed: int) -> None:
    network = network_by_chance(seed, count=5)
    layout = Layout(network)
    assert layout.table is not None
    loads = [layout.load_at(row, layout.table) for row in range(len(layout.table.costs))]
    some = [tuple(layout.blocks[block].pairs[item] for item in items) for block, items in loads]
    rows, _ = clash_rows(network, layout, loads)
    told = {frozenset(two) for row in rows for two in combinations(row, 2)}
    clashes = 0
    for one, two in list(combinations(range(len(loads)), 2))[::5]:
        options = [network.tasks[some[each][0][0]].options[some[each][0][1]] for each in (one, two)]
        nights = [option.start // 100 for option in options]
        if (
            options[0].resource == options[1].resource
            or nights[0] != nights[1]
            or {t for t, _ in some[one]} & {t for t, _ in some[two]}
        ):
            continue
        whole = fit(network, (some[one], some[two]))
        assert bool(whole.clashes) == (frozenset((one, two)) in told)
        clashes += bool(whole.clashes)
    assert clashes


def test_a_least_clash_leaves_nothing_out_that_it_needs_and_holds_nothing_else() -> None:
    # two crews of one building: 6 of 10 each cannot both be dark, whatever else they do in the other building
    tasks = tuple(
        Task(key=f"{r}{i}", duration=d, options=(Option(resource=r, start=0, end=10),))
        for r in "rs"
        for i, d in enumerate((6, 2))
    )
    dark = Capacity(name="dark", limit=1, uses=(Use(task=0), Use(task=2)))
    network = Network(tasks=tasks, capacities=(dark,))
    assert fit(network, (((0, 0), (1, 0)), ((2, 0), (3, 0)))).clashes == ((((0, 0),), ((2, 0),)),)
    apart = fit(network, (((0, 0), (1, 0)), ((3, 0),)))
    assert apart.clashes == ()
    assert apart.starts.keys() == {0, 1, 3}


def test_a_short_search_gives_the_same_plan_each_time() -> None:
    network, effort = network_by_chance(3, count=12), Effort(seconds=0.4, seed=7, workers=2)
    found = set()
    for _ in range(3):
        board = Board(network, (None,) * 12)
        begun = board.cost
        take_turns(board, (Nights(board, effort),), effort, 0, lambda *_: True)
        assert board.cost == cost_of(network, board.chosen) < begun
        found.add(board.chosen)
    assert len(found) == 1


@pytest.mark.parametrize("seed", range(8))
def test_a_proof_from_loads_ends_at_the_best_plan_of_the_whole_model(seed: int) -> None:
    network = network_by_chance(seed, 5 + seed % 3)
    best = solve_tasks(network, Effort(seconds=20))
    proof = prove(network, relax(network, 2.0), (None,) * len(network.tasks), 0)
    assert proof is not None
    for _ in proof.guesses(Effort(seconds=60)):
        assert proof.bound <= (best.objective or 0) <= proof.cost
    assert proof.cost == proof.bound == best.objective
