"""`manage.py blank`: the workbook to fill in, or the campus as a workbook."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from planner.management.answers import AnsweringCommand, write_file
from planner.services.workbook import blank_workbook, filled_workbook


class Command(AnsweringCommand):
    help = """Write the inventory workbook: empty, with a note on every heading, or filled with the campus as stored.

Examples:

    manage.py blank campus.xlsx              to fill in
    manage.py blank campus.xlsx --filled     the campus as it is known now; takes in again without a change"""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE", type=Path, help="workbook to write (.xlsx)")
        parser.add_argument("--filled", action="store_true", help="fill it with the campus as stored")
        self.add_json(parser)

    def handle(self, *_: Any, file: Path, filled: bool, json_to: str | None, **__: Any) -> None:
        content = filled_workbook() if filled else blank_workbook()
        write_file(file, content)
        self.answer({"file": str(file), "bytes": len(content), "filled": filled}, [f"{file} written."], json_to)
