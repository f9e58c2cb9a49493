"""`manage.py assess`: judge every segment of the campus."""

from typing import Any

from django.core.management.base import CommandParser

from planner.management.answers import GOOD, PROBLEMS, AnsweringCommand, counted
from planner.services.assess import Assessed, assess_campus
from planner.store.records import to_json


class Command(AnsweringCommand):
    help = """Judge every segment of the campus as it is stored now.

Finds the segments, applies every rule, and keeps the verdicts for the site. Take in a workbook first
(manage.py intake FILE). Example:

    manage.py assess --json verdicts.json"""

    def add_arguments(self, parser: CommandParser) -> None:
        self.add_json(parser)

    def handle(self, *_: Any, json_to: str | None, **__: Any) -> None:
        assessed = assess_campus(by=None)
        data = {"counts": assessed.counts, "segments": to_json(assessed.reports)}
        self.answer(data, _words(assessed), json_to)
        self.end(GOOD if assessed.reports else PROBLEMS)


def _words(assessed: Assessed) -> list[str]:
    if not assessed.reports:
        return ["There are no segments. Take in a workbook with nodes and runs first: manage.py intake FILE."]
    lines = [f"{count:6}  {verdict}" for verdict, count in assessed.counts.items()]
    questions = sum(len(report.questions) for report in assessed.reports)
    return [
        f"{counted(len(assessed.reports), 'segment')} judged",
        *lines,
        f"{counted(questions, 'question')} for a survey",
    ]
