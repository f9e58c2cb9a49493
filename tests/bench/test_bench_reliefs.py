"""What looking for ways out costs beside the assessment of the same campus."""

from dataclasses import replace

import pytest

from planner.core.brief import Brief
from planner.core.reliefs import ways_out
from planner.core.verdicts import assess
from tests.bench.test_bench_assess import best_s
from tests.campuses import random_campus
from tests.reliefs import priced


@pytest.mark.parametrize("sides", [600, 3_000])
def test_all_ways_out_of_a_campus_beside_its_assessment(benchmark: object, sides: int) -> None:
    snapshot, brief = random_campus(1, sides), Brief()
    snapshot = replace(snapshot, catalogue=priced(snapshot.catalogue))
    reports = assess(snapshot, brief)
    floor = best_s(lambda: assess(snapshot, brief))
    searching = best_s(lambda: ways_out(snapshot, reports, brief), rounds=1)
    found = ways_out(snapshot, reports, brief)
    benchmark(lambda: ways_out(snapshot, reports, brief, only=tuple(found)[:1]))  # type: ignore[operator]
    print(  # noqa: T201 - a bench says what it measured
        f"\n{sides} sides, {len(found)} ways out, {sum(one.limited for one in found.values())} cut by a limit: "
        f"{searching / floor:.1f} x the assessment, {searching / len(found) * 1e3:.1f} ms each"
    )
    assert searching < 20 * floor
