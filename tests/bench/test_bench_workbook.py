"""What reading and checking cost beyond the floor: python-calamine alone on the same bytes, in the same run."""

import io
import resource
import time
from collections.abc import Callable
from datetime import date

import pytest
from openpyxl import Workbook
from pytest_benchmark.fixture import BenchmarkFixture
from python_calamine import CalamineWorkbook

from inventory.workbook.check import check_rows
from inventory.workbook.read import read_workbook
from inventory.workbook.rows import KnownKeys

SIZE = 100_000
ON_A_BUS = 10
MOST_RATIO = 2.2  # of processor time; measured 1.8 to 2.0 on two cores that others were using too
MOST_MB = 1_000


@pytest.fixture(scope="module")
def content() -> bytes:
    """A campus of `SIZE` nodes and as many runs, with everything they refer to."""
    book = Workbook(write_only=True)
    tables = {
        "Buildings": (("Building",), [("B04",)]),
        "Rooms": (("Building", "Room"), [("B04", "1.07")]),
        "Cables": (("Cable", "Power conductor"), [("2x2", "18 AWG")]),
        "Models": (("Model", "Kind"), [("WS-20", "station")]),
        "Buses": (("Bus", "Building"), [(f"B04-L{n}", "B04") for n in range(SIZE // ON_A_BUS)]),
        "Nodes": (
            ("Node", "Building", "Room", "Model", "Bus", "Serial", "Installed", "Condition", "Zones used"),
            [
                (f"B04-S{n:06d}", "B04", "1.07", "WS-20", f"B04-L{n // ON_A_BUS}", f"20-{n}", date(2004, 9, 1), 3, 4)
                for n in range(SIZE)
            ],
        ),
        "Runs": (
            ("Run", "Bus", "From", "To", "Cable", "Length (m)", "Surveyed"),
            [
                (f"R{n:06d}", f"B04-L{n // ON_A_BUS}", f"B04-S{n:06d}", f"B04-S{n ^ 1:06d}", "2x2", 38.5, None)
                for n in range(SIZE)
            ],
        ),
    }
    for title, (headings, rows) in tables.items():
        page = book.create_sheet(title)
        page.append(headings)
        for row in rows:
            page.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def floor(content: bytes) -> None:
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    for title in book.sheet_names:
        book.get_sheet_by_name(title).to_python()


def read_and_check(content: bytes) -> None:
    rows = read_workbook(content)
    assert check_rows(rows, KnownKeys()) == rows.problems == ()
    assert len(rows.sheets["nodes"]) == len(rows.sheets["runs"]) == SIZE


def seconds(work: Callable[[bytes], None], content: bytes) -> float:
    start = time.process_time()
    work(content)
    return time.process_time() - start


def test_reading_and_checking_cost_little_beyond_calamine(benchmark: BenchmarkFixture, content: bytes) -> None:
    base = min(seconds(floor, content) for _ in range(3))
    benchmark.pedantic(read_and_check, args=(content,), rounds=1)
    if benchmark.stats is None:  # benchmarks are switched off
        return
    ratio = min(seconds(read_and_check, content) for _ in range(3)) / base
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1_000
    benchmark.extra_info |= {"floor_s": base, "ratio": ratio, "peak_mb": peak_mb}
    print(f"read and check {ratio:.2f} x calamine alone ({base:.2f} s); peak {peak_mb:.0f} MB")  # noqa: T201
    assert ratio < MOST_RATIO
    assert peak_mb < MOST_MB
