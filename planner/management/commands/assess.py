"""`manage.py assess`: judge every segment of the campus."""

from typing import Any

from django.core.management.base import CommandParser

from inventory.core.saying import counted_words
from planner.core.surveys import open_questions
from planner.management.answers import GOOD, PROBLEMS, AnsweringCommand, wrong_use
from planner.services.ageing import reckon_risks
from planner.services.assess import Assessed, assess_campus
from planner.services.ways_out import ALL, needs_way_out
from planner.store.records import to_json


class Command(AnsweringCommand):
    help = """Judge every segment of the campus as it is stored now.

Finds the segments, applies every rule, and keeps the verdicts for the site. Take in a workbook first
(manage.py intake FILE). Example:

    manage.py assess --json verdicts.json

With each segment that does not convert comes its cheapest way out with its price. Where more than 1,000 segments need
one, only those that are named are looked at, or all of them, which takes longer:

    manage.py assess --ways-out L-104 L-105 --json verdicts.json
    manage.py assess --ways-out all --json verdicts.json"""

    def add_arguments(self, parser: CommandParser) -> None:
        self.add_json(parser)
        parser.add_argument(
            "--ways-out",
            metavar="SEGMENT",
            nargs="+",
            default=[],
            help="segments whose ways out are looked for on a campus of very many; `all` for every one",
        )

    def handle(self, *_: Any, json_to: str | None, ways_out: list[str], **__: Any) -> None:
        assessed = assess_campus(by=None, look_at=ways_out)
        reckon_risks()
        strange = sorted(set(ways_out) - {ALL} - {report.segment for report in assessed.reports})
        if strange:
            raise wrong_use(f"There is no segment {strange[0]}. The names are those of the list of segments.")
        data = {"counts": assessed.counts, "segments": to_json(assessed.reports)}
        self.answer(data, _words(assessed), json_to)
        self.end(GOOD if assessed.reports else PROBLEMS)


def _words(assessed: Assessed) -> list[str]:
    if not assessed.reports:
        return ["There are no segments. Take in a workbook with nodes and runs first: manage.py intake FILE."]
    lines = [f"{count:6}  {verdict}" for verdict, count in assessed.counts.items()]
    return [
        f"{counted_words(len(assessed.reports), 'segment')} judged",
        *lines,
        f"{counted_words(len(open_questions(assessed.reports)), 'question')} for a survey",
        *_said_of_ways(assessed),
    ]


def _said_of_ways(assessed: Assessed) -> list[str]:
    """Say how many ways out are known, and how to ask for the others."""
    need = [report for report in assessed.reports if needs_way_out(report)]
    known = [report.way_out for report in need if report.way_out is not None]
    if not need:
        return []
    passing = sum(way.passes for way in known)
    said = [f"{counted_words(len(known), 'way')} out looked for, {passing} of them make every rule pass"]
    left = len(need) - len(known)
    return said if not left else [*said, f"{left} more are looked for when asked: manage.py assess --ways-out all"]
