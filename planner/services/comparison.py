"""Plans side by side: what differs from the first of them, and what each comes to."""

from collections.abc import Sequence
from dataclasses import dataclass

from planner.core.comparison import Difference, Row, Sums, compare, sums_of, tally
from planner.models import Plan
from planner.store.plans import load_entries


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One plan of a comparison: what it comes to, and how many of its orders stand in which way against the first."""

    plan: Plan
    sums: Sums
    tally: dict[Difference, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Plans side by side; `rows` are the orders that differ, `alike` how many do not; `phases` all that some plan has."""

    sides: tuple[Side, ...]
    rows: tuple[Row, ...]
    alike: int
    phases: tuple[str, ...]


def compared(plans: Sequence[Plan]) -> Comparison:
    """Hold plans against the first of them."""
    entries = [load_entries(plan) for plan in plans]
    rows = compare(entries)
    sides = tuple(
        Side(plan=plan, sums=sums_of(mine), tally=tally(rows, number))
        for number, (plan, mine) in enumerate(zip(plans, entries, strict=True))
    )
    return Comparison(
        sides=sides,
        rows=tuple(row for row in rows if row.differs),
        alike=sum(not row.differs for row in rows),
        phases=tuple(sorted({phase for side in sides for phase, _ in side.sums.finish_by_phase})),
    )
