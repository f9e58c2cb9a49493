"""What the pages say: lists, one thing at a time, search, materials."""

import csv
import re
from collections.abc import Callable
from datetime import date, timedelta
from html import unescape
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from inventory.core.limits import COPPER, by_protocol, for_any
from inventory.models import Building, Bus, Cable, EquipmentModel, Node, Part, Room, Run
from planner.models import Order, Plan, TakeoffLine
from planner.services.standing import Question, rank_questions, stations_by_age
from planner.store.verdicts import current_assessment
from tests.site_campus import QUESTION, people, whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def campus() -> dict[str, User]:
    return whole_campus()


@pytest.fixture
def reader(campus: dict[str, User]) -> Client:
    client = Client()
    client.force_login(campus["reader"])
    return client


@pytest.fixture
def planner(campus: dict[str, User]) -> Client:
    client = Client()
    client.force_login(campus["planning"])
    return client


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode().replace("\N{NO-BREAK SPACE}", " ")


def exported(client: Client, query: str) -> list[list[str]]:
    answer = client.get(f"{reverse('stations')}?as=csv&{query}")
    return list(csv.reader(StringIO(answer.content.decode("utf-8-sig"))))


def column(rows: list[list[str]], heading: str) -> list[str]:
    at = rows[0].index(heading)
    return [row[at] for row in rows[1:]]


def test_a_new_campus_shows_three_steps_to_the_first_verdict() -> None:
    client = Client()
    client.force_login(people()["facilities"])
    page = text_of(client, reverse("campus"))
    assert page.count("<li><h2>") == 3
    assert "Fill the blank workbook" in page
    assert "not assessed yet" in page


def test_the_campus_counts_every_station_once_by_verdict_and_by_age(reader: Client) -> None:
    stations = Node.objects.filter(model__kind="station").count()
    bands = stations_by_age(timezone.localdate())
    assert sum(band.stations for band in bands) == stations
    page = text_of(reader, reverse("campus"))
    for verdict in ("in place", "together", "clear first", "new cable", "other method", "survey first", "leave"):
        assert f"?verdict={verdict.replace(' ', '+')}" in page


def test_a_bar_leads_to_exactly_the_stations_that_it_counts(reader: Client) -> None:
    for band in stations_by_age(timezone.localdate()):
        asked = "installed=none" if band.years is None else f"age_from={band.years}"
        asked += f"&age_below={band.below}" if band.below else ""
        assert len(exported(reader, asked)) - 1 == band.stations, band


def test_a_station_installed_to_the_day_five_years_ago_is_in_the_second_band(reader: Client) -> None:
    # 5 years to the day is `5 to 10`, a day less is `0 to 5`.
    node = Node.objects.filter(model__kind="station").earliest("key")
    today = timezone.localdate().replace(day=25)
    before = stations_by_age(today)
    Node.objects.filter(pk=node.pk).update(installed=today.replace(year=today.year - 5))
    assert stations_by_age(today)[1].stations == before[1].stations + 1
    Node.objects.filter(pk=node.pk).update(installed=today.replace(year=today.year - 5) + timedelta(days=1))
    assert stations_by_age(today)[0].stations == before[0].stations + 1


def test_questions_rank_by_the_stations_they_hold_back() -> None:
    rows = [
        ("L1", 2, ("where is X1?",)),
        ("L2", 3, ("how long is R4?", "where is X1?")),
        ("L3", 4, ("how long is R9?",)),
    ]
    assert rank_questions(rows) == (
        Question(text="where is X1?", stations=5, segments=2, segment="L1"),
        Question(text="how long is R9?", stations=4, segments=1, segment="L3"),
        Question(text="how long is R4?", stations=3, segments=1, segment="L2"),
    )


def test_the_campus_names_the_question_the_next_orders_and_the_overdue_one(reader: Client) -> None:
    page = text_of(reader, reverse("campus"))
    assert QUESTION in page
    assert "B1-O0" in page
    assert "Overdue" in page
    assert "B2-O1" in page
    assert "B2-O2" not in page  # it is in no plan of nights


@pytest.mark.parametrize(
    ("query", "heading", "holds"),
    [
        ("building=B2", "Building", lambda value: value == "B2 Lamp Works"),
        ("floor=1", "Room", lambda value: value.startswith("1.")),
        ("model=WS-10", "Model", lambda value: value == "WS-10"),
        ("condition=4", "Condition", lambda value: value == "4"),
        ("condition=none", "Condition", lambda value: value == ""),
        ("age_from=10", "Age (years)", lambda value: float(value) >= 10),
        ("age_below=10", "Age (years)", lambda value: float(value) < 10),
        ("installed=none", "Installed", lambda value: value == ""),
        ("verdict=new+cable", "Verdict", lambda value: value == "new cable"),
        ("support=ended", "Model", lambda value: value == "WS-10"),
        ("support=running", "Model", lambda value: value == "WS-20"),
    ],
)
def test_the_list_narrows(reader: Client, query: str, heading: str, holds: Callable[[str], bool]) -> None:
    rows = column(exported(reader, query), heading)
    assert rows
    assert all(holds(value) for value in rows)
    assert len(rows) < Node.objects.filter(model__kind="station").count()


@pytest.mark.parametrize("heading", ["Installed", "Age (years)", "Service life left (years)", "Condition"])
@pytest.mark.parametrize("sign", ["", "-"])
def test_sorting_puts_what_is_not_known_last_either_way(reader: Client, heading: str, sign: str) -> None:
    names = {
        "Installed": "installed",
        "Age (years)": "age",
        "Service life left (years)": "life_left",
        "Condition": "condition",
    }
    values = column(exported(reader, f"sort={sign}{names[heading]}"), heading)
    known = [value for value in values if value]
    assert values == known + [""] * (len(values) - len(known))
    key: Callable[[str], Any] = str if heading == "Installed" else float
    assert [key(value) for value in known] == sorted(map(key, known), reverse=bool(sign))
    assert len(known) < len(values)


def test_the_list_goes_page_by_page_and_keeps_what_was_asked(reader: Client) -> None:
    page = text_of(reader, f"{reverse('stations')}?sort=-age&model=WS-10&model=")
    assert "stations" in page
    second = text_of(reader, f"{reverse('stations')}?sort=-age&page=2")
    assert "sort=-age" in second
    assert 'aria-sort="descending"' in second
    assert "page 2 of 2" in second


def test_only_chosen_columns_are_shown_and_exported(reader: Client) -> None:
    rows = exported(reader, "column=model&column=verdict")
    assert rows[0] == ["Station", "Model", "Verdict"]


def test_a_wrong_choice_is_said_beside_the_field_and_not_an_error(reader: Client) -> None:
    page = text_of(reader, f"{reverse('stations')}?building=NO-SUCH&age_from=old")
    assert "Nothing on file has this name. Choose one of the list." in page
    assert "Enter a number" in page
    assert "Nothing is listed" in page


def test_a_file_of_a_wrong_choice_holds_no_row_that_was_not_asked_for(reader: Client) -> None:
    assert len(exported(reader, "building=NO-SUCH")) == 1
    assert len(exported(reader, "building=B1")) > 1


def test_files_hold_what_is_shown_with_dates_as_dates_and_formulas_as_text(reader: Client) -> None:
    model = EquipmentModel.objects.get(key="WS-10")
    room = Room.objects.earliest("pk")
    Node.objects.create(key="=1+1", building=room.building, room=room, model=model, installed=timezone.localdate())
    answer = reader.get(f"{reverse('stations')}?as=xlsx&sort=station")
    assert 'filename="stations.xlsx"' in answer.headers["Content-Disposition"]
    sheet = load_workbook(BytesIO(answer.content)).active
    assert sheet is not None
    first = list(sheet.iter_rows(min_row=1, max_row=2))
    assert [cell.value for cell in first[0]][:3] == ["Station", "Building", "Room"]
    assert (first[1][0].value, first[1][0].data_type) == ("=1+1", "s")
    assert isinstance(first[1][4].value, date)
    assert sheet.max_row == Node.objects.filter(model__kind="station").count() + 1
    assert column(exported(reader, "sort=station"), "Station")[0] == "'=1+1"


@pytest.mark.parametrize(
    ("name", "query", "most"),
    [
        ("campus", "", 21),
        ("stations", "", 13),
        ("stations", "?sort=-verdict&page=2", 13),
        ("materials", "", 27),
        ("search", "?q=b1", 23),
    ],
)
def test_queries_do_not_grow_with_the_rows(
    reader: Client, django_assert_max_num_queries: Any, name: str, query: str, most: int
) -> None:
    with django_assert_max_num_queries(most):
        text_of(reader, reverse(name) + query)


@pytest.mark.parametrize(("name", "sought"), [("models", "ws-1"), ("cables", "spi"), ("runs", "r-99")])
def test_what_stands_only_on_a_sheet_of_records_is_found_too(reader: Client, name: str, sought: str) -> None:
    model = {"models": EquipmentModel, "cables": Cable, "runs": Run}[name]
    ends = dict(zip(("from_node", "to_node"), Node.objects.order_by("key"), strict=False))
    Run.objects.create(key="R-99", bus=Bus.objects.earliest("key"), **ends)
    Cable.objects.create(key="Spine pair")
    row = model.objects.filter(key__icontains=sought).earliest("key")
    assert reverse(f"{name}-record", args=[row.pk]) in text_of(reader, reverse("search") + f"?q={sought}")


@pytest.mark.parametrize("sought", ["p-9001", "tide plate", "harbour"])
def test_a_part_is_found_by_its_name_its_words_or_its_supplier(reader: Client, sought: str) -> None:
    part = Part.objects.create(key="P-9001", description="Tide plate", supplier="Harbour Stores")
    found = reverse("material", args=[part.pk])
    assert found in text_of(reader, reverse("search") + f"?q={sought}")
    assert found not in text_of(reader, reverse("search") + "?q=no-such")


def test_the_orders_of_a_crew_are_found_by_its_name(reader: Client) -> None:
    order = Order.objects.filter(crew__isnull=False).earliest("pk")
    Order.objects.filter(pk=order.pk).update(crew="Ebb crew")
    page = text_of(reader, reverse("search") + "?q=ebb")
    assert re.findall(r'href="/orders/(\d+)/"', page) == [str(order.pk)]


def test_a_station_page_takes_as_many_queries_with_a_long_history_as_with_a_short_one(
    reader: Client, django_assert_max_num_queries: Any
) -> None:
    node = Node.objects.filter(model__kind="station").earliest("key")
    for n in range(30):
        node.note = f"note {n}"
        node.save()
    with django_assert_max_num_queries(23):
        text_of(reader, reverse("station", args=[node.pk]))


def test_a_station_shows_who_changed_what_from_what(planner: Client, campus: dict[str, User]) -> None:
    node = Node.objects.filter(model__kind="station", room__isnull=False).select_related("room").latest("key")
    assert node.room
    other = Room.objects.filter(building=node.building).exclude(pk=node.room.pk).earliest("key")
    before, node.room, node.condition = node.room.key, other, 5
    node._history_user = campus["facilities"]  # type: ignore[attr-defined]
    node.save()
    page = text_of(planner, reverse("station", args=[node.pk]))
    assert "facilities" in page
    assert "changed" in page
    assert f"Room: B3 {before} → B3 {other.key}" in page or f"Room: {before} → {other.key}" in page
    assert "put on record" in page


def test_a_room_shows_the_orders_it_is_dark_for_and_the_spares_of_what_hangs_there(reader: Client) -> None:
    order = Order.objects.filter(crew__isnull=False).earliest("pk")
    node = Node.objects.filter(model__key="WS-10", room__isnull=False).select_related("room__building").earliest("key")
    assert node.room
    dark = {"rooms": [[node.room.building.key, node.room.key]]}
    for one in Order.objects.all():
        one.data = {**one.data, **({"rooms": []} if one != order else dark)}
        one.save()
    for name, place in (("room", node.room), ("building", node.room.building)):
        page = text_of(reader, reverse(name, args=[place.pk]))
        assert re.search(r'<th scope="row">WS-10</th><td class="n">\d+</td><td class="n">4</td>', page), name
    page = text_of(reader, reverse("room", args=[node.room.pk]))
    assert re.findall(r'href="/orders/(\d+)/"', page) == [str(order.pk)]
    Order.objects.filter(pk=order.pk).update(data={**order.data, "rooms": []})
    assert "In no outage of the current plan" in text_of(reader, reverse("room", args=[node.room.pk]))


def test_a_station_shows_its_verdict_order_spares_zones_and_scenes(reader: Client) -> None:
    node = Node.objects.filter(model__kind="station").earliest("key")
    page = text_of(reader, reverse("station", args=[node.pk]))
    for words in ("in place", "B1-O0", "4 in Main store", "Front row", "1=80", "not known"):
        assert words in page, words


def test_a_failure_goes_on_record_with_who_reported_it(planner: Client, campus: dict[str, User]) -> None:
    node = Node.objects.filter(model__kind="station").earliest("key")
    today = timezone.localdate()
    answer = planner.post(
        reverse("report-failure", args=[node.pk]),
        {"date": today.isoformat(), "what_failed": "dark", "outcome": "repaired"},
        follow=True,
    )
    assert "is on record" in answer.content.decode()
    failure = node.failures.get()
    assert (failure.date, failure.what_failed, failure.outcome) == (today, "dark", "repaired")
    assert failure.history.get().history_user == campus["planning"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"date": "2999-01-01", "what_failed": "slider 2"}, "has not come yet"),
        ({"date": "", "what_failed": "slider 2"}, "This field is required"),
        ({"date": "1950-01-01", "what_failed": "slider 2"}, "installed on"),
    ],
)
def test_a_failure_on_an_impossible_day_is_refused_and_what_was_typed_is_kept(
    planner: Client, typed: dict[str, str], said: str
) -> None:
    node = Node.objects.filter(model__kind="station", installed__isnull=False).earliest("key")
    answer = planner.post(reverse("report-failure", args=[node.pk]), typed)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert said in page
    assert "slider 2" in page
    assert node.failures.count() == 0


def test_buildings_and_rooms_show_what_is_in_them(reader: Client) -> None:
    building = Building.objects.get(key="B1")
    page = text_of(reader, reverse("building", args=[building.pk]))
    for words in ("Weir House", "North bank", "0.01", "B1-O0"):
        assert words in page, words
    room = Room.objects.get(building=building, key="0.01")
    page = text_of(reader, reverse("room", args=[room.pk]))
    for node in room.nodes.all():
        assert node.key in page


@pytest.mark.parametrize(
    ("sought", "kinds"),
    [
        ("weir", {"Buildings"}),
        ("1.03", {"Rooms"}),
        ("l5-s20", {"Nodes"}),
        ("b2-l3", {"Nodes", "Buses", "Segments"}),
        ("b1-o2", {"Orders"}),
        ("%", set()),
    ],
)
def test_search_finds_by_part_of_a_name_in_any_case(reader: Client, sought: str, kinds: set[str]) -> None:
    page = text_of(reader, f"{reverse('search')}?q={sought.replace('%', '%25')}")
    for kind in ("Buildings", "Rooms", "Nodes", "Buses", "Segments", "Orders"):
        assert (f"<h2>{kind}</h2>" in page) == (kind in kinds), kind


def test_what_is_sought_is_shown_as_text(reader: Client) -> None:
    page = text_of(reader, f"{reverse('search')}?q=%3Cscript%3E")
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_materials_put_late_lines_first_and_say_what_is_not_known(reader: Client) -> None:
    page = text_of(reader, reverse("materials"))
    body = page[page.index("Line by line") :]
    assert body.index("P-1001") < body.index("P-2001") < body.index("P-3001") < body.index("P-4001")
    assert "late: " in body
    assert "price and lead time are not known" in body
    assert "nothing to buy" in body


def test_materials_sum_what_the_lines_cost(reader: Client) -> None:
    # 42 x 7.40 + 21 x 180 = 310.80 + 3780.00
    page = text_of(reader, reverse("materials")).replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert "4 090.80 EUR" in page


@pytest.mark.parametrize(
    ("show", "parts"), [("late", ["P-1001"]), ("buy", ["P-1001", "P-2001", "P-4001"]), ("undated", ["P-4001"])]
)
def test_materials_narrow_to_what_to_buy_and_what_is_late(reader: Client, show: str, parts: list[str]) -> None:
    answer = reader.get(f"{reverse('materials')}?as=csv&show={show}")
    rows = list(csv.reader(StringIO(answer.content.decode("utf-8-sig"))))
    assert [row[0] for row in rows[1:]] == parts


def test_a_line_to_be_ordered_today_is_not_late_yet(reader: Client) -> None:
    TakeoffLine.objects.filter(part="P-1001").update(order_by=timezone.localdate())
    answer = reader.get(f"{reverse('materials')}?as=csv&show=late")
    assert len(answer.content.decode("utf-8-sig").strip().splitlines()) == 1


def test_without_a_plan_materials_say_where_to_begin(reader: Client) -> None:
    TakeoffLine.objects.all().delete()
    Order.objects.all().delete()
    Plan.objects.all().delete()
    assert "there is none yet" in text_of(reader, reverse("materials"))


def test_a_campus_without_a_plan_still_stands(reader: Client) -> None:
    Plan.objects.all().delete()
    assert "There is no plan yet" in text_of(reader, reverse("campus"))


def test_the_workbook_page_names_every_column(reader: Client) -> None:
    page = text_of(reader, reverse("workbook"))
    for heading in ("Bit rate (kbit/s)", "Longest bus (m)", "Longest bus (ft)", "Ends its bus", "Setting"):
        assert heading in page, heading


@pytest.mark.parametrize(("name", "rows"), [("workbook-blank", 1), ("workbook-filled", 4)])
def test_the_workbook_comes_blank_and_filled(reader: Client, name: str, rows: int) -> None:
    answer = reader.get(reverse(name))
    book = load_workbook(BytesIO(answer.content))
    filled = [row for row in book["Buildings"].iter_rows(values_only=True) if any(row)]
    assert len(filled) == rows


def test_the_newest_assessment_is_the_one_shown(reader: Client) -> None:
    assessment = current_assessment()
    assert assessment
    assert text_of(reader, reverse("campus"))


def test_sources_names_every_limit_that_is_no_column_and_who_says_so(reader: Client) -> None:
    page = unescape(text_of(reader, reverse("sources")))
    limits = [limit for _, limit in by_protocol()] + [*for_any(), *COPPER]
    for limit in limits:
        assert limit.what in page
        assert limit.source in page
    for words in (
        'Way from the supply to a device</td><td class="n">350 m</td><td>ISO/IEC 14543-3-6, from memory',
        'Current through one connector</td><td class="n">0.5 A</td><td>NMRA S-9.7.1.1: 0.5 A a connector',
        "DeviceNet, thick trunk",
        "from 0 V to 120 V, where extra-low voltage ends",
    ):
        assert words in page
