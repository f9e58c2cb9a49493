"""One intake and one snapshot in a process of their own, on a database on disk, beside their floors; prints JSON."""

import io
import json
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

import django
from django.core.management import call_command
from django.db import connection, transaction
from django.utils.module_loading import import_string
from python_calamine import CalamineWorkbook

TABLES = ("inventory_run", "inventory_node")
HISTORIES = ("inventory_historicalrun", "inventory_historicalnode")


def seconds(work: Callable[[], object]) -> float:
    """Return the processor time of some work [s]: SQLite works in this process, and a busy machine must not judge."""
    start = time.process_time()
    work()
    return time.process_time() - start


def read_alone(content: bytes) -> None:
    """Have calamine read every cell of the workbook."""
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    for title in book.sheet_names:
        book.get_sheet_by_name(title).to_python()


def write_alone(table: str) -> float:
    """Return what writing the rows of a table anew costs, by executemany, in a transaction that goes back [s]."""
    with connection.cursor() as cursor, transaction.atomic():
        cursor.execute(f"SELECT * FROM {table}")  # noqa: S608 - a table of ours
        rows = cursor.fetchall()
        marks = ", ".join(["%s"] * len(rows[0]))
        cursor.execute(f"DELETE FROM {table}")  # noqa: S608 - a table of ours
        taken = seconds(lambda: cursor.executemany(f"INSERT INTO {table} VALUES ({marks})", rows))  # noqa: S608 - ours
        transaction.set_rollback(True)
    return taken


def fetch_alone() -> None:
    """Fetch the rows that a snapshot is made of, and do nothing with them."""
    with connection.cursor() as cursor:
        for table in TABLES:
            cursor.execute(f"SELECT * FROM {table}")  # noqa: S608 - a table of ours
            cursor.fetchall()


def measure(content: bytes) -> dict[str, object]:
    """Take the workbook in, and measure it and its floors."""
    take_in, targets = import_string("inventory.services.intake.take_in"), import_string("inventory.store.TARGETS")
    load_snapshot = import_string("inventory.store.load_snapshot")
    told: dict[str, object] = {"read_s": min(seconds(lambda: read_alone(content)) for _ in range(2))}
    start, wall = time.process_time(), time.perf_counter()
    result = take_in(content, "big.xlsx", targets, None)
    told |= {"taken_s": time.process_time() - start, "taken_wall_s": time.perf_counter() - wall}
    told["stored"] = result.stored
    told["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told["again_s"] = seconds(lambda: take_in(content, "big.xlsx", targets, None))
    told["write_s"] = sum(map(write_alone, TABLES))
    told["write_history_s"] = sum(map(write_alone, HISTORIES))
    told["fetch_s"] = min(seconds(fetch_alone) for _ in range(3))
    told["snapshot_s"] = min(seconds(load_snapshot) for _ in range(3))
    return told | {"nodes": result.counts["nodes"].new, "runs": result.counts["runs"].new}


def main() -> None:
    """Measure the workbook whose path is the first argument."""
    django.setup()
    call_command("migrate", verbosity=0)
    sys.stdout.write(json.dumps(measure(Path(sys.argv[1]).read_bytes())))


if __name__ == "__main__":
    main()
