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
from planner.models import Plan
from planner.services import demo
from planner.services.handover import hand_over
from planner.services.people import SignIn, make_sign_ins

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
WORKBOOK = FIXTURES / "campus.xlsx"
CAMPUS_NAME = "Ostrey Harbour School and Research Station"

CAMPUS_HERE = (
    f"There is a campus in {settings.HOME} already. For the demo set CHANGEOVER_HOME to an empty folder, or delete that "
    "folder if nothing in it is yours to keep."
)
MADE_BEFORE = "The demo campus is here already and stays as it was left."


class Command(AnsweringCommand):
    help = """Run the whole job on an invented campus: take its workbook in, judge it, plan it, hand it over, show it.

The campus is in mid-migration: phase one is done and its records changed to what was built, one order was backed out, one
delivery is late, and the plan goes on from there. Its clock is its own and begins on the morning of 7 April 2027. With
--untouched it is the campus of 16 November 2026, planned once, with nothing adopted or begun.

Refuses where any other workbook has been taken in, so that a campus of your own is never touched; a demo that was made
before is shown as it was left. Examples:

    manage.py demo                           then look at the address it prints
    manage.py demo --no-serve --to DIR       leave the hand-over files in DIR and stop
    manage.py demo --untouched               before anything was done"""
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="stop when the files are written")
        parser.add_argument("--to", metavar="DIR", type=Path, help="folder for the hand-over files")
        parser.add_argument("--untouched", action="store_true", help="the campus as its workbook says, planned once")
        parser.add_argument(
            "--seconds", type=float, default=12.0, metavar="N", help="time to look for a plan (default: %(default)s)"
        )
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: %(default)s)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: %(default)s)")

    def handle(self, *_: Any, **asked: Any) -> None:
        if not asked["no_serve"]:
            refuse_taken_port(asked["host"], asked["port"])
        call_command("migrate", verbosity=0)
        if Intake.objects.exclude(sha256=hashlib.sha256(read_file(WORKBOOK)).hexdigest()).exists():
            raise wrong_use(CAMPUS_HERE)
        settings.CAMPUS_NAME_FILE.write_text(CAMPUS_NAME)
        plan = Plan.objects.current() if demo.is_made() else None
        if plan is None:
            plan = self._make(untouched=asked["untouched"], seconds=asked["seconds"])
        else:
            demo.put_people_on_crews()
            self._say(MADE_BEFORE)
        if asked["to"]:
            self._hand_over(plan, asked["to"])
        self._show(make_sign_ins())
        if not asked["no_serve"]:
            serve_anew(asked["host"], asked["port"])

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()

    def _make(self, *, untouched: bool, seconds: float) -> Plan:
        files = demo.Files(
            name=WORKBOOK.name, workbook=read_file(WORKBOOK), calendars=calendars_in(FIXTURES / "calendars")
        )
        self._say(f"Making the campus{'' if untouched else ' and its first phase'}; this takes about half a minute ...")
        try:
            plan = demo.make_untouched(files, seconds) if untouched else demo.make_midway(files, seconds)
        except demo.DemoRefused as refused:
            for problem in refused.problems:
                self._say(f"{problem.sheet} {problem.row} {problem.column}: {problem.message}")
            self.end(PROBLEMS)
        dated, all_orders = plan.orders.filter(start__isnull=False).count(), plan.orders.count()
        self._say(f"{dated} of {all_orders} orders dated.")
        return plan

    def _hand_over(self, plan: Plan, to: Path) -> None:
        files = hand_over(plan)
        for name, content in files.items():
            write_file(to / name, content)
        self._say(f"{len(files)} hand-over files are in {to}.")

    def _show(self, sign_ins: tuple[SignIn, ...]) -> None:
        self._say("Sign in as one of:")
        for one in sign_ins:
            on = f"  on crew {', '.join(one.crews)}" if one.crews else ""
            self._say(f"  {one.name:14} {one.password}{on}")


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
