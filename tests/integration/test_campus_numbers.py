"""How we stand: every number on Campus is a link, and the list behind it has as many rows as the number says."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Delivery, Failure, Node, Part
from planner.models import Assessment, Order, Segment, StationRisk
from planner.services import remembered, standing
from planner.services.converted import stations_dated
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db

LINKED = re.compile(r'<a href="([^"]+)">\s*([\d\s\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]+)</a>')
DRAWN = re.compile(r'<a href="([^"]+)"[^>]*aria-label="[^"]*: (\d+) stations"')
ROWS = re.compile(r"<strong>([^<]+)</strong> (?:stations?|segments?|orders?|records?|failures?|deliver(?:ies|y))")
MEASURES = ("Importance", "Weighted days")  # of a room, not counts of anything


@pytest.fixture
def reader() -> Client:
    people = whole_campus()
    stations = Node.objects.filter(model__kind="station").order_by("key")
    StationRisk.objects.bulk_create(
        StationRisk(node=node, importance=3, chance=0.1, days_without=30, score=1.0 + node.pk % 7) for node in stations
    )
    part, _ = Part.objects.get_or_create(key="P-LATE", defaults={"unit": "piece"})
    for days in (-1, 0, 1, 40):  # two of them should have come
        due = timezone.localdate() - timedelta(days=days)
        Delivery.objects.create(part=part, due=due, quantity=3)
    for days in (3, 364, 365, 400):  # two of them within the year
        Failure.objects.create(node=stations[0], date=timezone.localdate() - timedelta(days=days), what_failed="slider")
    client = Client()
    client.force_login(people["reader"])
    return client


def number(text: str) -> int:
    return int(re.sub(r"\D", "", text))


def page_of(client: Client) -> str:
    return client.get(reverse("campus")).content.decode()


def rows_behind(client: Client, address: str) -> int:
    answer = client.get(unescape(address))
    assert answer.status_code == 200, address
    said = ROWS.search(answer.content.decode())
    assert said, address
    return number(said[1])


def test_each_number_leads_to_a_list_of_as_many_rows(reader: Client) -> None:
    page = page_of(reader)
    found = [*LINKED.findall(page), *DRAWN.findall(page)]
    assert len(found) > 40
    told = [(address, number(count)) for address, count in found]
    assert told == [(address, rows_behind(reader, address)) for address, _ in found]


def test_there_is_no_count_without_a_link(reader: Client) -> None:
    page = page_of(reader)
    main = page[page.index("<main") : page.index('<footer class="titleblock"')]
    for head, body in re.findall(r"<thead><tr>(.*?)</tr></thead>\s*<tbody>(.*?)</tbody>", main, re.DOTALL):
        names = re.findall(r"<th[^>]*>(.*?)</th>", head)
        for row in re.findall(r"<tr>(.*?)</tr>", body, re.DOTALL):
            for name, cell in zip(names, re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL), strict=True):
                counts = re.fullmatch(r"[\d\s]+", cell.strip())
                assert not counts or name in MEASURES, (name, cell)
    figures = re.findall(r"<dd>(.*?)</dd>", main)
    assert len(figures) == 6
    assert all("<a href" in figure for figure in figures)


def test_a_campus_without_a_method_for_any_of_its_stations_says_where_methods_are_written_down(reader: Client) -> None:
    said = "none holds a station that a method on record replaces"
    assert said not in page_of(reader)
    Assessment.objects.update(counts={"leave": 3, "in place": 0})
    assert said in page_of(reader)


def test_failures_of_the_year_are_counted_to_the_day(reader: Client) -> None:
    assert standing.recent_failures(timezone.localdate()) == 2


def test_deliveries_that_should_have_come_before_today_are_counted(reader: Client) -> None:
    assert ("due_to=", 2) in [(address[-17:-10], number(count)) for address, count in LINKED.findall(page_of(reader))]


def test_the_stations_of_an_order_are_those_of_the_plan_that_the_list_of_orders_shows(reader: Client) -> None:
    plan = standing.current_plan()
    assert plan is not None
    listed = reader.get(reverse("orders")).content.decode()
    found = [(address, number(count)) for address, count in LINKED.findall(listed) if "order=" in address]
    assert len(found) == plan.orders.count()
    assert [rows_behind(reader, address) for address, _ in found] == [count for _, count in found]
    order = plan.orders.filter(stations=1).first()
    assert order is not None
    address = f"{reverse('stations')}?order={order.key}"
    assert rows_behind(reader, f"{address}&plan={plan.pk}") == rows_behind(reader, address) == 1
    assert rows_behind(reader, f"{address}&plan={plan.pk + 1}") == rows_behind(reader, f"{address}&plan=none") == 0


def test_more_orders_are_overdue_than_are_shown(reader: Client) -> None:
    late = timezone.now() - timedelta(days=3)
    Order.objects.update(state="booked", start=late, end=late + timedelta(hours=3), dark_from=None, dark_to=None)
    address, count = next(one for one in LINKED.findall(page_of(reader)) if "overdue" in one[0])
    assert number(count) == Order.objects.count() > standing.SHOWN_ORDERS
    assert rows_behind(reader, address) == number(count)


def test_a_station_backed_out_is_not_dated_and_one_of_two_orders_counts_once(reader: Client) -> None:
    plan = standing.current_plan()
    assert plan is not None
    dated = stations_dated(plan)
    assert set(dated.planned) == {"B1-L0-S0", "B2-L0-S0"}  # five orders of one station, two of the other's, one undated
    assert set(dated.done) == {"B1-L0-S0"}
    Order.objects.filter(building__key="B1").update(state="backed out")
    assert set(stations_dated(plan).planned) == {"B2-L0-S0"}
    assert not stations_dated(plan).done


def test_what_is_remembered_is_forgotten_with_the_first_change(reader: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(remembered, "MANY", 1)
    before = page_of(reader)
    Segment.objects.update(verdict="leave")  # behind the back of every service: nothing tells of it
    assert LINKED.findall(page_of(reader))[4:12] == LINKED.findall(before)[4:12]
    station = Node.objects.filter(model__kind="station").earliest("key")
    station.note = "changed as people change it"
    station.save()
    assert LINKED.findall(page_of(reader)) != LINKED.findall(before)
