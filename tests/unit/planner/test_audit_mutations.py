"""The mutation table of the check: what is done to a good plan by hand, and the rule that must see it.

Run with -s to read the table. A mutation that no rule sees would mean a plan that a person could be shown and harmed by.
"""

import ast
import inspect
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from types import FrameType, ModuleType

import pytest

from inventory.core.catalogue import Delivery, Part, Spare
from planner.core import audit
from planner.core.audit import RULES
from planner.core.brief import Brief
from planner.core.plans import Placed, Wear
from tests.unit.planner.nights import MONDAY, NOW, PHASE, Job, broken, crew, need, order, put, window

# Two crews, three buildings of which North bears one outage and Far two, one phase of 500 EUR; the plan is tight in
# every rule: windows are as long as they are needed, travel is to the minute, budget to the cent, shelf to the piece.
A = order("a", setup_min=15, restore_min=10, parts=(need("box", 2),), freed=(("old", 1),))  # 145 min
B = order("b", building="South", parts=(need("box", 1),), predecessors=("a",))  # 120 min
C = order("c", people=2, cost_parts=Decimal(200), rooms=(("North", "room c"), ("North", "hall")))
D = order("d", building="Far", hours=3, parts=(need("panel"),), freed=(("old", -1),))
E = order("e", cost_parts=Decimal(0), rooms=(("North", "hall"),))
SPANS = (
    *(window(key, night, crew=by) for key in "abc" for night in (0, 1) for by in ("Red", "Blue")),
    window("d", 2, 20, 23, crew="Blue"),
    *(window("d", night, crew="Blue") for night in (0, 3)),
    *(window(key, 3) for key in "ab"),
    window("c", -8),
    *(window("e", night, crew=by) for night in (0, 1, 4) for by in ("Red", "Blue")),
)
JOB = Job(
    orders=(A, B, C, D, E),
    spans=SPANS,
    crews=(crew("Red"), crew("Blue", people=1)),
    phases=(replace(PHASE, budget=Decimal(500)),),
    brief=Brief(receiving_reserve_days=0, spare_floor=1, scrapped_pct=0),
    parts=(
        Part(key="box", lead_time_days=60, on_hand=Decimal(3)),
        Part(key="panel", lead_time_days=9, on_hand=Decimal(0)),  # ordered 1 March: there on 10 March, the third night
    ),
    spares=(Spare(model="old", on_hand=1),),
    fixed=(put(E, 4, 20),),
)
WEAR = Wear(model="old", shape=1.0, scale_years=2.0, as_of=NOW.date(), ages=tuple((f"s{n}", 5.0) for n in range(10)))
MAY_MOVE = replace(JOB.brief, booked_may_move=True, notice_days=30)
PLAN = {
    "a": put(A, 0, 20),
    "b": put(B, 0, 20 + 155 / 60),
    "c": put(C, 1, 20),
    "d": put(D, 2, 20, by="Blue"),
    "e": put(E, 4, 20),
}
SHORT = replace(JOB.parts[0], on_hand=Decimal(2))  # a box too few
BOOKED = JOB.but(booked=(PLAN["c"],))


def shifted(placed: Placed, minutes: int) -> Placed:
    by = timedelta(minutes=minutes)
    moved = {name: getattr(placed, name) + by for name in ("start", "end", "dark_from", "dark_to")}
    return replace(placed, **moved)


def plan(**changed: Placed | None) -> tuple[Placed, ...]:
    """Return the good plan with some orders placed otherwise, or dropped (None)."""
    return tuple(placed for placed in {**PLAN, **changed}.values() if placed is not None)


Made = tuple[str, int, Callable[[], tuple[tuple[Placed, ...], Job]]]


def of(**changed: Placed | None) -> Callable[[], tuple[tuple[Placed, ...], Job]]:
    return lambda: (plan(**changed), JOB)


def under(**facts: object) -> Callable[[], tuple[tuple[Placed, ...], Job]]:
    """Leave the plan as it is, and change what it must obey."""
    return lambda: (plan(), JOB.but(**facts))


MUTATIONS: tuple[Made, ...] = (
    ("a minute before its window", 1, of(a=shifted(PLAN["a"], -1))),
    ("a minute past the end of its window", 1, of(d=shifted(PLAN["d"], 1))),
    ("a minute shorter than its work", 1, of(d=replace(PLAN["d"], end=PLAN["d"].end - timedelta(minutes=1)))),
    (
        "dark a minute before it is set up",
        1,
        of(a=replace(PLAN["a"], dark_from=PLAN["a"].dark_from - timedelta(minutes=1))),
    ),
    ("booked under another night", 1, of(c=replace(PLAN["c"], night=MONDAY))),
    ("booked under another phase", 1, of(c=replace(PLAN["c"], phase="P2"))),
    ("planned twice", 1, lambda: ((*plan(), put(C, 0, 23.9)), JOB)),
    (
        "in the past",
        1,
        lambda: (plan(c=put(C, -8, 20)), JOB.but(phases=(replace(PHASE, start=MONDAY - timedelta(days=9)),))),
    ),
    ("an order that nobody asked for", 1, under(orders=(A, B, D, E))),
    ("to a crew with too few people", 2, of(c=put(C, 1, 20, by="Blue"))),
    ("to a crew that is not there", 2, of(c=put(C, 1, 20, by="Green"))),
    ("travel a minute too short", 2, of(b=shifted(PLAN["b"], -1))),
    (
        "travel to another district as short as within one",
        2,
        lambda: (plan(d=put(D, 1, 20 + 130 / 60, by="Red")), JOB.but(spans=(*SPANS, window("d", 1, 20, 26)))),
    ),
    ("two orders of one crew at once", 2, of(c=put(C, 0, 21))),
    ("a minute past the shift", 2, under(crews=(crew("Red", shift_to_min=35 - 1), crew("Blue", people=1)))),
    ("on a day without a shift", 2, under(crews=(crew("Red", days=(0, 4)), crew("Blue", people=1)))),
    ("two outages where the building bears one", 3, of(a=put(A, 0, 20, by="Blue"), c=put(C, 0, 20), b=put(B, 1, 23))),
    ("a room dark twice in one night", 3, of(a=None, b=None, c=put(C, 0, 20), e=put(E, 0, 22.5, by="Blue"))),
    ("a cent over the budget", 4, under(phases=(replace(PHASE, budget=Decimal("499.99")),))),
    ("outside its phase", 4, under(phases=(replace(PHASE, end=MONDAY + timedelta(days=1), budget=Decimal(500)),))),
    ("in a district the phase does not work in", 4, under(phases=(replace(PHASE, districts=("east",)),))),
    ("in a phase that does not exist", 4, of(c=replace(PLAN["c"], phase="P2"))),
    ("without a price under a budget", 4, under(orders=(A, B, replace(C, unpriced=("box",)), D, E))),
    ("in another currency than the budget", 4, under(orders=(A, B, replace(C, currency="CHF"), D, E))),
    ("its predecessor dropped", 5, of(a=None)),
    ("its predecessor a night later", 5, of(a=put(A, 1, 22))),
    ("its predecessor a minute late", 5, of(b=shifted(PLAN["b"], -11))),
    ("before its parts can be there", 6, of(d=put(D, 0, 20, by="Blue"))),
    (
        "a part that nobody knows the lead time of",
        6,
        under(parts=(JOB.parts[0], replace(JOB.parts[1], lead_time_days=None))),
    ),
    (
        "what it counts on is delivered a day too late",
        7,
        under(
            parts=(
                replace(SHORT, deliveries=(Delivery(part="box", due=MONDAY + timedelta(days=1), quantity=Decimal(1)),)),
                JOB.parts[1],
            )
        ),
    ),
    (
        "what it counts on is overdue and may never come",
        7,
        under(
            parts=(
                replace(
                    SHORT, deliveries=(Delivery(part="box", due=NOW.date() - timedelta(days=1), quantity=Decimal(1)),)
                ),
                JOB.parts[1],
            )
        ),
    ),
    (
        "one piece more than lies on the shelf",
        7,
        under(parts=(SHORT, JOB.parts[1])),
    ),
    ("spares taken before they are freed", 8, of(a=put(A, 3, 20), b=put(B, 3, 22.6))),
    ("one spare below the floor", 8, under(orders=(A, B, C, replace(D, freed=(("old", -2),)), E))),
    ("some of what is freed scrapped", 8, under(brief=replace(JOB.brief, scrapped_pct=1))),
    (
        "a spare taken that failures will need",
        8,
        under(orders=(replace(A, freed=()), B, C, D, E), spares=(Spare(model="old", on_hand=2),), wear=(WEAR,)),
    ),
    ("what is begun moved by a minute", 9, of(e=shifted(PLAN["e"], 1))),
    ("what is begun given to another crew", 9, of(e=put(E, 4, 20, by="Blue"))),
    ("what is begun dropped", 9, of(e=None)),
    ("what is booked moved by a minute", 9, lambda: (plan(c=shifted(PLAN["c"], 1)), BOOKED)),
    ("what is booked dropped", 9, lambda: (plan(c=None), BOOKED)),
    ("two booked orders with their nights swapped", 9, lambda: (plan(a=put(A, 1, 20), c=put(C, 0, 20)), BOOKED)),
    (
        "what is booked moved without notice of its night",
        9,
        lambda: (plan(c=shifted(PLAN["c"], 1)), BOOKED.but(brief=MAY_MOVE)),
    ),
    (
        "what is booked moved to a night too near to tell its rooms",
        9,
        lambda: (plan(c=put(C, 0, 20)), BOOKED.but(brief=replace(MAY_MOVE, notice_days=8))),
    ),
)


def test_the_plan_that_is_mutated_breaks_nothing() -> None:
    assert broken(JOB.audit(plan())) == broken(BOOKED.audit(plan())) == []
    moved, soon_enough = plan(c=shifted(PLAN["c"], 1)), replace(MAY_MOVE, notice_days=8)
    assert broken(BOOKED.but(brief=soon_enough).audit(moved)) == [], "it may move, and there is time to tell its rooms"
    assert broken(JOB.but(wear=(WEAR,)).audit(plan())) == [], "what is freed is there for what is taken"
    in_time = Delivery(part="box", due=MONDAY, quantity=Decimal(1))
    assert broken(JOB.but(parts=(replace(SHORT, deliveries=(in_time,)), JOB.parts[1])).audit(plan())) == []
    one_more = (Spare(model="old", on_hand=2),)
    assert broken(JOB.but(orders=(replace(A, freed=()), B, C, D, E), spares=one_more).audit(plan())) == []


@pytest.mark.parametrize(
    ("rule", "made"), [(rule, made) for _, rule, made in MUTATIONS], ids=[name for name, _, _ in MUTATIONS]
)
def test_each_mutation_is_seen_by_its_rule(rule: int, made: Callable[[], tuple[tuple[Placed, ...], Job]]) -> None:
    placed, job = made()
    assert rule in broken(job.audit(placed))


def test_every_rule_sees_some_mutation_that_no_other_rule_sees_but_late_parts_which_are_not_on_the_shelf_either() -> (
    None
):
    alone: set[int] = set()
    print("\nMutation table of the check: what is done to a good plan, and what the rule says that must see it")  # noqa: T201 - the table is to be read
    for name, rule, made in MUTATIONS:
        placed, job = made()
        lines = [line for line in job.audit(placed) if not line.holds]
        alone |= {line.number for line in lines} if len(lines) == 1 else set()
        said = next((line.breach for line in lines if line.number == rule), "NOT SEEN")
        print(f"  {name:<42} {rule}  {said}")  # noqa: T201
    assert alone == {number for number, _, _ in RULES} - {6}


def told_in(module: ModuleType) -> set[int]:
    """Return the lines of a module that put a breach into words."""
    tree = ast.parse(inspect.getsource(module))
    looks = [part for part in tree.body if isinstance(part, ast.FunctionDef) and part.name not in {"_at", "_names"}]
    made = [node for look in looks for node in ast.walk(look) if isinstance(node, ast.Yield | ast.Return)]
    return {node.value.lineno for node in made if isinstance(node.value, ast.JoinedStr)}


def test_every_breach_that_the_check_can_tell_is_told_of_some_mutation() -> None:
    told: set[int] = set()

    def watch(frame: FrameType, event: str, _: object) -> Callable[..., object] | None:
        if frame.f_code.co_filename != audit.__file__:
            return None
        if event == "line":
            told.add(frame.f_lineno)
        return watch

    before = sys.gettrace()
    sys.settrace(watch)
    try:
        for _, _, made in MUTATIONS:
            placed, job = made()
            job.audit(placed)
    finally:
        sys.settrace(before)
    assert len(told_in(audit)) > len(RULES)
    assert told_in(audit) - told == set()
