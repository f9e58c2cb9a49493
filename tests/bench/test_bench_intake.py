"""Speed of an intake as a ratio: against what reading and writing the same rows cost at the least, in the same run.

The floor: calamine alone reading the file, and a raw executemany of the same rows into the same tables. An intake may
take 2 x the first + 1.5 x the second, and 1 GB of memory. It also writes a page of history for each row, which the
floor does not.
"""

import io
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import connection, transaction
from pytest_benchmark.fixture import BenchmarkFixture
from python_calamine import CalamineWorkbook

from inventory.services.intake import IntakeResult, take_in
from inventory.store import TARGETS, load_snapshot
from tests.bench.big_workbook import big_workbook

NODES = 100_000
READ_FACTOR, WRITE_FACTOR = 2.0, 1.5
MOST_MB = 1000
TABLES = ("inventory_node", "inventory_run")
SNAPSHOT_FACTOR = 3.0  # of fetching the same rows raw: sorting and arrays on top

ALONE = """
import sys, resource, django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from inventory.services.intake import take_in
from inventory.store import TARGETS
result = take_in(open(sys.argv[1], "rb").read(), "big.xlsx", TARGETS, None)
assert result.stored, result.problems
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)
"""


@pytest.fixture(scope="module")
def content() -> bytes:
    return big_workbook(NODES)


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def read_alone(content: bytes) -> None:
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    for title in book.sheet_names:
        book.get_sheet_by_name(title).to_python()


def write_alone(table: str) -> float:
    """Return what writing the rows of a table anew costs, by executemany, in a transaction that goes back."""
    with connection.cursor() as cursor, transaction.atomic():
        cursor.execute(f"SELECT * FROM {table}")  # noqa: S608 - a table of ours
        rows = cursor.fetchall()
        marks = ", ".join(["%s"] * len(rows[0]))
        cursor.execute(f"DELETE FROM {table}")  # noqa: S608 - a table of ours
        taken = seconds(lambda: cursor.executemany(f"INSERT INTO {table} VALUES ({marks})", rows))  # noqa: S608 - ours
        transaction.set_rollback(True)
    return taken


@pytest.mark.django_db(transaction=True)
def test_a_hundred_thousand_nodes_and_runs_go_in_near_the_floor(content: bytes, benchmark: BenchmarkFixture) -> None:
    reading = min(seconds(lambda: read_alone(content)) for _ in range(2))

    def whole() -> IntakeResult:
        return take_in(content, "big.xlsx", TARGETS, None)

    start = time.perf_counter()
    result = benchmark.pedantic(whole, rounds=1)  # type: ignore[no-untyped-call]
    taken = time.perf_counter() - start
    assert result.stored, result.problems
    assert (result.counts["nodes"].new, result.counts["runs"].new) == (NODES, NODES)
    writing = sum(write_alone(table) for table in ("inventory_run", "inventory_node"))
    allowed = READ_FACTOR * reading + WRITE_FACTOR * writing
    benchmark.extra_info.update(reading_s=reading, writing_s=writing, taken_s=taken, of_allowed=taken / allowed)
    assert taken <= allowed, f"{taken:.1f} s; allowed {allowed:.1f} s = 2 x {reading:.1f} + 1.5 x {writing:.1f}"


@pytest.mark.django_db(transaction=True)
def test_a_snapshot_of_them_loads_near_a_raw_fetch(content: bytes, benchmark: BenchmarkFixture) -> None:
    assert take_in(content, "big.xlsx", TARGETS, None).stored

    def fetch() -> None:
        with connection.cursor() as cursor:
            for table in TABLES:
                cursor.execute(f"SELECT * FROM {table}")  # noqa: S608 - a table of ours
                cursor.fetchall()

    floor = min(seconds(fetch) for _ in range(3))
    snapshot = benchmark.pedantic(load_snapshot, rounds=1)  # type: ignore[no-untyped-call]
    taken = min(seconds(load_snapshot) for _ in range(2))
    benchmark.extra_info.update(floor_s=floor, taken_s=taken, ratio=taken / floor)
    assert (len(snapshot.nodes), len(snapshot.runs)) == (NODES, NODES)
    assert taken <= SNAPSHOT_FACTOR * floor


@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is told in kilobytes on Linux only")
def test_such_an_intake_stays_under_a_gigabyte(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "big.xlsx"
    path.write_bytes(content)
    environment = {
        "CHANGEOVER_HOME": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "planner.site.settings",
        "PATH": "",
    }
    ran = subprocess.run(
        [sys.executable, "-c", ALONE, str(path)], env=environment, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    peak_mb = int(ran.stdout.split()[-1])
    assert peak_mb < MOST_MB
