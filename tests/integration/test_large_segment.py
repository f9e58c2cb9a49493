"""The page of a segment that is far too large to draw: what is not shown is not read, and what is shown is the same."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from inventory.core.readings import Quantity
from inventory.models import Node, Run
from planner.services.assess import assess_campus
from planner.views.segments import MOST_ROWS
from tests.campus_catalogue import catalogue
from tests.campus_tables import store
from tests.campuses import Draft, add_line, add_station
from tests.site_campus import people

pytestmark = [pytest.mark.django_db, pytest.mark.on_any_database]

JUNCTIONS = 400
Before = Callable[[int], int]
SHAPES: dict[str, Before] = {"line": lambda number: number - 1, "bush": lambda number: number // 2}


def large(before: Before, *, ring: bool) -> Draft:
    """Return a campus with one bus of many junctions and a station on the last of them."""
    draft = Draft(catalogue=catalogue())
    draft.building("B1")
    draft.bus("B1-N0", "B1", "CAMPUSNET")
    draft.node("B1-C1", "CT-1", "B1-N0")
    keys = {0: add_line(draft, "L1")}
    for number in range(1, JUNCTIONS + 1):
        keys[number] = f"J{number:03d}"
        draft.node(keys[number], "JB-1", "L1")
        draft.run(f"R{number:03d}", "L1", (keys[before(number)], keys[number]), cable="2x2 18AWG", length_m=2.0)
    add_station(draft, "L1", "B1-S101", keys[JUNCTIONS], length_m=2.0)
    if ring:
        draft.run("Z", "L1", ("B1-S101", keys[0]), cable="2x2 18AWG", length_m=2.0)
    return draft


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("ring", [False, True])
def test_nodes_and_runs_that_are_not_shown_are_not_read_in_full(
    shape: str,
    ring: bool,  # noqa: FBT001
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    store(large(SHAPES[shape], ring=ring).snapshot())
    assess_campus(by=None)
    client = Client()
    client.force_login(people()["crew"])
    made: list[str] = []
    for model in (Node, Run):
        whole = model.from_db.__func__  # type: ignore[attr-defined]

        def counted(cls: type, db: str, names: list[str], values: list[object], whole: object = whole) -> object:
            made.append(cls.__name__)
            return whole(cls, db, names, values)  # type: ignore[operator]

        monkeypatch.setattr(model, "from_db", classmethod(counted))
    page = client.get(reverse("segment", args=["L1"])).content.decode()
    assert page.count('<th scope="row" class="pin"><a href="/stations/') == MOST_ROWS
    assert "302 more nodes are not shown here" in page
    assert f"{JUNCTIONS + 2} nodes and {JUNCTIONS + 1 + ring} runs in all" in page
    assert page.count(Quantity.LOOP.value) > 0
    assert len(made) <= MOST_ROWS + 2, "the table's nodes"
