"""A planner takes ways out: kept with who, when and against which verdict; taken up by plans; void when the campus changes."""

import re
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group, User
from django.test import Client
from django.urls import reverse

from inventory.core.roles import Role
from inventory.models import Room, Run
from inventory.store import load_snapshot
from planner.core.orders import make_orders
from planner.core.reliefs import take_up
from planner.models import Job, Segment, TakenWay
from planner.services import taken_ways
from planner.services.assess import assess_campus
from planner.services.reassess import change
from planner.services.taken_ways import NotToBeTaken, give_up, take, take_below
from planner.services.words import load_reports
from planner.store.briefs import load_brief
from planner.store.choices import load_choices
from planner.store.verdicts import current_assessment
from tests.campus_tables import store
from tests.campuses import Draft
from tests.site_campus import PASSWORD, person
from tests.unit.planner.test_reliefs import shared_line, thin, two_lines_of_one_gateway
from tests.unit.planner.test_taking import two_shared_lines

pytestmark = pytest.mark.django_db


@pytest.fixture
def planner() -> User:
    user = person("ada")
    user.groups.add(Group.objects.get(name=Role.PLANNING))
    return user


@pytest.fixture
def client(planner: User) -> Client:
    made = Client()
    assert made.login(username="ada", password=PASSWORD)
    return made


def stored(draft: Draft) -> None:
    store(draft.snapshot())
    assess_campus(by=None)


def orders_now() -> list[tuple[str, ...]]:
    snapshot, brief = load_snapshot(), load_brief()
    assessment = current_assessment()
    assert assessment
    taken = take_up(snapshot, load_reports(assessment), load_choices().ticks, brief)
    return [order.segments for order in make_orders(snapshot, taken.reports, brief)]


def test_who_took_a_way_out_when_and_against_which_verdict_is_kept(planner: User) -> None:
    stored(thin(100.0, 203.0))
    (row,) = take("L1", by=planner)
    assessment = current_assessment()
    assert assessment
    assert (row.segment, row.by, row.verdict, row.assessed) == ("L1", planner, "new cable", assessment.at)
    assert (row.price, row.price_now, row.currency, row.void) == (Decimal("2685.00"), Decimal("2685.00"), "EUR", None)
    assert row.checked is not None
    assert orders_now() == [("L1",)]


def test_given_up_it_is_in_no_order_and_history_knows_who_did_it(planner: User) -> None:
    stored(thin(100.0, 203.0))
    take("L1", by=planner)
    give_up("L1", by=planner)
    assert orders_now() == []
    last = TakenWay.history.first()
    assert (last.history_type, last.history_user, last.segment) == ("-", planner, "L1")


def test_the_lines_of_one_gateway_are_taken_together(planner: User) -> None:
    stored(two_lines_of_one_gateway())
    assert [row.segment for row in take("L2", by=planner)] == ["L1", "L2"]
    assert orders_now() == [("L1", "L2")]


@pytest.mark.parametrize("most_checked", [taken_ways.MOST_CHECKED, 0])
def test_what_does_not_go_with_what_is_taken_is_refused_and_nothing_is_kept(
    planner: User, monkeypatch: pytest.MonkeyPatch, most_checked: int
) -> None:
    """Also on a campus so large that only what is stored can be asked."""
    monkeypatch.setattr(taken_ways, "MOST_CHECKED", most_checked)
    stored(two_shared_lines(1))
    take("L1", by=planner)
    row = Segment.objects.get(key="L5")
    row.report["way_out"]["changes"][0]["to"] = "L1"
    row.save()
    with pytest.raises(NotToBeTaken, match=r"L1"):
        take("L5", by=planner)
    assert list(TakenWay.objects.values_list("segment", flat=True)) == ["L1"]


def test_a_segment_without_a_way_out_that_passes_cannot_be_taken(planner: User) -> None:
    stored(replace_all(thin(100.0, 203.0), zones_used=12))
    with pytest.raises(NotToBeTaken, match="No set of changes makes every rule pass"):
        take("L1", by=planner)
    with pytest.raises(NotToBeTaken, match="There is no segment L0 any more"):
        take("L0", by=planner)


def replace_all(draft: Draft, **facts: Any) -> Draft:
    draft.nodes = [replace(row, **facts) for row in draft.nodes]
    return draft


def test_an_assessment_after_a_change_says_that_it_is_void_and_plans_nothing_of_it(planner: User) -> None:
    stored(thin(100.0, 203.0))
    take("L1", by=planner)
    Run.objects.filter(key="R-B1-S101").update(length_m=213.0)
    assess_campus(by=None)
    row = TakenWay.objects.get()
    assert row.void is not None
    assert row.void.startswith("voltage: ")
    assert (row.price, row.price_now) == (Decimal("2685.00"), None)
    assert orders_now() == []


def test_a_record_that_is_edited_has_it_looked_at_again(planner: User) -> None:
    stored(thin(100.0, 203.0))
    take("L1", by=planner)
    run = Run.objects.get(key="R-B1-S101")

    def lengthen() -> tuple[None, list[Run]]:
        run.length_m = 213.0
        run.save()
        return None, [run]

    change([Run.objects.get(pk=run.pk)], lengthen, "the run was measured", by=planner)
    assert TakenWay.objects.get().checked is None
    job = Job.objects.get(kind="check ways out")
    assert taken_ways.do_check(job, lambda *_: True).result == {"hold": 0, "void": 1}
    assert (TakenWay.objects.get().void or "").startswith("voltage: ")


def test_all_below_a_price_are_taken_cheap_ones_first_and_the_others_say_why(planner: User) -> None:
    stored(two_shared_lines(31))
    snapshot, brief = load_snapshot(), load_brief()
    keys = list(Segment.objects.values_list("key", flat=True))
    assert take_below(snapshot, brief, keys, Decimal("180.00"), by=planner) == ([], [])
    taken, refused = take_below(snapshot, brief, keys, Decimal("180.01"), by=planner)
    assert taken == ["L1"]
    assert refused == [("L5", "There is no room for P5 on segment L9 any more.")]
    assert take_below(snapshot, brief, keys, Decimal("180.01"), by=planner)[0] == []  # L1 is taken already


def test_on_a_campus_of_very_many_ways_out_are_looked_for_when_they_are_to_be_taken(
    planner: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planner.services.ways_out.MOST_AT_ONCE", 0)
    stored(thin(100.0, 203.0))
    assert Segment.objects.get(key="L1").report["way_out"] is None
    job = Job(kind="take ways out", demand={"below": "3000", "segments": ["L1"]}, by=planner)
    result = taken_ways.do_take(job, lambda *_: True).result
    assert (result["taken"], result["refused"]) == (["L1"], [])
    assert Segment.objects.get(key="L1").report["way_out"]["passes"]


def test_the_page_offers_it_says_who_took_it_and_takes_it_back(client: Client) -> None:
    stored(shared_line())
    page = client.get(reverse("segment", args=["L1"])).content.decode()
    assert "Take this way out" in page
    page = client.post(reverse("way-out-take", args=["L1"]), follow=True).content.decode()
    assert "The next plan makes an order of it" in page
    assert re.search(r"by ada against the verdict clear first", page)
    assert client.get(reverse("taken-ways")).content.decode().count("Give up") >= 1
    page = client.post(reverse("way-out-give-up", args=["L1"]), follow=True).content.decode()
    assert "is given up" in page
    assert not TakenWay.objects.exists()


def test_the_list_takes_only_what_it_is_narrowed_to(client: Client) -> None:
    stored(two_shared_lines(1))
    client.post(f"{reverse('take-below')}?key=L5", {"below": "200"})
    assert Job.objects.get(kind="take ways out").demand == {"below": "200", "segments": ["L5"]}


@pytest.mark.parametrize("below", ["", "0", "much", "1e400"])
def test_a_price_that_is_none_is_refused_in_words(client: Client, below: str) -> None:
    stored(thin(100.0, 203.0))
    page = client.post(reverse("take-below"), {"below": below}, follow=True).content.decode()
    assert "price" in page
    assert not Job.objects.filter(kind="take ways out").exists()


@pytest.mark.parametrize(
    ("draft", "said"), [(thin(100.0, 203.0), ""), (shared_line(), ", those of L9 counted, to which nodes move")]
)
def test_the_page_counts_the_rooms_of_a_segment_that_takes_nodes_only_where_one_does(
    client: Client, planner: User, draft: Draft, said: str
) -> None:
    stored(draft)
    take("L1", by=planner)
    dark = client.get(reverse("segment", args=["L1"])).content.decode().split('<h2 id="dark">')[1].split("</p>")[0]
    assert f"do not work{said}." in dark


def test_rooms_that_go_dark_and_need_a_watch_are_said_on_the_page(client: Client) -> None:
    draft = shared_line()
    draft.room("B1", "900", use="Stair 2")
    draft.node("B1-S900", "WS-70", "L1", room="900")
    draft.run("R-900", "L1", ("L1-G", "B1-S900"), cable="2x2 18AWG", length_m=5.0)
    stored(draft)
    Room.objects.filter(key="900").update(use="Stair 2")
    page = client.get(reverse("segment", args=["L1"])).content.decode()
    assert "post a watch, and keep required egress lighting working" in page
    assert "on a way out by its use (Stair 2)" in page
