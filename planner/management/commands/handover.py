"""`manage.py handover`: the files that leave the tool."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from inventory.core.saying import counted_words
from planner.management.answers import AnsweringCommand, write_file, wrong_use
from planner.models import Plan
from planner.services.handover import hand_over


class Command(AnsweringCommand):
    help = """Write a plan's hand-over workbook and calendars (one .ics a building, one a crew) into a folder.

Takes the adopted plan, or the newest where none is adopted. Example:

    manage.py handover --to out"""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--plan", type=int, metavar="ID", help="number of the plan (default: adopted, else newest)")
        parser.add_argument(
            "--to", required=True, type=Path, metavar="DIR", help="folder to write into; made if need be"
        )
        self.add_json(parser)

    def handle(self, *_: Any, plan: int | None, to: Path, json_to: str | None, **__: Any) -> None:
        chosen = _chosen(plan)
        files = hand_over(chosen)
        for name, content in files.items():
            write_file(to / name, content)
        data = {"plan": chosen.pk, "files": [{"name": name, "bytes": len(content)} for name, content in files.items()]}
        self.answer(data, [f"Plan {chosen.pk}: {counted_words(len(files), 'file')} written into {to}."], json_to)


def _chosen(plan: int | None) -> Plan:
    found = Plan.objects.filter(pk=plan).first() if plan is not None else Plan.objects.current()
    if found is None:
        message = f"There is no plan {plan}." if plan is not None else "There is no plan yet. Make one: manage.py plan."
        raise wrong_use(message)
    return found
