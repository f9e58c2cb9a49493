"""The scheduling core: one CP-SAT model for orders of a campus and for textbook instances alike."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from math import inf
from time import monotonic

from ortools.sat.python import cp_model

from planner.core.schedule.rows import choice_rows
from planner.core.schedule.tasks import Answer, Capacity, Choice, Network, Task, cost_of, latest_start, usable

Report = Callable[[int | None, int], bool]  # objective and bound so far; False means stop
EFFORT_PER_SECOND = 0.2  # units of the solver's own count of work that a second is worth; see `Effort`
NEVER = 2**40


class NoSpanError(ValueError):
    """A task that must be done and has no span long enough; `task` is its key."""

    def __init__(self, task: Task) -> None:
        super().__init__(f"Task {task.key} must be done, takes {task.duration} and fits into none of its spans.")
        self.task = task.key


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard to try.

    The solver counts its own work, and that count ends the search (`seconds` x EFFORT_PER_SECOND), so that the same
    input with the same seed and workers gives the same answer. The clock ends it only when it shows `wall_s`
    (None: four times `seconds`), which on a very slow machine costs that promise.
    """

    seconds: float
    seed: int = 0
    workers: int = 1
    wall_s: float | None = None

    def piece(self, seconds: float, began_s: float) -> "Effort":
        """Return the effort for a piece by one worker; `began_s` is when the clock for the whole began (monotonic)."""
        left_s = inf if self.wall_s is None else max(self.wall_s - (monotonic() - began_s), 0.1)
        return Effort(seconds=seconds, seed=self.seed, wall_s=left_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Built:
    """The variables of one model: a literal for each option that fits, one for leaving out, starts."""

    model: cp_model.CpModel
    picks: list[dict[int, cp_model.IntVar]]
    skips: list[cp_model.IntVar | None]
    starts: dict[int, cp_model.IntVar]
    charges: list[cp_model.IntVar]


def solve_tasks(
    network: Network,
    effort: Effort,
    *,
    makespan: bool = False,
    timed: bool = True,
    hint: tuple[Choice | None, ...] | None = None,
    report: Report | None = None,
) -> Answer:
    """Choose an option and a start for each task at the least cost, or at the earliest end of all.

    Parameters
    ----------
    network : Network
        Tasks, with what binds them.
    effort : Effort
        Limit of the work, seed, workers.
    makespan : bool
        Minimise the end of the last task instead of the cost.
    timed : bool
        False leaves out the starts and all that hangs on them. The answer is then no plan, and its bound is valid.
    hint : tuple, optional
        Choices to start from, one per task.
    report : callable, optional
        Called with each better objective or bound; returns False to stop.

    Returns
    -------
    Answer
        With the bound that was proved.

    Raises
    ------
    NoSpanError
        If a task that must be done fits into none of its spans.

    Examples
    --------
    >>> from planner.core.schedule.tasks import Option
    >>> span = (Option(resource="crew", start=0, end=9),)
    >>> pair = tuple(Task(key=key, duration=4, options=span) for key in "ab")
    >>> solve_tasks(Network(tasks=pair), Effort(seconds=5), makespan=True).objective
    8

    """
    for task in network.tasks:
        if task.skip_cost is None and not usable(task):
            raise NoSpanError(task)
    if not network.tasks:
        return Answer(chosen=(), objective=0, bound=0)
    built = _choices(network, starts=timed)
    if timed:
        _times(built, network)
    built.model.minimize(_end(built, network) if makespan else _cost(built, network))
    if hint is not None:
        _hint(built, network, hint)
    return _run(built, network, effort, report, makespan=makespan)


def _choices(network: Network, *, starts: bool) -> _Built:
    model = cp_model.CpModel()
    picks, skips, begin = [], [], {}
    for index, task in enumerate(network.tasks):
        mine = {number: model.new_bool_var("") for number in usable(task)}
        skip = None if task.skip_cost is None else model.new_bool_var("")
        model.add_exactly_one([*mine.values(), *([] if skip is None else [skip])])
        picks.append(mine)
        skips.append(skip)
        if starts and mine:
            begin[index] = _start(model, task, mine)
    for row in choice_rows(network):
        terms = [amount * picks[t][o] for t, o, amount in row.terms if o in picks[t]]
        if terms:
            model.add(sum(terms) <= row.limit)
    charges = [_charge(model, [picks[t][o] for t, o in charge.terms if o in picks[t]]) for charge in network.charges]
    for before, after in network.precedence:
        _needs(model, picks, skips, before, after)
    return _Built(model=model, picks=picks, skips=skips, starts=begin, charges=charges)


def _start(model: cp_model.CpModel, task: Task, mine: dict[int, cp_model.IntVar]) -> cp_model.IntVar:
    spans = {number: (task.options[number].start, latest_start(task, task.options[number])) for number in mine}
    hull = cp_model.Domain.from_intervals([list(span) for span in spans.values()])
    start = model.new_int_var_from_domain(hull, "")
    for number, literal in mine.items():
        model.add_linear_constraint(start, *spans[number]).only_enforce_if(literal)
    return start


def _charge(model: cp_model.CpModel, literals: list[cp_model.IntVar]) -> cp_model.IntVar:
    paid = model.new_bool_var("")
    for literal in literals:
        model.add_implication(literal, paid)
    return paid


def _needs(
    model: cp_model.CpModel,
    picks: list[dict[int, cp_model.IntVar]],
    skips: list[cp_model.IntVar | None],
    before: int,
    after: int,
) -> None:
    skip = skips[before]
    if skip is not None:
        for literal in picks[after].values():
            model.add_implication(literal, ~skip)


def _times(built: _Built, network: Network) -> None:
    used = _users(built, network)
    for resource in sorted(used):
        built.model.add_no_overlap([interval for _, interval in used[resource].values()])
    _gaps(built, network, used)
    for capacity in network.capacities:
        _capacity(built, network, capacity)
    for before, after in network.precedence:
        _after(built, network, before, after)
    _pools(built, network)


Users = dict[str, dict[int, tuple[cp_model.IntVar, cp_model.IntervalVar]]]


def _users(built: _Built, network: Network) -> Users:
    """Return by resource and task: the literal that it is used, and the optional interval."""
    users: Users = defaultdict(dict)
    for index, task in enumerate(network.tasks):
        by_resource: dict[str, list[cp_model.IntVar]] = defaultdict(list)
        for number, literal in built.picks[index].items():
            resource = task.options[number].resource
            if resource is not None:
                by_resource[resource].append(literal)
        for resource, literals in sorted(by_resource.items()):
            literal = _any_of(built.model, literals)
            interval = built.model.new_optional_fixed_size_interval_var(built.starts[index], task.duration, literal, "")
            users[resource][index] = (literal, interval)
    return users


def _any_of(model: cp_model.CpModel, literals: list[cp_model.IntVar]) -> cp_model.IntVar:
    """Return a literal that is true when one of those is, of which at most one can be."""
    if len(literals) == 1:
        return literals[0]
    whole = model.new_bool_var("")
    model.add(sum(literals) == whole)
    return whole


def _gaps(built: _Built, network: Network, users: Users) -> None:
    """Keep tasks of one resource apart by their gap, where it is more than nothing and they can come near."""
    if not any(network.gaps.values()):
        return
    order: dict[tuple[int, int], cp_model.IntVar] = {}
    for resource, mine in sorted(users.items()):
        for one, two in combinations(sorted(mine), 2):
            if _near(network, resource, one, two):
                first = order.setdefault((one, two), built.model.new_bool_var(""))
                both: list[cp_model.LiteralT] = [mine[one][0], mine[two][0]]
                _apart(built, network, one, two, [first, *both])
                _apart(built, network, two, one, [~first, *both])


def _near(network: Network, resource: str, one: int, two: int) -> bool:
    gap = max(network.gap(one, two), network.gap(two, one))
    if gap == 0:
        return False
    spans_one = [option for option in network.tasks[one].options if option.resource == resource]
    spans_two = [option for option in network.tasks[two].options if option.resource == resource]
    return any(a.start < b.end + gap and b.start < a.end + gap for a in spans_one for b in spans_two)


def _apart(built: _Built, network: Network, before: int, after: int, literals: list[cp_model.LiteralT]) -> None:
    end = built.starts[before] + network.tasks[before].duration + network.gap(before, after)
    built.model.add(built.starts[after] >= end).only_enforce_if(literals)


def _capacity(built: _Built, network: Network, capacity: Capacity) -> None:
    intervals, amounts = [], []
    for use in capacity.uses:
        task, start = network.tasks[use.task], built.starts.get(use.task)
        size = task.duration - use.lead - use.tail
        if start is None or size <= 0:
            continue
        intervals.append(
            built.model.new_optional_fixed_size_interval_var(start + use.lead, size, _done(built, use.task), "")
        )
        amounts.append(use.amount)
    if intervals:
        built.model.add_cumulative(intervals, amounts, capacity.limit)


def _done(built: _Built, task: int) -> cp_model.LiteralT:
    skip = built.skips[task]
    return True if skip is None else ~skip


def _after(built: _Built, network: Network, before: int, after: int) -> None:
    first, second = built.starts.get(before), built.starts.get(after)
    if first is not None and second is not None:
        end = first + network.tasks[before].duration
        built.model.add(second >= end).only_enforce_if([_done(built, after)])


def _pools(built: _Built, network: Network) -> None:
    for pool in network.pools:
        times: list[cp_model.LinearExprT] = []
        changes: list[int] = []
        actives: list[cp_model.LiteralT] = []
        for task, at_start, at_end in pool.changes:
            start = built.starts.get(task)
            if start is None:
                continue
            for moment, change in ((start, at_start), (start + network.tasks[task].duration, at_end)):
                if change:
                    times.append(moment)
                    changes.append(change)
                    actives.append(_done(built, task))
        for risen, amount in pool.rises if times else ():
            times.append(risen)
            changes.append(-amount)
            actives.append(True)
        if times:
            built.model.add_reservoir_constraint_with_active(times, changes, actives, pool.floor - pool.initial, NEVER)


def _cost(built: _Built, network: Network) -> cp_model.LinearExprT:
    terms: list[cp_model.LinearExprT] = []
    for task, picks, skip in zip(network.tasks, built.picks, built.skips, strict=True):
        terms.extend(task.options[number].cost * literal for number, literal in picks.items())
        if skip is not None:
            terms.append((task.skip_cost or 0) * skip)
    terms.extend(charge.cost * paid for charge, paid in zip(network.charges, built.charges, strict=True))
    return sum(terms)


def _end(built: _Built, network: Network) -> cp_model.LinearExprT:
    last = max((option.end for task in network.tasks for option in task.options), default=0)
    end = built.model.new_int_var(0, last, "")
    for index, start in built.starts.items():
        built.model.add(end >= start + network.tasks[index].duration).only_enforce_if([_done(built, index)])
    return end


def _hint(built: _Built, network: Network, hint: tuple[Choice | None, ...]) -> None:
    used = set()
    for index, choice in enumerate(hint):
        if choice is not None:
            used.add((index, choice[0]))
        for number, literal in built.picks[index].items():
            built.model.add_hint(literal, choice is not None and choice[0] == number)
        skip, start = built.skips[index], built.starts.get(index)
        if skip is not None:
            built.model.add_hint(skip, choice is None)
        if start is not None and choice is not None:
            built.model.add_hint(start, choice[1])
    for charge, paid in zip(network.charges, built.charges, strict=True):
        built.model.add_hint(paid, any(term in used for term in charge.terms))


class _Watch(cp_model.CpSolverSolutionCallback):
    """Passes each better solution on, and stops the search when told to."""

    def __init__(self, report: Report) -> None:
        super().__init__()
        self._report = report

    def on_solution_callback(self) -> None:
        if not self._report(round(self.objective_value), round(self.best_objective_bound)):
            self.stop_search()


def _run(built: _Built, network: Network, effort: Effort, report: Report | None, *, makespan: bool) -> Answer:
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = effort.seed
    solver.parameters.num_workers = effort.workers
    solver.parameters.interleave_search = effort.workers > 1
    solver.parameters.max_deterministic_time = effort.seconds * EFFORT_PER_SECOND
    solver.parameters.max_time_in_seconds = 4 * effort.seconds if effort.wall_s is None else effort.wall_s
    status = solver.status_name(solver.solve(built.model, _Watch(report) if report else None))
    bound = int(-((-solver.best_objective_bound + 1e-6) // 1))
    work = float(solver.response_proto.deterministic_time)
    if status not in ("OPTIMAL", "FEASIBLE"):
        nothing = (None,) * len(network.tasks)
        return Answer(chosen=nothing, objective=None, bound=bound, effort=work, impossible=status == "INFEASIBLE")
    chosen = tuple(_choice(solver, built, index) for index in range(len(network.tasks)))
    objective = round(solver.objective_value) if makespan else cost_of(network, chosen)
    return Answer(chosen=chosen, objective=objective, bound=objective if status == "OPTIMAL" else bound, effort=work)


def _choice(solver: cp_model.CpSolver, built: _Built, index: int) -> Choice | None:
    for number, literal in built.picks[index].items():
        if solver.boolean_value(literal):
            start = built.starts.get(index)
            return number, 0 if start is None else solver.value(start)
    return None
