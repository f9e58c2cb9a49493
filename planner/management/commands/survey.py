"""`manage.py survey`: what to find out on site, as a workbook that comes back through intake."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from inventory.core.saying import counted_words
from inventory.models import Building
from planner.management.answers import GOOD, PROBLEMS, AnsweringCommand, write_file, wrong_use
from planner.services.surveys import Survey, make_survey, spot_in_words, survey_workbook
from planner.store.records import to_json

SHOWN = 10


class Command(AnsweringCommand):
    help = """List what must be found out on site before segments can be judged, and write the workbook to fill in.

The questions are those of the last assessment (manage.py assess), ranked as their answers settle the most stations.
The workbook has the sheets of the inventory workbook with just the rows asked about, and a sheet Survey with the
questions room by room. Fill in what you find and take it in again; what stays blank stays not known:

    manage.py survey --to survey.xlsx --building B04
    manage.py intake survey.xlsx"""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--to", metavar="FILE", type=Path, help="workbook to write (.xlsx)")
        parser.add_argument("--building", metavar="B", help="ask only in this building")
        self.add_json(parser)

    def handle(self, *_: Any, to: Path | None, building: str | None, json_to: str | None, **__: Any) -> None:
        if building is not None and not Building.objects.filter(key=building).exists():
            raise wrong_use(f"There is no building {building}. Name one as on the sheet Buildings.")
        survey = make_survey(building)
        if to is not None and survey.asked:
            write_file(to, survey_workbook(survey))
        self.answer(_data(survey, to), _words(survey, to), json_to)
        self.end(PROBLEMS if survey.assessment is None else GOOD)


def _data(survey: Survey, to: Path | None) -> dict[str, Any]:
    return {
        "file": str(to) if to is not None and survey.asked else None,
        "stations": survey.stations,
        "left_out": survey.left_out,
        "questions": [to_json(one) for one in survey.asked],
    }


def _words(survey: Survey, to: Path | None) -> list[str]:
    if survey.assessment is None:
        return ["The campus has not been assessed yet: manage.py assess"]
    if not survey.asked:
        return ["Nothing to ask: no segment waits for a survey." + (f" {to} was not written." if to else "")]
    lines = [f"{one.rank:4}  {spot_in_words(one.spot):24}  {one.question}" for one in survey.asked[:SHOWN]]
    more = len(survey.asked) - len(lines)
    said = [f"{counted_words(len(survey.asked), 'question')} in {counted_words(len(survey.stops), 'room')}:", *lines]
    said += [f"      and {more} more"] if more else []
    return [*said, *([f"{to} written. Fill it in, then: manage.py intake {to}"] if to else [])]
