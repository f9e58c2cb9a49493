"""Pages of lists: all of them together are the list, whichever end a page is read from; long lists stay light."""

import re
from html import unescape

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from inventory import filters
from inventory.filters import NONE
from inventory.models import Building, Room
from inventory.views import paging
from inventory.views.lists import ROWS_A_PAGE
from inventory.views.paging import count_of, rows_between
from planner.core.findings import Verdict
from planner.filters.stations import judged
from planner.models import SegmentMember
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def client_of_all() -> Client:
    whole_campus()
    client = Client()
    client.force_login(User.objects.get(username="super"))
    return client


@pytest.fixture
def rooms() -> int:
    """Make many rooms, most of them alike in what lists sort by; return how many there are."""
    whole_campus()
    building = Building.objects.earliest("pk")
    made = [Room(building=building, key=f"x{number}", name=["b", None, "a"][number % 3]) for number in range(230)]
    Room.objects.bulk_create(made)
    return Room.objects.count()


@pytest.mark.parametrize("sort", ["", "name", "-name", "record", "-floor"])
def test_all_pages_together_are_the_list_in_its_order(rooms: int, sort: str) -> None:
    client = Client()
    client.force_login(User.objects.get(username="super"))
    seen = []
    for number in range(1, -(-rooms // ROWS_A_PAGE) + 1):
        page = client.get(reverse("rooms-records"), {"sort": sort, "page": number})
        seen += [row.pk for row in page.context["table"].paginated_rows.data]
    whole = client.get(reverse("rooms-records"), {"sort": sort}).context["table"].data.data
    assert seen == [row.pk for row in whole]
    assert len(set(seen)) == rooms


@pytest.mark.parametrize(("bottom", "top"), [(0, 1), (0, 7), (3, 9), (5, 6), (6, 11), (10, 11), (0, 11), (4, 4)])
def test_rows_are_the_same_from_either_end(bottom: int, top: int) -> None:
    Building.objects.bulk_create(Building(key=f"K{number:02d}") for number in range(11))
    rows = Building.objects.order_by("key")
    assert rows_between(rows, bottom, top, 11) == list(rows[bottom:top])


def test_only_a_count_of_very_many_is_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = Building.objects.filter(name="of this test alone")
    for number in range(3):
        Building.objects.create(key=f"C{number}", name="of this test alone")
        assert count_of(rows) == number + 1
    monkeypatch.setattr(paging, "MANY", 2)
    assert count_of(rows) == 3
    Building.objects.create(key="one more", name="of this test alone")
    assert count_of(rows) == 3
    assert count_of(Building.objects.none()) == 0


def test_a_name_is_typed_where_a_list_to_choose_from_would_be_endless(
    client_of_all: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = client_of_all.get(reverse("stations")).content.decode()
    monkeypatch.setattr(filters, "MOST_CHOICES", 1)
    many = client_of_all.get(reverse("stations"), {"building": "B1"})
    assert '<select name="building"' in few
    assert 'name="building" value="B1"' in many.content.decode()
    assert {row.building.key for row in many.context["table"].paginated_rows.data} == {"B1"}
    wrong = client_of_all.get(reverse("stations"), {"building": "no such"})
    assert "Nothing on file has this name" in wrong.content.decode()


@pytest.mark.parametrize("address", ["stations", "segments", "materials", "rooms-records", "audit"])
def test_a_list_says_where_it_is_kept_as_a_file_narrowed_as_it_is(client_of_all: Client, address: str) -> None:
    page = client_of_all.get(reverse(address), {"building": "B1", "page": 1}).content.decode()
    for kind, begins in (("csv", b"\xef\xbb\xbf"), ("xlsx", b"PK")):
        (link,) = re.findall(rf'<a href="([^"]*)">(?:{"CSV" if kind == "csv" else "workbook"})</a>', page)[:1]
        assert "building=B1" in link
        assert ("page" in link) == (address == "audit")  # which has no numbered pages
        kept = client_of_all.get(reverse(address) + unescape(link))
        assert kept["Content-Disposition"].startswith("attachment")
        assert kept.content.startswith(begins)


@pytest.mark.parametrize("verdict", [*Verdict, NONE])
def test_stations_of_a_verdict_are_those_that_show_it_and_are_not_looked_up_node_by_node(
    client_of_all: Client, verdict: str
) -> None:
    """What is compared for each node hides from a database how rare it is: PostgreSQL read 6,306 nodes for 50 stations."""
    SegmentMember.objects.filter(node__key__startswith="B1-L2-").delete()  # so that some are not assessed
    rows = client_of_all.get(reverse("stations"), {"verdict": verdict}).context["table"].data.data
    all_of_them = judged(filters.stations())
    shown = {row.key for row in all_of_them if row.verdict == (None if verdict == NONE else verdict)}
    assert {row.key for row in rows} == shown
    assert shown or verdict == Verdict.LEAVE
    where = str(rows.values("pk").query).partition("WHERE")[2]
    assert where.count("LIMIT 1) =") + where.count("IS NULL") == 0, where
