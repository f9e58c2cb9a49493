"""`manage.py demo`: an invented campus, from workbook to hand-over, and the site to look at it."""

import hashlib
import os
import socket
import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandParser

from inventory.models import Intake
from planner.management.answers import PROBLEMS, AnsweringCommand, read_file, write_file, wrong_use
from planner.management.commands.intake import calendars_in
from planner.services.handover import hand_over
from planner.services.intake import take_with_calendars
from planner.services.people import SignIn, make_sign_ins
from planner.services.plan import Kept, plan_campus

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
WORKBOOK = FIXTURES / "campus.xlsx"
CAMPUS_NAME = "Ostrey Harbour School and Research Station"

CAMPUS_HERE = (
    f"There is a campus in {settings.HOME} already. For the demo set CHANGEOVER_HOME to an empty folder, or delete that "
    "folder if nothing in it is yours to keep."
)


class Command(AnsweringCommand):
    help = """Run the whole job on an invented campus: take its workbook in, judge it, plan it, hand it over, show it.

Refuses where any other workbook has been taken in, so that a campus of your own is never touched. Examples:

    manage.py demo                           then look at the address it prints
    manage.py demo --no-serve --to DIR       leave the hand-over files in DIR and stop"""
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="stop when the files are written")
        parser.add_argument("--to", metavar="DIR", type=Path, help="folder for the hand-over files")
        parser.add_argument(
            "--seconds", type=float, default=15.0, metavar="N", help="time to look for a plan (default: %(default)s)"
        )
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: %(default)s)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: %(default)s)")

    def handle(self, *_: Any, no_serve: bool, to: Path | None, seconds: float, host: str, port: int, **__: Any) -> None:
        if not no_serve:
            refuse_taken_port(host, port)
        call_command("migrate", verbosity=0)
        if Intake.objects.exclude(sha256=hashlib.sha256(read_file(WORKBOOK)).hexdigest()).exists():
            raise wrong_use(CAMPUS_HERE)
        settings.CAMPUS_NAME_FILE.write_text(CAMPUS_NAME)
        self._say("Taking the workbook of the demo campus in ...")
        self._take_in()
        self._say("Judging its segments and planning their conversion ...")
        kept = plan_campus(seconds=seconds)
        self._say(f"{len(kept.planned.plan.placed)} of {len(kept.planned.orders)} orders dated.")
        if to:
            self._hand_over(kept, to)
        self._show(make_sign_ins())
        if not no_serve:
            serve_anew(host, port)

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()

    def _take_in(self) -> None:
        result = take_with_calendars(read_file(WORKBOOK), WORKBOOK.name, calendars_in(FIXTURES / "calendars"), by=None)
        if not result.stored:
            for problem in result.problems:
                self._say(f"{problem.sheet} {problem.row} {problem.column}: {problem.message}")
            self.end(PROBLEMS)

    def _hand_over(self, kept: Kept, to: Path) -> None:
        files = hand_over(kept.plan)
        for name, content in files.items():
            write_file(to / name, content)
        self._say(f"{len(files)} hand-over files are in {to}.")

    def _show(self, sign_ins: tuple[SignIn, ...]) -> None:
        self._say("Sign in as one of:")
        for one in sign_ins:
            self._say(f"  {one.name:12} {one.password}")


def refuse_taken_port(host: str, port: int) -> None:
    """Say that the site could not be shown there before half a minute is spent on planning."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise wrong_use(f"Cannot listen on {host}:{port}: {error.strerror}. Choose another with --port.") from error


def serve_anew(host: str, port: int) -> None:
    """Become `manage.py serve`, started anew so that it reads what the demo has written."""
    manage = str(Path(settings.BASE_DIR) / "manage.py")
    words = [sys.executable, manage, "serve", "--host", host, "--port", str(port)]
    os.execv(sys.executable, words)  # noqa: S606 - our own interpreter and words
