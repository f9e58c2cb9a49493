"""Pages on a campus of a million nodes, on SQLite and on PostgreSQL, each in a process and a database of its own.

Goals: a list of 50 rows at most 3 x a bare template loop over the same rows in the same run, its last page at most
1.3 x its first, a search under 200 ms, every page under 100 kB. Run alone: `-n 0`; PostgreSQL is left out where none answers.
"""

import os
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.alone import told_alone

NODES = os.environ.get("BENCH_NODES", "1000000")
SERVER = os.environ.get("BENCH_SERVER", "postgres://postgres@127.0.0.1:5432")
OWN_DATABASE = "changeover_bench_lists"
MOST_OF_FLOOR, MOST_OF_FIRST, MOST_SEARCH_S, MOST_KB = 3.0, 1.3, 0.2, 100.0
ALONE = "tests.bench.lists_alone"


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def measured(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Any]]:
    """Return what was measured on one database, which is made for it and dropped after it."""
    home = tmp_path_factory.mktemp("lists")
    if request.param == "sqlite":
        yield told_alone(ALONE, NODES, home)
        return
    try:
        _say(f"DROP DATABASE IF EXISTS {OWN_DATABASE}")
    except psycopg.OperationalError:
        pytest.skip("NOT MEASURED ON POSTGRESQL: none answers.")
    _say(f"CREATE DATABASE {OWN_DATABASE}")
    try:
        yield told_alone(ALONE, NODES, home, DATABASE_URL=f"{SERVER}/{OWN_DATABASE}")
    finally:
        _say(f"DROP DATABASE {OWN_DATABASE}")


def _say(sql: str) -> None:
    with psycopg.connect(f"{SERVER}/postgres", autocommit=True) as server:
        server.execute(sql)  # type: ignore[call-overload]


def test_a_list_costs_little_more_than_its_rows_at_either_end(
    measured: dict[str, Any], benchmark: BenchmarkFixture
) -> None:
    benchmark(lambda: None)  # measured in a process of its own; the ratios stand beside
    for name, one in measured["lists"].items():
        of_floor, of_first = one["first_s"] / one["floor_s"], one["last_s"] / one["first_s"]
        said = f"{name}: {of_floor:.2f} x the bare loop, last page {of_first:.2f} x the first"
        print(f"\n{measured['nodes']:,} nodes, {said}", end="")  # noqa: T201 - a bench says what it measured
        benchmark.extra_info[name] = {"of floor": of_floor, "last of first": of_first}
        assert of_floor <= MOST_OF_FLOOR, (name, one)
        assert of_first <= MOST_OF_FIRST, (name, one)


def test_a_search_is_answered_at_once(measured: dict[str, Any]) -> None:
    print("\nsearch [ms]:", {text: round(took * 1e3) for text, took in measured["search_s"].items()})  # noqa: T201
    assert max(measured["search_s"].values()) < MOST_SEARCH_S, measured["search_s"]


def test_no_page_is_heavy(measured: dict[str, Any]) -> None:
    print("\npages [ms]:", {page: round(took * 1e3) for page, took in measured["page_s"].items()})  # noqa: T201
    heavy = {page: size for page, size in measured["page_kb"].items() if size >= MOST_KB}
    assert not heavy
