"""From the database to stored verdicts in a process of its own, on a database on disk, beside its floor; prints JSON."""

import json
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import django
from django.core.management import call_command
from django.db import connection
from django.utils.module_loading import import_string

from planner.core.brief import Brief
from planner.core.judgements import judge
from tests.bench.big_campus import big_campus

TABLES = ("inventory_run", "inventory_node")
AT = datetime(2026, 11, 2, tzinfo=UTC)


def timed(told: dict[str, float], name: str, work: Callable[[], Any]) -> Any:
    """Do some work; note its processor time and its time by the clock [s]."""
    cpu, wall = time.process_time(), time.perf_counter()
    done = work()
    told[f"{name}_s"], told[f"{name}_wall_s"] = time.process_time() - cpu, time.perf_counter() - wall
    return done


def fetch_alone() -> None:
    """Fetch all rows of nodes and runs as rows, and do nothing with them."""
    with connection.cursor() as cursor:
        for table in TABLES:
            cursor.execute(f"SELECT * FROM {table}")  # noqa: S608 - a table of ours
            while cursor.fetchmany(10_000):
                pass


def measure(sides: int) -> dict[str, float]:
    """Store a campus, then take it from the tables to stored verdicts."""
    import_string("tests.bench.big_tables.store_big")(big_campus(1, sides))
    load_stored = import_string("inventory.store.load_stored")
    judged_all = import_string("planner.store.segment_rows.judged_all")
    save_verdicts = import_string("planner.store.verdicts.save_verdicts")
    told: dict[str, float] = {}
    timed(told, "fetch", fetch_alone)
    stored = timed(told, "load", load_stored)
    judgements = timed(told, "judge", lambda: judge(stored.snapshot, Brief()))
    timed(told, "keep", lambda: save_verdicts(judged_all(stored, judgements, None), at=AT, by="the bench"))
    told["segments"] = len(judgements)
    return told


if __name__ == "__main__":
    django.setup()
    call_command("migrate", verbosity=0)
    print(json.dumps(measure(int(sys.argv[1]))))  # noqa: T201 - the answer
