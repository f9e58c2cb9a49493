"""The scheduling core on cases worked by hand, and what it refuses."""

from concurrent.futures import Executor

import pytest

from planner.core.schedule.board import Board
from planner.core.schedule.core import Effort, NoSpanError, solve_tasks
from planner.core.schedule.listing import first_fits
from planner.core.schedule.relax import relax, simple_bound
from planner.core.schedule.rows import choice_rows, rounded
from planner.core.schedule.search import Nights, Spans, changes, cut, hint_for
from planner.core.schedule.tasks import Capacity, Charge, Limit, Network, Option, Pool, Task, Use, cost_of
from planner.core.schedule.turns import TURN_S, take_turns

QUICK = Effort(seconds=4)


def task(key: str, duration: int, *spans: tuple[str, int, int, int], skip: int | None = 100, place: str = "") -> Task:
    options = tuple(Option(resource=r, start=a, end=b, cost=c) for r, a, b, c in spans)
    return Task(key=key, duration=duration, options=options, skip_cost=skip, place=place)


def test_a_task_without_a_span_long_enough_is_named_before_the_solver_calls_the_model_broken() -> None:
    with pytest.raises(NoSpanError, match="Task long must be done, takes 5"):
        solve_tasks(Network(tasks=(task("long", 5, ("r", 0, 4, 0), skip=None),)), QUICK)


def test_a_task_without_any_span_is_left_out_at_its_price() -> None:
    answer = solve_tasks(Network(tasks=(task("none", 5), task("short", 2, ("r", 0, 1, 0)))), QUICK)
    assert answer.chosen == (None, None)
    assert (answer.objective, answer.bound) == (200, 200)


def test_no_tasks_cost_nothing() -> None:
    assert solve_tasks(Network(tasks=()), QUICK).objective == 0


def test_a_span_that_is_exactly_long_enough_is_used_and_one_shorter_is_not() -> None:
    assert solve_tasks(Network(tasks=(task("a", 4, ("r", 3, 7, 1)),)), QUICK).chosen == ((0, 3),)
    assert solve_tasks(Network(tasks=(task("a", 5, ("r", 3, 7, 1)),)), QUICK).chosen == (None,)


@pytest.mark.parametrize(("end", "objective"), [(11, 0), (10, 100)])
def test_gap_between_places_decides_whether_two_fit(end: int, objective: int) -> None:
    # 4 + 3 of travel + 4 = 11
    pair = (task("a", 4, ("r", 0, end, 0), place="x"), task("b", 4, ("r", 0, end, 0), place="y"))
    gaps = {("x", "y"): 3, ("y", "x"): 3}
    network = Network(tasks=pair, gaps=gaps)
    assert solve_tasks(network, QUICK).objective == objective
    assert cost_of(network, first_fits(network, (0, 1))) == objective


def test_capacity_counts_only_the_part_of_a_task_that_uses_it() -> None:
    # each 6 long with 2 before and 1 after: 3 of use; both in 0..9 need use in turn: 2..5 and 5..8
    pair = (task("a", 6, ("r", 0, 9, 0)), task("b", 6, ("s", 0, 9, 0)))
    uses = tuple(Use(task=i, lead=2, tail=1) for i in range(2))
    network = Network(tasks=pair, capacities=(Capacity(name="dark", limit=1, uses=uses),))
    assert solve_tasks(network, QUICK).objective == 0
    assert cost_of(network, first_fits(network, (0, 1))) == 0
    narrow = Network(tasks=(task("a", 6, ("r", 0, 8, 0)), task("b", 6, ("s", 0, 8, 0))), capacities=network.capacities)
    assert solve_tasks(narrow, QUICK).objective == 100


def test_charge_is_paid_once_and_draws_tasks_together() -> None:
    pair = tuple(task(key, 2, ("r", 0, 4, 0), ("s", 0, 4, 0)) for key in "ab")
    charges = (Charge(name="r", cost=7, terms=((0, 0), (1, 0))), Charge(name="s", cost=9, terms=((0, 1), (1, 1))))
    answer = solve_tasks(Network(tasks=pair, charges=charges), QUICK)
    assert answer.objective == 7
    assert answer.proved


def test_limit_leaves_out_the_cheaper_task() -> None:
    pair = (task("a", 2, ("r", 0, 9, 0), skip=5), task("b", 2, ("r", 0, 9, 0), skip=6))
    network = Network(tasks=pair, limits=(Limit(name="money", limit=10, terms=((0, 0, 6), (1, 0, 5))),))
    assert solve_tasks(network, QUICK).objective == 5


def test_what_comes_after_waits_or_is_left_out_with_what_comes_before() -> None:
    pair = (task("a", 4, ("r", 0, 4, 0)), task("b", 4, ("s", 0, 8, 0)))
    network = Network(tasks=pair, precedence=((0, 1),))
    assert solve_tasks(network, QUICK).chosen == ((0, 0), (0, 4))
    orphan = Network(tasks=(task("a", 5, ("r", 0, 4, 0)), pair[1]), precedence=((0, 1),))
    assert solve_tasks(orphan, QUICK).chosen == (None, None)
    assert first_fits(orphan, (0, 1)) == (None, None)


def test_pool_makes_the_taker_wait_for_the_giver() -> None:
    pair = (task("taker", 2, ("r", 0, 9, 0)), task("giver", 3, ("s", 0, 9, 0)))
    pool = Pool(name="spares", initial=1, floor=1, changes=((0, -1, 0), (1, 0, 1)))
    answer = solve_tasks(Network(tasks=pair, pools=(pool,)), QUICK)
    taker, giver = answer.chosen
    assert taker is not None
    assert giver is not None
    assert taker[1] >= giver[1] + 3
    assert first_fits(Network(tasks=pair, pools=(pool,)), (0, 1))[0] is None  # the list asks the taker first


def test_rounding_counts_whole_shares_only() -> None:
    # Fekete and Schepers: u_1 leaves one half alone and takes anything more for a whole
    assert [rounded(size, 600, 1) for size in (299, 300, 301)] == [0, 300, 600]
    assert [rounded(size, 600, 2) for size in (200, 201, 401)] == [400, 600, 1200]


def test_three_tasks_just_over_half_a_night_prove_that_two_nights_hold_two() -> None:
    # work 18 in 20 hours of crew: hours alone would allow all three, halves do not
    three = tuple(task(key, 6, ("r", 0, 10, 0), ("r", 24, 34, 0)) for key in "abc")
    network = Network(tasks=three)
    assert simple_bound(network) == 0
    assert relax(network, 5.0).bound == 100
    assert any(row.limit == 10 for row in choice_rows(network))
    assert solve_tasks(network, QUICK).objective == 100


def test_pieces_reach_what_the_whole_proves_and_stop_at_the_bound() -> None:
    # the list puts the two short ones into one night and leaves no night to a long one
    four = tuple(task(key, d, ("r", 0, 10, 1), ("r", 24, 34, 2)) for key, d in (("a", 3), ("b", 3), ("c", 7), ("d", 7)))
    network = Network(tasks=four)
    listed = first_fits(network, (0, 1, 2, 3))
    bound = solve_tasks(network, QUICK).bound
    board = Board(network, listed)
    take_turns(board, (Nights(board, QUICK),), QUICK, bound, lambda *_: True)
    assert cost_of(network, listed) == 104
    assert cost_of(network, board.chosen) == board.cost == bound == 6


def test_search_stops_when_told_and_keeps_what_it_has() -> None:
    network = Network(tasks=tuple(task(key, 6, ("r", 0, 10, 1), ("r", 24, 34, 2)) for key in "abc"))
    listed = first_fits(network, (0, 1, 2))
    board = Board(network, listed)
    assert take_turns(board, (Nights(board, QUICK),), QUICK, 0, lambda *_: False) == 0
    assert board.chosen == listed


class Won:
    """A way that lowers the cost of a board by as much as it is told, turn by turn, and notes when it was asked."""

    def __init__(self, name: str, board: Board, wins: list[int], log: list[str]) -> None:
        self.name, self.board, self.wins, self.log = name, board, wins, log

    def step(self, _: Executor) -> float:
        self.log.append(self.name)
        self.board.cost -= self.wins.pop(0) if self.wins else 0
        return TURN_S


def test_the_way_that_wins_most_for_its_work_goes_on_until_it_wins_less() -> None:
    board, log = Board(Network(tasks=()), ()), list[str]()
    board.cost = 1000
    ways = (Won("groups", board, [100, 30, 0, 0], log), Won("nights", board, [40, 60, 10, 0], log))
    work = take_turns(board, ways, Effort(seconds=6 * TURN_S), 0, lambda *_: True)
    # each once; groups win 100 at first, then (100 + 30) / 2 = 65, then 32.5; nights 40, then 50, then 30
    assert log == ["groups", "nights", "groups", "groups", "nights", "nights"]
    assert work == 6 * TURN_S
    assert board.cost == 1000 - 100 - 40 - 30 - 0 - 60 - 10


def test_a_piece_holds_what_it_does_not_free_and_pays_no_charge_twice() -> None:
    pair = tuple(task(key, 2, ("r", 0, 6, 0), ("r", 24, 30, 0)) for key in "ab")
    charges = (Charge(name="0", cost=7, terms=((0, 0), (1, 0))), Charge(name="1", cost=7, terms=((0, 1), (1, 1))))
    limits = (Limit(name="money", limit=9, terms=((0, 0, 4), (0, 1, 4), (1, 0, 4), (1, 1, 4))),)
    network = Network(tasks=pair, charges=charges, limits=limits)
    chosen = ((0, 0), (1, 24))
    piece = cut(Board(network, chosen), {1}, {(1, 0), (1, 1)})
    assert piece.tasks == (0, 1)
    assert piece.network.tasks[0].options == (Option(resource="r", start=0, end=2),)
    answer = solve_tasks(piece.network, QUICK, hint=hint_for(piece, chosen))
    assert changes(piece, chosen, answer.chosen) == {1: (0, 2)}
    board = Board(network, chosen)
    assert board.change({1: (0, 2)})
    assert board.cost == cost_of(network, board.chosen) == 7


def test_spans_of_a_resource_are_its_nights() -> None:
    three = tuple(task(key, 2, ("r", 0, 6, 0), ("r", 24, 30, 0), ("s", 0, 6, 0)) for key in "abc")
    assert len(Spans(Network(tasks=three)).numbers) == 3


def test_capacity_keeps_apart_what_shares_hours_only_in_part() -> None:
    # 0..4 and 2..6 overlap in 2..4, which no sum over the whole span 0..99 of the third can tell
    pair = (task("a", 4, ("r", 0, 4, 0)), task("b", 4, ("s", 2, 6, 0)), task("c", 4, ("t", 0, 99, 0)))
    capacity = Capacity(name="dark", limit=1, uses=tuple(Use(task=i) for i in range(3)))
    assert solve_tasks(Network(tasks=pair, capacities=(capacity,)), QUICK).objective == 100


def test_a_piece_has_only_the_money_that_the_rest_leaves() -> None:
    pair = (task("a", 2, ("r", 0, 6, 0)), task("b", 2, ("r", 240, 246, 0)))
    network = Network(tasks=pair, limits=(Limit(name="money", limit=9, terms=((0, 0, 5), (1, 0, 5))),))
    piece = cut(Board(network, ((0, 0), None)), {1}, {(1, 0)})
    assert piece.tasks == (1,)
    assert piece.network.limits[0].limit == 4
    assert solve_tasks(piece.network, QUICK).chosen == (None,)


def test_a_piece_leaves_out_what_waits_for_a_task_that_is_nowhere() -> None:
    pair = (task("a", 2, ("r", 0, 1, 0)), task("b", 2, ("r", 24, 30, 0)))
    network = Network(tasks=pair, precedence=((0, 1),))
    assert cut(Board(network, (None, None)), {1}, {(1, 0)}).tasks == ()
