"""The first sheet of the hand-over: what the plan does, what it costs, how good it is, what to mind."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from planner.core.findings import Verdict
from planner.core.plans import CheckLine
from planner.handover.columns import Shape, Value
from planner.handover.facts import Handed

CellsOf = Callable[[str, str], str]  # (sheet, column) -> range of its rows

CAUTIONS = (
    "Isolate, lock off and prove dead before anything is touched.",
    "Follow the equipment maker's instructions, the local electrical code and the site's permit rules; they come first.",
    "Keep low-voltage wiring apart from mains.",
    "Keep required escape routes and emergency lighting working, or post a watch.",
    "Licensed work is for licensed people.",
    "The figures here support that judgement and never replace it.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the summary: a label and up to three values; text after the label that begins with = is live."""

    values: tuple[Value, ...] = ()
    head: bool = False
    live: bool = False
    shape: Shape | None = None
    currency: str | None = None


def summary_lines(handed: Handed, cells: CellsOf) -> tuple[Line, ...]:
    """Return the lines of the summary; `cells` says where a column of another sheet stands."""
    return (
        Line(values=(f"{handed.campus}: hand-over",), head=True),
        Line(values=("Made (local)", handed.local(None, handed.made)), shape=Shape.MOMENT),
        Line(),
        *_work(handed, cells),
        Line(),
        *_quality(handed),
        Line(),
        *_sure(handed),
        *_verdicts(cells),
        Line(),
        *_checks(handed.plan.check),
        Line(),
        Line(values=("Cautions",), head=True),
        *(Line(values=(caution,)) for caution in CAUTIONS),
    )


def _work(handed: Handed, cells: CellsOf) -> Iterator[Line]:
    yield Line(values=("Work and money",), head=True)
    counts = (
        ("Orders planned", f"=SUM({cells('Phases', 'orders')})"),
        ("Orders left out, with reasons", f"=COUNTA({cells('Orders', 'reason')})"),
        ("Stations converted by the plan", f"=SUM({cells('Phases', 'stations')})"),
        ("Old stations in all", f"=SUM({cells('Segments', 'count')})"),
        ("Questions open", f"=SUM({cells('Segments', 'questions')})"),
    )
    for label, formula in counts:
        yield Line(values=(label, formula), live=True, shape=Shape.WHOLE)
    for code in sorted({phase.currency for phase in handed.plan.phases}):
        planned = _sum_of(cells, "Phases", code)
        yield Line(values=("Cost of the plan", planned), live=True, shape=Shape.MONEY, currency=code)
    for code in sorted({line.currency for line in handed.takeoff.lines if line.currency}):
        bought = _sum_of(cells, "Purchases", code)
        yield Line(values=("To be bought", bought), live=True, shape=Shape.MONEY, currency=code)


def _sum_of(cells: CellsOf, title: str, currency: str) -> str:
    return f'=SUMIF({cells(title, "currency")},"{currency}",{cells(title, "cost")})'


def _quality(handed: Handed) -> Iterator[Line]:
    plan = handed.plan
    yield Line(values=("How good the plan is (lower is better)",), head=True)
    yield Line(values=("This plan", plan.objective, plan.method), shape=Shape.WHOLE)
    yield Line(values=("No plan can be below", plan.bound), shape=Shape.WHOLE)
    yield Line(values=("Gap at most", plan.gap), shape=Shape.SHARE)
    yield Line(values=("Plain list, oldest first", plan.list_objective), shape=Shape.WHOLE)
    if plan.settled:
        words = (
            "begun, done, booked and to stay, or not to be dated at all: the same in the plan, the bound and the list"
        )
        yield Line(values=("Of each, what was settled before", plan.settled_objective, None, words), shape=Shape.WHOLE)
    yield Line(values=("Seed", plan.seed), shape=Shape.WHOLE)


def _sure(handed: Handed) -> Iterator[Line]:
    outlook = handed.outlook
    if outlook is None or not outlook.phases:
        return
    yield Line(
        values=("How sure the dates are", f"{outlook.courses} simulated courses, seed {outlook.seed}"), head=True
    )
    worst = outlook.likeliest_spill
    if worst is None:
        yield Line(values=("No phase ran past its last day in any course",))
    else:
        yield Line(values=("Most likely to run past its last day", worst.phase))
        yield Line(values=("In so many of the courses", worst.spills), shape=Shape.SHARE)
    yield Line(values=("Not simulated: bookings that appear later, people who fall ill, parts that come late",))
    yield Line()


def _verdicts(cells: CellsOf) -> Iterator[Line]:
    yield Line(values=("Verdicts", "Segments", "Old stations"), head=True)
    verdicts, counts = cells("Segments", "verdict"), cells("Segments", "count")
    for verdict in Verdict:
        found = f'=COUNTIF({verdicts},"{verdict.value}")'
        stations = f'=SUMIF({verdicts},"{verdict.value}",{counts})'
        yield Line(values=(verdict.value, found, stations), live=True, shape=Shape.WHOLE)


def _checks(checks: tuple[CheckLine, ...]) -> Iterator[Line]:
    yield Line(values=("Check of the plan",), head=True)
    for check in checks:
        yield Line(values=(f"{check.number}. {check.rule}", "holds" if check.holds else "BROKEN", None, check.breach))
    if not checks:
        yield Line(values=("not checked",))
