"""Put a plan together from loads: choose one for each span of each resource, then find starts.

A load stands for all that it holds and for every part of it. The choice keeps every limit and all that follows from
time and order as sums (see `rows`); starts are given after it, and what then does not fit is booked where it does.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.core.schedule.core import EFFORT_PER_SECOND, Effort
from planner.core.schedule.layout import Layout, Load, fees_of
from planner.core.schedule.listing import first_fits
from planner.core.schedule.loads import MOST_ORDERED, Pair, starts_of
from planner.core.schedule.relax import Relaxed
from planner.core.schedule.tasks import Choice, Chosen, Network

Place = tuple[int, int]  # block, item


@dataclass(frozen=True, slots=True, kw_only=True)
class Composed:
    """The plan, which may be no better than others, and the work it took [s of an idle machine]."""

    chosen: Chosen
    work: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Model:
    model: cp_model.CpModel
    loads: dict[Load, cp_model.IntVar]
    items: dict[Place, cp_model.IntVar]


def compose(network: Network, relaxed: Relaxed, effort: Effort, best: Chosen) -> Composed:
    """Return the best plan that can be put together from the loads of a relaxation; `best` is where to start from."""
    layout = relaxed.layout
    if layout is None:
        return Composed(chosen=best, work=0.0)
    built = _build(network, layout, _fitting(network, layout, relaxed.loads))
    _hint(built, layout, best)
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = effort.seed
    solver.parameters.num_workers = effort.workers
    solver.parameters.interleave_search = effort.workers > 1
    solver.parameters.max_deterministic_time = effort.seconds * EFFORT_PER_SECOND
    solver.parameters.max_time_in_seconds = 4 * effort.seconds if effort.wall_s is None else max(effort.wall_s, 0.1)
    status = solver.status_name(solver.solve(built.model))
    work = float(solver.response_proto.deterministic_time) / EFFORT_PER_SECOND
    if status not in ("OPTIMAL", "FEASIBLE"):
        return Composed(chosen=best, work=work)
    return Composed(chosen=_realised(network, layout, built, solver), work=work)


def _fitting(network: Network, layout: Layout, loads: tuple[Load, ...]) -> list[Load]:
    """Return the loads that one resource can really do; of others, the parts without one item that it can."""
    found: dict[Load, None] = {}
    for block, items in loads:
        parts = (
            [items]
            if _fits(network, layout, (block, items))
            else [items[:i] + items[i + 1 :] for i in range(len(items))]
        )
        found.update(((block, part), None) for part in parts if part and _fits(network, layout, (block, part)))
    return sorted(found)


def _fits(network: Network, layout: Layout, load: Load) -> bool:
    pairs = layout.blocks[load[0]].pairs
    return len(load[1]) <= MOST_ORDERED and starts_of(network, (pairs[item] for item in load[1])) is not None


def _build(network: Network, layout: Layout, loads: list[Load]) -> _Model:
    model = cp_model.CpModel()
    taken = {load: model.new_int_var(0, len(layout.blocks[load[0]].twins), "") for load in loads}
    holding: dict[Place, list[cp_model.IntVar]] = defaultdict(list)
    by_block: dict[int, list[cp_model.IntVar]] = defaultdict(list)
    for (block, items), variable in taken.items():
        by_block[block].append(variable)
        for item in items:
            holding[block, item].append(variable)
    done = {place: model.new_bool_var("") for place in sorted(holding)}
    for place, variable in done.items():
        model.add(sum(holding[place]) >= variable)
    for block, variables in sorted(by_block.items()):
        model.add(sum(variables) <= len(layout.blocks[block].twins))
    _tasks(model, network, layout, done)
    _rows(model, layout, done)
    fees = [fees_of(layout.blocks[block], items) * variable for (block, items), variable in taken.items()]
    model.minimize(sum([*fees, *_costs(network, layout, done)]))
    return _Model(model=model, loads=taken, items=done)


def _costs(network: Network, layout: Layout, done: dict[Place, cp_model.IntVar]) -> Iterator[cp_model.LinearExprT]:
    """Yield what doing each item costs beyond leaving its task out."""
    for (block, item), variable in done.items():
        task, option = layout.blocks[block].pairs[item]
        yield (network.tasks[task].options[option].cost - (network.tasks[task].skip_cost or 0)) * variable


def _tasks(model: cp_model.CpModel, network: Network, layout: Layout, done: dict[Place, cp_model.IntVar]) -> None:
    by_task: dict[int, list[cp_model.IntVar]] = defaultdict(list)
    for (block, item), variable in done.items():
        by_task[layout.blocks[block].pairs[item][0]].append(variable)
    for task, variables in sorted(by_task.items()):
        if network.tasks[task].skip_cost is None:
            model.add_exactly_one(variables)
        else:
            model.add_at_most_one(variables)


def _rows(model: cp_model.CpModel, layout: Layout, done: dict[Place, cp_model.IntVar]) -> None:
    """Add the limits; twins stand in each with the same amount."""
    terms: dict[int, list[cp_model.LinearExprT]] = defaultdict(list)
    for (block, item), variable in done.items():
        place = int(layout.edges[block]) + item
        for entry in range(layout.amounts.indptr[place], layout.amounts.indptr[place + 1]):
            terms[int(layout.amounts.indices[entry])].append(int(layout.amounts.data[entry]) * variable)
    for row, mine in sorted(terms.items()):
        model.add(sum(mine) <= layout.rows[row].limit)


def _hint(built: _Model, layout: Layout, best: Chosen) -> None:
    used = {(task, choice[0]) for task, choice in enumerate(best) if choice is not None}
    for (block, item), variable in built.items.items():
        built.model.add_hint(variable, any(twin[item] in used for twin in layout.blocks[block].twins))


def _realised(network: Network, layout: Layout, built: _Model, solver: cp_model.CpSolver) -> Chosen:
    """Give the loads to twins and the tasks starts; book again what meets others in time."""
    kept: list[Choice | None] = [None] * len(network.tasks)
    wishes: dict[Pair, float] = {}
    given: dict[int, int] = defaultdict(int)
    left = {place for place, variable in built.items.items() if solver.boolean_value(variable)}
    for (block, items), variable in built.loads.items():
        for _ in range(solver.value(variable)):
            twin = layout.blocks[block].twins[given[block]]
            given[block] += 1
            mine = dict(twin[item] for item in items if (block, item) in left)
            left -= {(block, item) for item in items}
            for task, start in (starts_of(network, mine.items()) or {}).items():
                kept[task] = (mine[task], start)
                wishes[task, mine[task]] = 1.0
    return first_fits(network, _by_start(kept), tuple(kept), wishes)


def _by_start(kept: list[Choice | None]) -> tuple[int, ...]:
    order = sorted(range(len(kept)), key=lambda task: (2**60 if (choice := kept[task]) is None else choice[1], task))
    rank = {task: place for place, task in enumerate(order)}
    return tuple(rank[task] for task in range(len(kept)))
