"""Pages of a big campus measured in a process of their own, each against its floor in the same run; prints JSON.

The floor of a list is a bare template loop over the same rows, as a page of the same site (bare_page.py). SQLite works
in this process, so that its processor time is all it takes, whatever else the machine does; PostgreSQL does not, so that
wall time counts there. The least of several rounds.
"""

import json
import sys
import time
from collections.abc import Callable
from typing import Any

import django
from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import setup_test_environment, teardown_test_environment
from django.utils.module_loading import import_string

from tests.bench.big_site import make_site

ROUNDS = 7
LISTS = {"stations": "/stations/", "segments": "/segments/", "nodes": "/records/nodes/", "runs": "/records/runs/"}
SOUGHT = ("B00100", "777", "20-3", "no such name", "b")
PAGES = (
    "/", "/stations/", "/stations/?verdict=new+cable", "/segments/", "/segments/?verdict=survey+first", "/segments/survey/", "/plans/", "/plans/1/",
    "/plans/1/orders/", "/materials/", "/buildings/5/", "/rooms/5/", "/records/", "/records/nodes/", "/records/runs/", "/intake/", "/words/",
    "/sources/", "/workbook/", "/search/?q=b", "/audit/", "/feeds/",
)  # fmt: skip


def least_s(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return what some work takes, the least of several rounds after one to warm up [s]."""
    clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
    work()
    spans = []
    for _ in range(rounds):
        start = clock()
        work()
        spans.append(clock() - start)
    return min(spans)


def last_page(address: str, client: Client) -> str:
    """Return the address of the last page of a list."""
    return f"{address}?page={table_of(address, client).paginator.num_pages}"


def table_of(address: str, client: Client) -> Any:
    """Return the table that a page shows; templates are watched for that moment alone, since watching costs time."""
    setup_test_environment()
    try:
        return client.get(address).context["table"]
    finally:
        teardown_test_environment()


def measure(client: Client) -> dict[str, Any]:
    """Measure lists, search and pages."""
    get = lambda address: lambda: client.get(address)  # noqa: E731 - said where it is used
    lists = {}
    for name, address in LISTS.items():
        import_string("tests.bench.bare_page.show")(table_of(address, client))
        floor, first = least_s(get("/bare/")), least_s(get(address))
        lists[name] = {"floor_s": floor, "first_s": first, "last_s": least_s(get(last_page(address, client)))}
    sizes = {address: len(client.get(address).content) / 1000 for address in PAGES}
    return {
        "lists": lists,
        "search_s": {text: least_s(get(f"/search/?q={text}"), 3) for text in SOUGHT},
        "page_kb": sizes,
        "page_s": {address: least_s(get(address), 1) for address in PAGES if address not in SLOW},
    }


SLOW = ("/ageing/", "/segments/survey/")  # reckoned when asked for, see DEVELOPERS.md


def main() -> None:
    """Make the campus of so many nodes that the first argument says, and measure it; `there` where it is made."""
    django.setup()
    settings.ALLOWED_HOSTS, settings.ROOT_URLCONF = ["testserver"], "tests.bench.bare_page"
    if sys.argv[1] != "there":
        make_site(int(sys.argv[1]))
    user, _ = import_string("django.contrib.auth.models.User").objects.get_or_create(
        username="bench", is_superuser=True, is_staff=True
    )
    client = Client()
    client.force_login(user)
    nodes = import_string("inventory.models.Node").objects.count()
    sys.stdout.write(json.dumps({"nodes": nodes, **measure(client)}))


if __name__ == "__main__":
    main()
