"""Laws of the schedule on campaigns made by chance: exact answers equal counting everything, and no rule is broken."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.core.brief import Brief
from planner.core.plans import Order, Placed
from tests.unit.planner.nights import MONDAY, PHASE, Job, broken, crew, order, put, window

HOUR = timedelta(hours=1)
BRIEF = Brief(travel_same_district_min=60, travel_between_districts_min=120)
QUIET = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)


@st.composite
def jobs(draw: st.DrawFn, most: int = 6) -> Job:
    """Whole hours everywhere, so that starts on the hour are enough to find the best plan."""
    count = draw(st.integers(1, most))
    orders = tuple(
        order(
            f"o{i}",
            building=draw(st.sampled_from(("North", "South", "Far"))),
            hours=draw(st.integers(1, 3)),
            benefit=float(draw(st.integers(1, 4))),
            people=draw(st.integers(1, 2)),
            rooms=(("North", draw(st.sampled_from(("hall", "lab", "store")))),),
            predecessors=(f"o{i - 1}",) if i and draw(st.booleans()) else (),
            oldest=date(2000 + draw(st.integers(0, 9)), 1, 1),
        )
        for i in range(count)
    )
    spans = tuple(
        window(each.key, night, 20, 20 + draw(st.integers(2, 4)), crew=by)
        for each in orders
        for night in draw(st.sets(st.integers(0, 2), max_size=2))
        for by in ("Red", "Blue")
    )
    budget = draw(st.one_of(st.none(), st.integers(1, count).map(lambda n: Decimal(100 * n))))
    return Job(
        orders=orders,
        spans=spans or (window("o0"),),
        crews=(crew("Red"), crew("Blue", people=1)),
        phases=(
            PHASE if budget is None else PHASE.__class__(key="P1", start=PHASE.start, end=PHASE.end, budget=budget),
        ),
        brief=BRIEF,
    )


@dataclass(slots=True)
class Counting:
    """Looks at every way to place the orders on whole hours, in the plainest way there is."""

    job: Job
    best: int = 2**60

    def run(self) -> int:
        self._go(0, [], 0)
        return self.best

    def _go(self, index: int, placed: list[Placed], cost: int) -> None:
        if cost >= self.best:
            return
        if index == len(self.job.orders):
            total = cost + 100 * len({(p.crew, p.night) for p in placed}) + 100 * len(self._visits(placed))
            if total < self.best and not broken(self.job.audit(tuple(placed))):
                self.best = total
            return
        each = self.job.orders[index]
        points = self._points(each)
        for span in [span for span in self.job.spans if span.order == each.key]:
            for hour in range((span.end - span.start - timedelta(minutes=each.onsite_min)) // HOUR + 1):
                night = (span.night - MONDAY).days
                new = put(each, night, 20 + hour, by=span.crew)
                if not any(self._clash(new, old) for old in placed):
                    self._go(index + 1, [*placed, new], cost + points * night * 10)
        self._go(index + 1, placed, cost + points * 14 * 110)

    def _points(self, each: Order) -> int:
        mean = sum(other.benefit for other in self.job.orders) / len(self.job.orders)
        return max(round(100 * each.benefit / mean), 1)

    def _visits(self, placed: list[Placed]) -> set[tuple[str, date, str]]:
        building = {each.key: each.building for each in self.job.orders}
        return {(p.crew, p.night, building[p.order]) for p in placed}

    def _clash(self, one: Placed, two: Placed) -> bool:
        return one.crew == two.crew and one.start < two.end and two.start < one.end


@QUIET
@given(jobs())
def test_the_exact_answer_is_the_best_of_all_that_can_be_counted(job: Job) -> None:
    plan = job.plan(seconds=10)
    assert plan.objective == plan.bound == Counting(job).run()


@QUIET
@given(jobs(most=9), st.integers(0, 99))
def test_a_plan_obeys_every_rule_and_is_never_worse_than_the_list(job: Job, seed: int) -> None:
    plan = job.plan(seconds=0.5, seed=seed)
    assert broken(job.audit(plan.placed)) == []
    assert plan.bound <= plan.objective <= plan.list_objective
    placed, left = {each.order for each in plan.placed}, {each.order for each in plan.unplanned}
    assert placed | left == {each.key for each in job.orders}
    assert not placed & left


@QUIET
@given(jobs(most=6), st.integers(0, 5))
def test_fixing_what_was_planned_changes_nothing_that_was_fixed(job: Job, count: int) -> None:
    plan = job.plan(seconds=1)
    fixed = plan.placed[:count]
    again = job.but(fixed=fixed).plan(seconds=1)
    assert set(fixed) <= set(again.placed)
    assert again.objective <= plan.objective


@QUIET
@given(jobs(most=5))
def test_one_crew_more_never_makes_the_best_plan_worse(job: Job) -> None:
    more = tuple(window(s.order, (s.night - MONDAY).days, 20, 24, crew="Green") for s in job.spans)
    grown = job.but(crews=(*job.crews, crew("Green")), spans=(*job.spans, *more))
    best, better = job.plan(seconds=10), grown.plan(seconds=10)
    assert better.bound <= better.objective
    assert better.objective <= best.objective or better.gap > 0


def test_counting_knows_the_case_by_hand() -> None:
    # two orders of 2 h in one night of 4 h, one building: both fit, 2 x 0 days, one night and one journey
    two = tuple(order(key) for key in "ab")
    job = Job(orders=two, spans=tuple(window(each.key, 0, 20, 24) for each in two))
    assert Counting(job).run() == 200 == job.plan().objective
