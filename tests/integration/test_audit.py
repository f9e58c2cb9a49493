"""Who did what: everything that is acted on, once, in order, by person, day and kind."""

import csv
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from html import unescape
from io import StringIO
from typing import Any
from urllib.parse import parse_qs

import pytest
from django.contrib.auth.models import Group, User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.core.roles import Role
from inventory.models import Building, Delivery, Node, Part, Room, SignInAttempt
from inventory.services.attempts import MOST_FAILURES, WAIT_S, count_attempt
from inventory.services.editing import texts_of
from inventory.services.intake import take_in
from inventory.services.records import remove_record
from planner.models import Order, OrderEvent, Plan
from planner.services.adoption import adopt
from planner.services.feeds import open_feed
from planner.services.records import REGISTERS, keep_changed
from planner.store.acts import KINDS, SOURCES, Asked, acts
from planner.store.intake import ALL_TARGETS
from planner.views.audit import place_of
from tests.books import small
from tests.site_campus import PASSWORD, whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def people() -> dict[str, User]:
    return whole_campus()


@pytest.fixture
def facilities(people: dict[str, User]) -> Client:
    client = Client()
    client.force_login(people["facilities"])
    return client


def seen(client: Client, **asked: str) -> list[tuple[str | None, str, str]]:
    """Return who, kind and what of the first page."""
    page = client.get(reverse("audit"), asked)
    assert page.status_code == 200
    return [(act.who, act.kind, act.what) for act, _ in page.context["rows"]]


def test_each_thing_that_somebody_does_is_told_with_who_did_it(people: dict[str, User], facilities: Client) -> None:
    kim, pia = people["facilities"], people["planning"]
    room = Room.objects.select_related("building").earliest("pk")
    room.save()
    texts = texts_of(REGISTERS["rooms"], room)
    keep_changed(REGISTERS["rooms"], room.pk, {**texts, "name": "Tide room", "use": "lessons"}, texts, by=kim)
    node = Node.objects.filter(model__kind="controller").first() or Node.objects.latest("pk")
    key = node.key
    remove_record(node, kim)
    take_in(small(), "small.xlsx", ALL_TARGETS, kim)
    plan = Plan.objects.get()
    Plan.objects.update(adopted=None)
    adopt(plan, by=pia)
    order = Order.objects.earliest("pk")
    OrderEvent.objects.create(order=order, at=datetime.now(UTC), by=people["crew"], state="accepted", why="all lit")
    open_feed("building", "B1", by=pia)
    admin = Client()
    admin.force_login(people["super"])
    user = people["reader"]
    page = reverse("admin:auth_user_change", args=[user.pk])
    fields = {"username": user.username, "date_joined_0": "2026-01-01", "date_joined_1": "00:00", "is_active": "on"}
    crew = Group.objects.get(name="crew")
    assert admin.post(page, {**fields, "groups": [crew.pk]}).status_code == 302
    count_attempt("facilities", "10.0.0.9", worked=True)
    told = seen(facilities)
    for act in [
        ("facilities", "records", f"room {room.building.key} {room.key} changed: Name, Use"),
        ("facilities", "records", f"node {key} removed"),
        ("facilities", "intakes", "small.xlsx taken in"),
        ("planning", "plans", f"plan {plan.pk} adopted"),
        ("crew", "orders", f"order {order.key} accepted: all lit"),
        ("planning", "calendar feeds", "calendar feed of building B1 opened"),
        ("super", "people and roles", "user reader: Changed Groups and Date joined."),
        ("facilities", "sign-ins", "signed in from 10.0.0.9"),
    ]:
        assert act in told, told
    assert "run R1 put on record" not in {what for _, _, what in told}  # the workbook's rows are told by the workbook


def test_the_attempt_that_locks_a_name_out_is_told_and_no_other(people: dict[str, User], facilities: Client) -> None:
    for _ in range(MOST_FAILURES):
        Client().post(reverse("sign-in"), {"username": "crew", "password": "wrong"})
    told = seen(facilities, kind="sign-ins")
    assert [("has to wait" in what) for _, _, what in told] == [True] + [False] * (MOST_FAILURES - 1)
    assert {who for who, _, _ in told} == {"crew"}
    SignInAttempt.objects.update(at=datetime.now(UTC) - timedelta(seconds=2 * WAIT_S))
    Client().post(reverse("sign-in"), {"username": "crew", "password": PASSWORD})
    Client().post(reverse("sign-in"), {"username": "crew", "password": "wrong"})
    assert [("has to wait" in what) for _, _, what in seen(facilities, kind="sign-ins")][:3] == [False, False, True]


def test_person_days_and_kind_narrow_it(people: dict[str, User], facilities: Client) -> None:
    order = Order.objects.earliest("pk")
    for day, name in ((3, "crew"), (4, "planning"), (5, "crew")):
        at = datetime(2026, 3, day, 23, 59, tzinfo=UTC)
        OrderEvent.objects.create(order=order, at=at, by=people[name], state="under way", why=f"day {day}")

    def days(**asked: str) -> list[str]:
        return [what[-1] for _, _, what in seen(facilities, **{"kind": "orders", **asked}) if "day" in what]

    assert days() == ["5", "4", "3"]
    assert days(who=str(people["crew"].pk)) == ["5", "3"]
    assert days(since="2026-03-04") == ["5", "4"]
    assert days(until="2026-03-04") == ["4", "3"]
    assert days(since="2026-03-04", until="2026-03-04") == ["4"]
    assert days(kind="plans") == []
    assert days(who="0") == []
    OrderEvent.objects.update(by=None)
    assert days(who="0") == ["5", "4", "3"]


def pages(client: Client) -> Iterator[Any]:
    """Yield every page, one after the other, by its own link to the next."""
    page = client.get(reverse("audit"))
    yield page
    while older := page.context["older"]:
        (link,) = re.findall(r'<a href="([^"]*)">Earlier</a>', page.content.decode())
        assert parse_qs(link.lstrip("?"))["before"] == [older]
        page = client.get(reverse("audit") + unescape(link))
        assert re.search(rf'<a href="{reverse("audit")}\??">Newest</a>', page.content.decode())
        yield page


def test_pages_show_every_act_once_also_where_many_share_a_moment(people: dict[str, User], facilities: Client) -> None:
    at = datetime(2026, 3, 4, tzinfo=UTC)
    order = Order.objects.earliest("pk")
    OrderEvent.objects.bulk_create(
        OrderEvent(order=order, at=at, by=people["crew"], state="under way", why=f"event {number}")
        for number in range(120)
    )
    Room.history.update(history_date=at)
    shown = [act for page in pages(facilities) for act, _ in page.context["rows"]]
    everything = acts(Asked(), None, 10_000)
    assert len(shown) == len(everything) > 120
    assert [(act.at, act.kind) for act in shown] == [(act.place.at, act.kind) for act in everything]
    words = [act.what for act in shown if "event" in act.what]
    assert len(words) == len(set(words)) == 120
    assert [act.at for act in shown] == sorted((act.at for act in shown), reverse=True)
    assert max(len(page.context["rows"]) for page in pages(facilities)) == 50


def test_the_file_holds_what_the_list_shows(people: dict[str, User], facilities: Client) -> None:
    shown = [act for page in pages(facilities) for act, _ in page.context["rows"]]
    text = facilities.get(reverse("audit"), {"as": "csv"}).content.decode("utf-8-sig")
    rows = list(csv.DictReader(StringIO(text)))
    assert [(row["Kind"], row["What"]) for row in rows] == [(act.kind, act.what) for act in shown]
    assert facilities.get(reverse("audit"), {"as": "xlsx"}).content[:2] == b"PK"


def test_how_many_queries_a_page_takes_does_not_depend_on_what_it_shows(
    people: dict[str, User], facilities: Client
) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert facilities.get(reverse("audit"), {"kind": "records"}).status_code == 200
        return len(asked)

    def change(*rooms: Room) -> None:
        for row in rooms:
            row.name = f"{row.name}!"
            row.save()

    room = Room.objects.earliest("pk")
    change(room, room)
    first = count()
    change(*Room.objects.all())
    assert count() == first
    assert first <= len(SOURCES) + 15


@pytest.mark.parametrize(
    "asked",
    [
        {"before": "x"}, {"before": "2026-03-04T00:00:00+00:00~99~1"}, {"before": "~~"}, {"before": "9" * 500},
        {"before": f"2026-03-04~1~{'9' * 40}"}, {"who": "x"}, {"who": "9" * 40}, {"since": "31.31.2026"},
        {"until": "9999-12-31"}, {"since": "0001-01-01"}, {"since": "2026-02-01", "until": "2026-01-01"},
        {"kind": "<script>"}, {"as": "exe"}, {"who": "\0"},
    ],
)  # fmt: skip
def test_what_makes_no_sense_is_answered_with_a_page(facilities: Client, asked: dict[str, str]) -> None:
    answer = facilities.get(reverse("audit"), asked)
    assert answer.status_code == 200
    assert "<script>" not in answer.content.decode()


def test_every_kind_has_a_source_and_a_place_reads_back() -> None:
    assert {source.kind for source in SOURCES} == set(KINDS)
    assert place_of("2026-03-04T05:06:07.000008+00:00~3~44") == place_of("2026-03-04T05:06:07.000008 00:00~3~44")


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.FACILITIES}))
def test_other_roles_do_not_see_it_or_the_link_to_it(people: dict[str, User], role: Role) -> None:
    client = Client()
    client.force_login(people[role])
    assert client.get(reverse("audit")).status_code == 403
    assert reverse("audit") not in client.get(reverse("campus")).content.decode()


def test_days_are_told_so_that_nobody_reads_them_the_other_way_round(
    facilities: Client, people: dict[str, User]
) -> None:
    """A record named by a day, and the night to which an order is put off."""
    part = Part.objects.create(key="P-7")
    due = Delivery(part=part, due=date(2027, 3, 2), quantity=4, reference="PO-1")
    due.save()
    order = Order.objects.earliest("pk")
    OrderEvent.objects.create(
        order=order, at=datetime.now(UTC), by=people["planning"], state="drafted", not_before=date(2027, 4, 26)
    )
    words = " ".join(what for _, _, what in seen(facilities))
    assert "delivery P-7 2 Mar 2027 PO-1 put on record" in words
    assert f"order {order.key} drafted, put off to 26 Apr 2027" in words
    assert "2027-" not in words


def test_the_first_day_of_all_is_asked_for_on_a_campus_east_of_greenwich(facilities: Client) -> None:
    Building.objects.update(time_zone="Asia/Tokyo")
    assert facilities.get(reverse("audit"), {"since": "0001-01-01"}).status_code == 200
