"""Textbook tables of critical path and levelling, through the list and the core that date orders."""

import pytest

from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.listing import first_fits
from planner.core.schedule.tasks import Capacity, Network, Option, Task, Use

# Taylor, Introduction to Management Science, project management problem 1 (activity on arrow), all six columns.
# arc: (duration, earliest start, earliest finish, latest start, latest finish, slack)
TABLE = {
    "1-2": (7, 0, 7, 2, 9, 2),
    "1-3": (10, 0, 10, 0, 10, 0),
    "2-4": (6, 7, 13, 9, 15, 2),
    "3-4": (5, 10, 15, 10, 15, 0),
    "3-5": (4, 10, 14, 14, 18, 4),
    "4-5": (3, 15, 18, 15, 18, 0),
    "5-6": (2, 18, 20, 18, 20, 0),
}
LENGTH = 20

# Resource levelling example of a course text (activity: duration, units, predecessors); 18 days, early-start use per
# day, sum of squares and floats as printed there. The least peak was found by enumerating all shifts.
LEVELLING = {
    "A": (3, 3, ""),
    "B": (5, 2, ""),
    "C": (6, 3, "A"),
    "D": (2, 4, "A"),
    "E": (3, 2, "D"),
    "F": (3, 1, "D"),
    "G": (4, 3, "B"),
    "H": (5, 2, "G"),
    "I": (4, 3, "C"),
    "J": (2, 4, "IEF"),
    "K": (3, 5, "J"),
}
DAYS = 18
EARLY_USE = (5, 5, 5, 9, 9, 9, 9, 9, 6, 5, 5, 5, 5, 6, 4, 5, 5, 5)


def network_of(
    durations: dict[str, int], pairs: list[tuple[str, str]], end: int, capacities: tuple[Capacity, ...] = ()
) -> Network:
    position = {key: index for index, key in enumerate(durations)}
    span = (Option(resource=None, start=0, end=end),)
    return Network(
        tasks=tuple(Task(key=key, duration=duration, options=span) for key, duration in durations.items()),
        precedence=tuple((position[before], position[after]) for before, after in pairs),
        capacities=capacities,
    )


def early_starts(durations: dict[str, int], pairs: list[tuple[str, str]], end: int) -> dict[str, int]:
    """Earliest starts: what the list gives when nothing is scarce and every task may be left out."""
    network = network_of(durations, pairs, end)
    free = Network(
        tasks=tuple(Task(key=t.key, duration=t.duration, options=t.options, skip_cost=1) for t in network.tasks),
        precedence=network.precedence,
    )
    chosen = first_fits(free, (0,) * len(durations))
    return {key: choice[1] for key, choice in zip(durations, chosen, strict=True) if choice is not None}


def latest_finishes(durations: dict[str, int], pairs: list[tuple[str, str]], end: int) -> dict[str, int]:
    """Latest finishes: the same with time running backwards."""
    backwards = early_starts(durations, [(after, before) for before, after in pairs], end)
    return {key: end - start for key, start in backwards.items()}


ARCS = {arc: row[0] for arc, row in TABLE.items()}
ARC_PAIRS = [(one, two) for one in TABLE for two in TABLE if one.split("-")[1] == two.split("-")[0]]
ACTIVITIES = {key: row[0] for key, row in LEVELLING.items()}
ACTIVITY_PAIRS = [(before, key) for key, row in LEVELLING.items() for before in row[2]]


def test_taylor_problem_1_takes_20_weeks() -> None:
    answer = solve_tasks(network_of(ARCS, ARC_PAIRS, 60), Effort(seconds=5), makespan=True)
    assert (answer.objective, answer.bound) == (LENGTH, LENGTH)


def test_taylor_problem_1_has_every_start_finish_and_slack_of_the_table() -> None:
    starts = early_starts(ARCS, ARC_PAIRS, LENGTH)
    finishes = latest_finishes(ARCS, ARC_PAIRS, LENGTH)
    rows = {
        arc: (d, starts[arc], starts[arc] + d, finishes[arc] - d, finishes[arc], finishes[arc] - d - starts[arc])
        for arc, d in ARCS.items()
    }
    assert rows == TABLE


def test_levelling_example_has_the_printed_length_daily_use_and_floats() -> None:
    answer = solve_tasks(network_of(ACTIVITIES, ACTIVITY_PAIRS, 40), Effort(seconds=5), makespan=True)
    starts = early_starts(ACTIVITIES, ACTIVITY_PAIRS, DAYS)
    finishes = latest_finishes(ACTIVITIES, ACTIVITY_PAIRS, DAYS)
    use = tuple(
        sum(LEVELLING[key][1] for key, start in starts.items() if start <= day < start + ACTIVITIES[key])
        for day in range(DAYS)
    )
    floats = {key: finishes[key] - ACTIVITIES[key] - starts[key] for key in ACTIVITIES}
    assert answer.objective == DAYS
    assert use == EARLY_USE
    assert (sum(use), sum(units * units for units in use)) == (111, 743)
    assert floats == {"A": 0, "B": 4, "C": 0, "D": 5, "E": 5, "F": 5, "G": 4, "H": 4, "I": 0, "J": 0, "K": 0}


@pytest.mark.parametrize(("peak", "length"), [(9, DAYS), (8, DAYS), (7, None)])
def test_levelling_example_fits_into_18_days_with_a_peak_of_8_and_not_of_7(peak: int, length: int | None) -> None:
    uses = tuple(Use(task=index, amount=row[1]) for index, row in enumerate(LEVELLING.values()))
    capacity = Capacity(name="units", limit=peak, uses=uses)
    network = network_of(ACTIVITIES, ACTIVITY_PAIRS, DAYS, capacities=(capacity,))
    answer = solve_tasks(network, Effort(seconds=10), makespan=True)
    assert answer.objective == length
