"""Crews see and carry out their own orders and no others: every address that names an order, every list that shows some."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.contrib.auth.models import Group, User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.core.roles import Role
from inventory.models import Building, Node
from planner.core.plans import OrderState
from planner.models import CrewMember, Feed, Job, Order, Photograph, Plan, WorkEntry
from planner.services.crews import ChangedMeanwhile, crews_of, put_on_crews
from tests.bad_input import patterns, stored
from tests.site_campus import order as make_order
from tests.site_campus import person, whole_campus
from tests.work import work_order

pytestmark = pytest.mark.django_db

OWN, OTHERS = "B1-O1", "B2-O7"
LOOKS = ("order", "order-work", "order-pack")
ORDER_ADDRESSES = {*LOOKS, "order-entry"} | {
    "order-move",
    "order-put-off",
    "order-after",
    "order-mended",
}  # the last four: not theirs


class Site:
    """The small campus with one order of crew Night A, and one of crew Night B."""

    def __init__(self) -> None:
        self.people = whole_campus()
        self.own = work_order()
        plan = Plan.objects.get()
        self.others = make_order(
            plan, OTHERS, OrderState.BOOKED, datetime(timezone.now().year + 1, 5, 4, 19, tzinfo=UTC)
        )
        Order.objects.filter(pk=self.others.pk).update(crew="Night B")

    def client(self, name: str = "crew") -> Client:
        client = Client()
        client.force_login(self.people[name])
        return client


@pytest.fixture
def site() -> Site:
    return Site()


def test_every_address_that_names_an_order_is_tried_here() -> None:
    named = {one.name for one in patterns() if str(one.pattern).startswith("orders/<")}
    assert named == ORDER_ADDRESSES


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("crews", [["Night A"], ["Night B"], ["Night A", "Night B"], []])
def test_an_order_opens_to_its_own_crew_alone(site: Site, name: str, crews: list[str]) -> None:
    put_on_crews(site.people["crew"], crews, by=None)
    for order, crew in ((site.own, "Night A"), (site.others, "Night B")):
        answer = site.client().get(reverse(name, args=[order.pk]))
        assert answer.status_code == (200 if crew in crews else 403)
        if crew not in crews:
            said = answer.content.decode()
            assert f"Order {order.key} is for crew {crew}; you are on {', '.join(crews) or 'no crew'}." in said
            assert "Ask planning or facilities" in said


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("role", [Role.FACILITIES, Role.PLANNING, Role.PURCHASING, Role.READER])
def test_everybody_else_sees_every_order(site: Site, name: str, role: Role) -> None:
    for order in (site.own, site.others):
        assert site.client(role.value).get(reverse(name, args=[order.pk])).status_code == 200


@pytest.mark.parametrize("headers", [{}, {"X-Kept-Entry": "1"}])
def test_nothing_is_entered_on_an_order_of_another_crew(site: Site, headers: dict[str, str]) -> None:
    before = stored()
    sent = {"token": str(uuid4()), "act": "note", "text": "cover loose"}
    answer = site.client().post(reverse("order-entry", args=[site.others.pk]), sent, headers=headers)
    assert answer.status_code == 403
    assert stored() == before
    if headers:
        assert answer.json() == {
            "refused": f"Order {OTHERS} is for crew Night B; you are on Night A. "
            "Ask planning or facilities: they say who is on which crew."
        }
    own = site.client().post(reverse("order-entry", args=[site.own.pk]), {**sent, "token": str(uuid4())})
    assert own.status_code == 302


def test_who_reads_and_is_on_a_crew_sees_all_and_enters_only_on_their_own(site: Site) -> None:
    site.people["crew"].groups.add(Group.objects.get(name=Role.READER.value))
    client = site.client()
    page = client.get(reverse("order-work", args=[site.others.pk]))
    assert page.status_code == 200
    assert "Keep the note" not in page.content.decode()
    sent = {"token": str(uuid4()), "act": "note", "text": "cover loose"}
    assert client.post(reverse("order-entry", args=[site.others.pk]), sent).status_code == 403
    assert client.post(reverse("order-entry", args=[site.own.pk]), sent).status_code == 302


def test_a_planner_enters_on_every_order(site: Site) -> None:
    sent = {"token": str(uuid4()), "act": "note", "text": "cover loose"}
    assert site.client("planning").post(reverse("order-entry", args=[site.others.pk]), sent).status_code == 302


@pytest.mark.parametrize(("which", "status"), [("own", 200), ("others", 403)])
def test_a_photograph_is_shown_to_the_crew_of_its_order(site: Site, which: str, status: int) -> None:
    now = timezone.now()
    entry = WorkEntry.objects.create(order=getattr(site, which), token=uuid4(), act="photograph", done=now, at=now)
    one = Photograph.objects.create(entry=entry, content=b"x", width=1, height=1)
    assert site.client().get(reverse("photograph", args=[one.pk])).status_code == status


def _lists(site: Site) -> dict[str, str]:
    plan = site.own.plan_id
    return {
        "orders": reverse("orders"),
        "orders as a file": f"{reverse('orders')}?as=csv",
        "orders of the plan": reverse("plan-orders", args=[plan]),
        "packs": reverse("plan-packs", args=[plan]),
        "notices": reverse("plan-notices", args=[plan]),
        "campus": reverse("campus"),
        "search": f"{reverse('search')}?q=-O",
        "building": reverse("building", args=[Building.objects.get(key="B2").pk]),
        "own building": reverse("building", args=[Building.objects.get(key="B1").pk]),
        "segment": reverse("segment", args=["B2-L0"]),
        "station": reverse("station", args=[Node.objects.filter(key__startswith="B2-L0-S").earliest("pk").pk]),
    }


def test_no_list_shows_an_order_of_another_crew(site: Site) -> None:
    Order.objects.filter(key__startswith="B2").exclude(key=OTHERS).delete()
    crew, reader = site.client(), site.client("reader")
    for name, at in _lists(site).items():
        assert OTHERS not in crew.get(at).content.decode(), name
        if name != "own building":
            assert OTHERS in reader.get(at).content.decode(), f"{name}: this test would see nothing wrong"
    for name in (
        "orders",
        "orders as a file",
        "orders of the plan",
        "packs",
        "notices",
        "campus",
        "search",
        "own building",
    ):
        assert OWN in crew.get(_lists(site)[name]).content.decode(), name
    for name in ("segment", "station"):
        assert "another crew" in crew.get(_lists(site)[name]).content.decode(), name


def test_nobody_on_a_crew_is_told_so_and_what_to_do(site: Site) -> None:
    put_on_crews(site.people["crew"], [], by=None)
    for name in ("orders", "orders of the plan", "campus", "building"):
        page = site.client().get(_lists(site)[name]).content.decode()
        assert "You are on no crew yet" in page, name
        assert "Ask planning or facilities" in page
        assert OWN not in page
        assert OTHERS not in page
    assert "You are on no crew yet" in site.client().get(reverse("feeds")).content.decode()


def test_a_crew_has_its_own_orders_in_a_calendar_and_no_others(site: Site) -> None:
    client = site.client()
    page = client.get(reverse("feeds")).content.decode()
    assert "crew:Night A" in page
    assert "crew:Night B" not in page
    assert "building:" not in page
    for what in ("crew:Night B", "building:B1"):
        told = client.post(reverse("feed-open"), {"what": what}, follow=True).content.decode()
        assert "own crews" in told
    assert not Feed.objects.exists()
    client.post(reverse("feed-open"), {"what": "crew:Night A"})
    feed = Feed.objects.get()
    assert OWN in Client().get(feed.get_absolute_url()).content.decode()
    put_on_crews(site.people["crew"], ["Night B"], by=None)
    assert Client().get(feed.get_absolute_url()).status_code == 404, "off the crew, nothing is read any more"


def test_files_and_pages_of_plan_making_are_not_for_crews(site: Site) -> None:
    now, plan = timezone.now(), site.own.plan_id
    made = {"made": now, "state": "done", "demand": {"plan": plan}, "result": {"plan": plan}, "output": b"x"}
    for kind in ("plan", "handover"):
        job = Job.objects.create(kind=kind, output_name="x.zip", **made)
        for name in ("job", "job-state", "job-file"):
            at = reverse(name, args=[job.pk])
            assert (site.client().get(at).status_code, site.client("reader").get(at).status_code) == (403, 200), name


def test_planning_and_facilities_say_who_is_on_which_crew(site: Site) -> None:
    who = site.people["crew"]
    for name, crews in (("planning", ["Night A", "Night B"]), ("facilities", ["Night B"])):
        page = site.client(name).get(reverse("crew-people")).content.decode()
        assert 'value="Night A"' in page
        at = reverse("crew-people-keep", args=[who.pk])
        assert site.client(name).post(at, {"crew": crews, "seen": crews_of(who)}).status_code == 302
        assert list(crews_of(who)) == crews
    told = site.client("facilities").get(reverse("audit")).content.decode()
    assert "crew taken off crew Night A" in told
    assert "crew put on crew Night B" in told


def test_a_second_person_who_says_otherwise_is_told(site: Site) -> None:
    who = site.people["crew"]
    at = reverse("crew-people-keep", args=[who.pk])
    first = {"crew": ["Night B"], "seen": ["Night A"]}
    assert site.client("planning").post(at, first).status_code == 302
    assert site.client("planning").post(at, first).status_code == 302, "sent twice, it is the same"
    second = site.client("facilities").post(at, {"crew": ["Night A", "Night B"], "seen": ["Night A"]})
    assert second.status_code == 409
    assert "it is Night B now" in second.content.decode()
    assert crews_of(who) == ("Night B",)
    with pytest.raises(ChangedMeanwhile):
        put_on_crews(who, [], by=None, seen=["Night A"])


def test_a_crew_that_nobody_knows_is_refused_beside_its_person(site: Site) -> None:
    who = site.people["crew"]
    at = reverse("crew-people-keep", args=[who.pk])
    answer = site.client("planning").post(at, {"crew": ["Night A", "Night Z"], "seen": ["Night A"]})
    assert answer.status_code == 400
    assert "There is no crew Night Z" in answer.content.decode()
    assert crews_of(who) == ("Night A",)


@pytest.mark.parametrize("name", ["reader", "nobody"])
def test_only_people_with_the_role_crew_are_put_on_crews(site: Site, name: str) -> None:
    at = reverse("crew-people-keep", args=[site.people[name].pk])
    assert site.client("planning").post(at, {"crew": ["Night A"]}).status_code == 404


def test_who_lost_the_role_sees_no_order_by_having_been_on_a_crew(site: Site) -> None:
    site.people["crew"].groups.clear()
    assert CrewMember.objects.filter(until=None).exists()
    assert site.client().get(reverse("order", args=[site.own.pk])).status_code == 403


def test_two_people_of_two_crews_see_each_their_own(site: Site) -> None:
    other: User = person("fulmar")
    other.groups.add(Group.objects.get(name=Role.CREW.value))
    put_on_crews(other, ["Night B"], by=None)
    client = Client()
    client.force_login(other)
    page = client.get(reverse("orders")).content.decode()
    assert OTHERS in page
    assert OWN not in page


def led_to(site: Site, name: str) -> str:
    return site.client(name).get(reverse("first")).headers["Location"]


def test_a_crew_begins_at_what_it_has_still_to_do_and_others_at_the_campus(site: Site) -> None:
    assert {name: led_to(site, name) for name in ("facilities", "planning", "reader")} == dict.fromkeys(
        ("facilities", "planning", "reader"), reverse("campus")
    )
    assert led_to(site, "crew") == f"{reverse('orders')}?show=still+to+do&sort=start"
    shown = site.client().get(led_to(site, "crew")).content.decode()
    assert OWN in shown
    Order.objects.filter(pk=site.own.pk).update(state=OrderState.ACCEPTED)
    assert f">{OWN}<" not in site.client().get(led_to(site, "crew")).content.decode()
    put_on_crews(site.people["crew"], [], by=None)
    assert led_to(site, "crew") == reverse("campus")
