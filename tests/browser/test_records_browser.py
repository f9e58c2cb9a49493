"""Records in a real browser: a walk from a wrong length to another verdict, two people at one record, and what hands do."""

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from django.contrib.sessions.models import Session
from playwright.sync_api import Page, expect

from inventory.models import Node, Part, Room, Run
from planner.models import Segment
from planner.services.assess import assess_campus
from planner.tables.records import address
from tests import site_campus
from tests.browser.conftest import shoot, sign_in
from tests.browser.test_site_browser import judged, overflows
from tests.campus_tables import store
from tests.campuses import hand_campus

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]


@pytest.fixture
def people(transactional_db: None) -> dict[str, User]:
    """Return the people of the campus by hand, which is assessed."""
    store(hand_campus())
    made = site_campus.people()
    assess_campus(by=None)
    return made


def run() -> Run:
    return Run.objects.get(key="R-B1-S107")  # the only run of B1-L06: nobody knows how long it is


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_no_page_of_records_has_a_violation_or_scrolls_sideways(open_site: Opened, width: str) -> None:
    page = open_site(width=width)
    node = Node.objects.get(key="B1-S101")
    spare = Node.objects.get(key="B3-S199")
    pages = {
        "records": "/records/",
        "record-list": address("nodes", "records"),
        "record": address("runs", "record", run().pk),
        "record-change": address("nodes", "change", node.pk),
        "record-new": address("models", "new"),
        "record-remove-not": address("nodes", "remove", node.pk),
        "record-remove": address("nodes", "remove", spare.pk),
        "record-bulk": address("nodes", "bulk") + "?bus=B1-L02",
        "record-bulk-look": address("nodes", "bulk") + "?bus=B1-L02&set=condition&look=1&to-condition=5",
        "record-bulk-refused": address("nodes", "bulk") + "?bus=B1-L02&set=condition&look=1&to-condition=9",
        "station-with-change": f"/stations/{node.pk}/",
    }
    for name, at in pages.items():
        page.goto(at)
        shoot(page, f"{name}-{width}")
        assert judged(page) == [], name
        assert not overflows(page), name
    page.goto(address("runs", "change", run().pk))
    page.get_by_label("Length (m)").fill("far")
    page.get_by_role("button", name="Keep the change").click()
    expect(page.get_by_text("This must be a number")).to_be_visible()
    shoot(page, f"record-refused-{width}")
    assert judged(page) == []
    assert not overflows(page)


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_a_length_that_was_missing_turns_the_verdict_before_ones_eyes(open_site: Opened, width: str) -> None:
    page = open_site("facilities", width)
    page.goto(address("runs", "record", run().pk))
    page.get_by_role("link", name="Change", exact=True).click()
    page.get_by_label("Length (m)").fill("40")
    page.get_by_role("button", name="Keep the change").click()
    told = page.get_by_role("status")
    expect(told).to_contain_text("Segment B1-L06: survey first → in place")
    shoot(page, f"record-turned-{width}")
    assert judged(page) == []
    told.get_by_role("link", name="B1-L06").click()
    expect(
        page.get_by_text("because run R-B1-S107 was changed by facilities: Length (m) from not known to 40")
    ).to_be_visible()


def test_the_second_of_two_people_sees_what_the_first_changed_beside_what_he_typed(open_site: Opened) -> None:
    one, two = open_site("facilities"), open_site("super", "phone")
    for page in (one, two):
        page.goto(address("runs", "change", run().pk))
    one.get_by_label("Length (m)").fill("40")
    one.get_by_role("button", name="Keep the change").click()
    expect(one.get_by_role("status")).to_contain_text("is changed")
    two.get_by_label("Length (m)").fill("44")
    two.get_by_label("Surveyed").fill("2026-11-02")
    two.get_by_role("button", name="Keep the change").click()
    expect(two.get_by_role("alert")).to_contain_text("Somebody has changed this run since you opened it")
    expect(two.get_by_label("Length (m)")).to_have_value("44")
    expect(two.get_by_text("Now on file: 40.")).to_be_visible()
    shoot(two, "record-overtaken-phone")
    assert judged(two) == []
    assert not overflows(two)
    two.get_by_role("button", name="Keep the change").click()
    expect(two.get_by_role("status")).to_contain_text("is changed")
    assert (run().length_m, str(run().surveyed)) == (44.0, "2026-11-02")


def test_what_was_typed_outlives_the_session(open_site: Opened) -> None:
    page = open_site("facilities")
    page.goto(address("runs", "change", run().pk))
    page.get_by_label("Length (m)").fill("40")
    Session.objects.all().delete()
    page.get_by_role("button", name="Keep the change").click()
    page.get_by_label("Name").fill("facilities")
    page.get_by_label("Password").fill(site_campus.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_role("status")).to_contain_text("is changed")
    assert run().length_m == 40.0


def test_a_double_click_and_the_back_button_do_nothing_twice(open_site: Opened) -> None:
    page = open_site("facilities")
    page.goto(address("rooms", "new"))
    page.get_by_label("Building").select_option("B1")
    page.get_by_label("Room", exact=True).fill("2.10")
    page.get_by_role("button", name="Put it on file").dblclick()
    expect(page.get_by_role("status")).to_contain_text("is on file")
    assert Room.objects.filter(key="2.10").count() == 1
    page.go_back()
    page.get_by_role("button", name="Put it on file").click()
    expect(page.get_by_role("status")).to_contain_text("is on file")
    assert Room.objects.get(key="2.10").history.count() == 1


def test_many_are_changed_by_keyboard_after_a_look(open_site: Opened) -> None:
    page = open_site("purchasing")
    page.goto(address("parts", "records") + "?supplier=Northquay")
    page.get_by_role("link", name="Change all that is shown").press("Enter")
    page.get_by_label("Fact", exact=True).select_option(label="Lead time (days)")
    page.get_by_role("button", name="Choose this fact").press("Enter")
    page.get_by_label("Lead time (days), for all of them").fill("35")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="What changes")).to_be_visible()
    page.get_by_role("button", name="Change 10 parts").press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Lead time (days) of 10 parts is changed")
    assert set(Part.objects.values_list("lead_time_days", flat=True)) == {35}


def test_a_removal_is_confirmed_and_says_what_it_turned(open_site: Opened) -> None:
    page = open_site("facilities")
    node = Node.objects.get(key="B3-S199")
    page.goto(address("nodes", "record", node.pk))
    page.get_by_role("link", name="Remove").click()
    page.get_by_role("button", name="Remove it").click()
    expect(page.get_by_role("status")).to_contain_text("Segment B3-L01: survey first → in place")
    assert Segment.objects.get(key="B3-L01").because == "node B3-S199 was removed by facilities"


def test_who_goes_back_does_not_overwrite_what_somebody_else_has_changed_since(open_site: Opened) -> None:
    one, two = open_site("facilities"), open_site("super")
    for page, length in ((one, "40"), (two, "44")):
        page.goto(address("runs", "change", run().pk))
        page.get_by_label("Length (m)").fill(length)
        page.get_by_role("button", name="Keep the change").click()
        expect(page.get_by_role("status")).to_contain_text("is changed")
    one.go_back()
    expect(one.get_by_label("Length (m)")).to_have_value("44")
    one.get_by_label("Length (m)").fill("48")
    one.goto(address("runs", "record", run().pk))
    one.go_back()
    expect(one.get_by_label("Length (m)")).to_have_value("48")  # nobody changed it since: what was typed is there


def test_a_form_outlives_a_sign_in_in_another_tab(open_site: Opened) -> None:
    page = open_site("facilities")
    page.goto(address("runs", "change", run().pk))
    page.get_by_label("Length (m)").fill("40")
    other = page.context.new_page()
    other.goto(address("runs", "records"))
    other.get_by_role("button", name="Sign out").click()
    sign_in(other, "facilities")
    expect(other.get_by_role("heading", level=1)).to_have_text("Campus")
    page.get_by_role("button", name="Keep the change").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Go on with what you typed")
    shoot(page, "go-on-other-tab")
    assert judged(page) == []
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_role("status")).to_contain_text("is changed")
    assert run().length_m == 40.0
