"""`manage.py plan`: date the convertible work."""

from typing import Any

from django.core.management.base import CommandParser

from inventory.core.saying import counted_words, day_words
from planner.core.plans import Order, Placed, Unplanned
from planner.core.replanning import Fate, Shift
from planner.core.schedule import BriefImpossible
from planner.core.settled import worth_of
from planner.management.answers import GOOD, PROBLEMS, AnsweringCommand, wrong_use
from planner.models import Plan
from planner.models.briefs import FIRST_BRIEF
from planner.services.how_sure import how_sure
from planner.services.plan import DEFAULT_SECONDS, Kept, NoSuchBrief, plan_campus
from planner.store.records import to_json

NOTHING_TO_PLAN = (
    "There is nothing to plan: no segment can be converted as it is. See why on the page Segments or with "
    "manage.py assess; an empty campus takes a workbook in first: manage.py intake FILE."
)


class Command(AnsweringCommand):
    help = """Group the convertible segments into orders, and give each a crew, a night and a phase.

Assesses the campus first. The plan is kept; the site shows it. Example:

    manage.py plan --seconds 60 --json plan.json"""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--brief", default=FIRST_BRIEF, metavar="NAME", help="brief to plan by (default: %(default)s)"
        )
        parser.add_argument(
            "--seconds",
            type=float,
            default=DEFAULT_SECONDS,
            metavar="N",
            help="time to look for a better plan (default: %(default)s)",
        )
        parser.add_argument(
            "--seed", type=int, default=1, metavar="N", help="seed of every random choice (default: %(default)s)"
        )
        parser.add_argument(
            "--again",
            action="store_true",
            help="go on from the adopted plan: what is begun stays, what is booked stays where it can",
        )
        self.add_json(parser)

    def handle(
        self, *_: Any, brief: str, seconds: float, seed: int, again: bool, json_to: str | None, **__: Any
    ) -> None:
        if seconds <= 0:
            raise wrong_use(f"--seconds {seconds:g}: must be above 0.")
        adopted = Plan.objects.adopted() if again else None
        if again and adopted is None:
            raise wrong_use("--again: no plan is adopted yet. Make one without it, and adopt it on its page.")
        try:
            kept = plan_campus(brief, seconds=seconds, seed=seed, goes_on_from=adopted)
        except NoSuchBrief as error:
            raise wrong_use(str(error)) from error
        except BriefImpossible as error:
            words = [problem.message for problem in error.problems]
            self.answer({"orders": [], "problems": to_json(error.problems)}, words, json_to)
            return self.end(PROBLEMS)
        self.answer(plan_as_data(kept), _words(kept), json_to)
        good = kept.planned.orders and all(line.holds for line in kept.planned.plan.check)
        return self.end(GOOD if good else PROBLEMS)


def plan_as_data(kept: Kept) -> dict[str, Any]:
    """Return a plan as plain data, keys as in the workbook, instants in UTC, money as text."""
    record = kept.planned.plan
    placed = {one.order: one for one in record.placed}
    left_out = {one.order: one for one in record.unplanned}
    return {
        "plan": kept.plan.pk,
        "brief": kept.plan.brief.name,
        "method": record.method,
        "objective": record.objective,
        "bound": record.bound,
        "gap": record.gap,
        "list_objective": record.list_objective,
        "settled": record.settled,
        "settled_objective": record.settled_objective,
        "seed": record.seed,
        "seconds": record.seconds,
        "goes_on_from": kept.plan.goes_on_from_id,
        "check": to_json(record.check),
        "remarks": list(record.remarks),
        "shifts": to_json(kept.planned.shifts),
        "phases": to_json(record.phases),
        "orders": [_order(order, placed.get(order.key), left_out.get(order.key)) for order in kept.planned.orders],
        "how_sure": to_json(how_sure(kept.plan).outlook),
        "takeoff": to_json(kept.planned.takeoff.lines),
    }


def _order(order: Order, placed: Placed | None, left_out: Unplanned | None) -> dict[str, Any]:
    return {
        "order": order.key,
        "building": order.building,
        "segments": list(order.segments),
        "rooms": [list(room) for room in order.rooms],
        "stations": list(order.stations),
        "crew": placed.crew if placed else None,
        "start": placed.start.isoformat() if placed else None,
        "end": placed.end.isoformat() if placed else None,
        "phase": placed.phase if placed else None,
        "cost": str(order.cost),
        "currency": order.currency,
        "reason": left_out.reason if left_out else None,
    }


def _words(kept: Kept) -> list[str]:
    record = kept.planned.plan
    if not kept.planned.orders:
        return [NOTHING_TO_PLAN]
    lines = [
        f"Plan {kept.plan.pk}: {len(record.placed)} of {len(kept.planned.orders)} orders dated ({record.method})",
        f"objective {record.objective:,} (lower is better), gap to the best at most {record.gap:.1%}",
        f"bound {record.bound:,}, oldest-first list {record.list_objective:,}",
    ]
    lines += _free_words(kept)
    lines += [
        f"  {p.phase}: {counted_words(p.orders, 'order')}, {counted_words(p.stations, 'station')}, {p.cost} {p.currency}"
        for p in record.phases
    ]
    lines += [f"  check {line.number} {line.rule}: {'holds' if line.holds else line.breach}" for line in record.check]
    lines += [f"  note: {remark}" for remark in record.remarks]
    lines += [_shift_words(shift) for shift in kept.planned.shifts if shift.fate is not Fate.STAYS]
    lines += [f"  not planned {left.order}: {left.reason}" for left in record.unplanned]
    return lines


def _free_words(kept: Kept) -> list[str]:
    """Say how good the part is that was free to be planned, where some was not."""
    record = kept.planned.plan
    if not record.settled:
        return []
    worth = worth_of(
        orders=len(kept.planned.orders),
        settled=record.settled,
        settled_objective=record.settled_objective,
        figures=(record.objective, record.bound, record.list_objective),
    )
    told = f"{counted_words(record.settled, 'order')} settled before, {worth.free} free to be planned"
    if worth.gap is None or worth.list_worse is None:
        return [told]
    return [f"{told}; of these alone: gap at most {worth.gap:.1%}, the list {worth.list_worse:.1%} worse"]


def _shift_words(shift: Shift) -> str:
    nights = " to ".join(day_words(each.night) for each in (shift.old, shift.new) if each is not None)
    notice = "" if shift.tell_by is None else f"; its rooms to be told by {day_words(shift.tell_by)}"
    price = "" if shift.price is None else f"; the move weighs {shift.price}"
    return f"  {shift.order} {shift.fate}: {nights}{notice}{price}{'; ' + shift.why if shift.why else ''}"
