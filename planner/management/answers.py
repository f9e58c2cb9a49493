"""How every command answers: words for people, `--json FILE|-` for machines, 0 good, 1 problems found, 2 wrong use."""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

GOOD, PROBLEMS, WRONG_USE = 0, 1, 2
QUIET = ("--version", "--verbosity", "--settings", "--pythonpath", "--traceback", "--no-color", "--force-color")
EXIT_CODES = "Exit code: 0 good, 1 problems found, 2 wrong use."


class AnsweringCommand(BaseCommand):
    """A command that says what it did, and can say it to a machine."""

    requires_migrations_checks = True
    suppressed_base_arguments: set[str] = set(QUIET)

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Keep the line breaks of the help text, and end it with the exit codes."""
        kwargs.setdefault("formatter_class", argparse.RawDescriptionHelpFormatter)
        parser = super().create_parser(prog_name, subcommand, **kwargs)
        parser.epilog = EXIT_CODES
        return parser

    def check_migrations(self) -> None:
        """Make or update the embedded database; leave one that others share to whoever looks after it."""
        executor = MigrationExecutor(connection)
        if not executor.migration_plan(executor.loader.graph.leaf_nodes()):
            return
        if connection.vendor != "sqlite":
            raise wrong_use("The database is not up to date with this program. Run: manage.py migrate.")
        call_command("migrate", verbosity=0)

    def add_json(self, parser: CommandParser) -> None:
        """Offer --json."""
        parser.add_argument(
            "--json",
            metavar="FILE",
            dest="json_to",
            help="write the answer as JSON to FILE, or to standard output for -",
        )

    def answer(self, data: dict[str, Any], words: list[str], json_to: str | None) -> None:
        """Write the JSON where it was asked for; say the words unless standard output carries the JSON."""
        text = json.dumps(data, indent=1, ensure_ascii=False, default=str)
        if json_to == "-":
            self.stdout.write(text)
            return
        if json_to:
            write_file(Path(json_to), text.encode())
        for line in words:
            self.stdout.write(line)

    def end(self, code: int) -> None:
        """Leave with this exit code."""
        if code:
            sys.exit(code)


def wrong_use(message: str) -> CommandError:
    """Return the error of somebody who called the command wrongly."""
    return CommandError(message, returncode=WRONG_USE)


def read_file(path: Path) -> bytes:
    """Return a file's content, or say what is wrong with the name."""
    try:
        return path.read_bytes()
    except IsADirectoryError:
        raise wrong_use(f"{path} is a folder. Name a file.") from None
    except OSError as error:
        raise wrong_use(f"{path} cannot be read: {error.strerror}.") from None


def write_file(path: Path, content: bytes) -> None:
    """Write a file, making its folder, or say what is wrong with the name."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    except OSError as error:
        raise wrong_use(f"{path} cannot be written: {error.strerror}.") from None
