"""From the database to stored verdicts, end to end, on SQLite on disk; the issue's goal at a million sides is 12 s.

The floor is a fetch of the same rows as rows of Python, with nothing done with them. Words, which follow verdicts on a
campus of this size, are not in it.
"""

import os
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.alone import told_alone

SIDES = int(os.environ.get("BENCH_SIDES", "1000000").split(",")[-1])
MOST_FETCHES = 4.0  # at a million sides; on a small campus what does not grow with it weighs more
STEPS = ("load", "judge", "keep")


@pytest.mark.benchmark(group="stored verdicts")
def test_a_campus_goes_from_its_tables_to_stored_verdicts_near_a_raw_fetch(
    benchmark: BenchmarkFixture, tmp_path: Path
) -> None:
    told: dict[str, float] = told_alone("tests.bench.stored_alone", str(SIDES), tmp_path)
    whole, wall = (sum(told[f"{step}{unit}"] for step in STEPS) for unit in ("_s", "_wall_s"))
    steps = ", ".join(f"{step} {told[f'{step}_s']:.2f} s" for step in STEPS)
    print(  # noqa: T201 - a bench says what it measured
        f"\n{SIDES} sides, {told['segments']:.0f} segments: tables to stored verdicts {whole:.2f} s of processor time "
        f"({steps}), {wall:.2f} s by the clock = {whole / told['fetch_s']:.1f} x a raw fetch"
    )
    benchmark.extra_info.update(told)
    benchmark.pedantic(lambda: None, rounds=1)
    assert whole <= MOST_FETCHES * told["fetch_s"], told
