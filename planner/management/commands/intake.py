"""`manage.py intake`: take a workbook in."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from inventory.core.problems import Problem, Severity, errors_in
from inventory.core.saying import counted_words
from planner.management.answers import GOOD, PROBLEMS, AnsweringCommand, read_file
from planner.services import intake

COUNTED = ("new", "changed", "unchanged", "absent", "removed")


class Command(AnsweringCommand):
    help = """Take a campus's inventory workbook in: all of it, or nothing if anything in it is wrong.

Room calendars (.ics) are taken from a folder `calendars` beside the workbook, or from --calendars. Rows that the
file does not have stay as they are. Examples:

    manage.py intake campus.xlsx --check     look, store nothing
    manage.py intake campus.xlsx             store it"""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "file", metavar="FILE", type=Path, help="workbook (.xlsx); manage.py blank FILE makes an empty one"
        )
        parser.add_argument("--check", action="store_true", help="only tell what would change and what is wrong")
        parser.add_argument("--calendars", metavar="DIR", type=Path, help="folder with the rooms' .ics files")
        self.add_json(parser)

    def handle(self, *_: Any, file: Path, check: bool, calendars: Path | None, json_to: str | None, **__: Any) -> None:
        content = read_file(file)
        folder = calendars or file.parent / "calendars"
        if check:
            data = intake.preview_as_data(seen := intake.look(content))
            data["stored"] = False
            problems = (*seen.problems, *intake.faults_of(calendars_in(folder)))
        else:
            result = intake.take_with_calendars(content, file.name, calendars_in(folder), by=None)
            data, problems = intake.result_as_data(result), result.problems
        data["problems"] = intake.problems_as_data(problems)
        self.answer(data, _words(data, problems, check=check), json_to)
        self.end(PROBLEMS if errors_in(problems) else GOOD)


def calendars_in(folder: Path) -> dict[str, bytes]:
    """Return the .ics files of a folder by name; none where there is no such folder."""
    return {path.name: read_file(path) for path in sorted(folder.glob("*.ics"))}


def _words(data: dict[str, Any], problems: tuple[Problem, ...], *, check: bool) -> list[str]:
    lines = [_problem(problem) for problem in problems]
    lines += [
        f"{title:14}" + "".join(f"{one[name]:8} {name}" for name in COUNTED) for title, one in data["counts"].items()
    ]
    lines += [
        f"Column {heading!r} on sheet {title} is not known and was left aside."
        for title, heading in data["unknown_columns"]
    ]
    errors = len(errors_in(problems))
    if errors:
        lines.append(
            f"{counted_words(errors, 'error')}: nothing was stored. Mend what stands above and take the file in again."
        )
    elif check:
        lines.append("No errors. Nothing was stored (--check).")
    else:
        changed = sum(one["new"] + one["changed"] for one in data["counts"].values())
        lines.append(
            f"Stored: {counted_words(changed, 'row')} new or changed. To judge them: manage.py assess."
            if changed
            else "Nothing to store: the campus already says all this."
        )
    return lines


def _problem(problem: Problem) -> str:
    where = " ".join(
        part for part in (problem.sheet, f"row {problem.row}" if problem.row else None, problem.column) if part
    )
    seen = f" [{problem.value}]" if problem.value else ""
    mark = "error" if problem.severity is Severity.ERROR else "warning"
    remedy = problem.remedy[:1].upper() + problem.remedy[1:].rstrip(".")
    return f"{mark}: {where or 'file'}{seen}: {problem.message.rstrip('.')}. {remedy}."
