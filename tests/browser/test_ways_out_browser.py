"""Taking ways out and choosing orders by hand, in a real browser at both widths, on a small campus judged for real."""

import re

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from inventory.models import Room
from planner.models import OrderChoice, TakenWay
from planner.services.assess import assess_campus
from planner.services.taken_ways import take
from tests.browser.conftest import WIDTHS, Opened, shoot
from tests.browser.test_site_browser import judged, overflows
from tests.campus_tables import store
from tests.campuses import add_line, add_station
from tests.site_campus import people as everybody
from tests.unit.planner.test_taking import two_shared_lines

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def people(transactional_db: None) -> dict[str, User]:
    """Store one building: L1 and L5 have ways out to L9, which has room for one node; L6, L7 and L8 convert."""
    draft = two_shared_lines(31)
    for line in ("L6", "L7"):
        add_station(draft, line, f"B1-S{line[1]}01", add_line(draft, line))
    add_line(draft, "L8", gateway="L7-G")
    draft.nodes = [row for row in draft.nodes if row.key != "L7-G"]
    draft.node("L7-G", "GW-2", "L7", "B1-N0", "L8")
    add_station(draft, "L8", "B1-S801", "L7-G")
    store(draft.snapshot())
    Room.objects.filter(key="101").update(use="Stair 2", importance=5)
    assess_campus(by=None)
    return everybody()


def fine(page: Page, name: str) -> None:
    """Look at a page with axe, see that nothing is cut off, and keep a picture."""
    shoot(page, name)
    assert judged(page) == []
    assert not overflows(page)


@pytest.mark.parametrize("width", WIDTHS)
def test_a_planner_takes_a_way_out_and_gives_it_up(open_site: Opened, width: str) -> None:
    page = open_site("planning", width)
    page.goto("/segments/of/L1/")
    expect(page.get_by_text("post a watch, and keep required egress lighting working")).to_be_visible()
    fine(page, f"way-out-offered-{width}")
    page.get_by_role("button", name="Take this way out").click()
    expect(page.get_by_text("The way out is taken")).to_be_visible()
    expect(page.get_by_text("by planning against the verdict clear first")).to_be_visible()
    fine(page, f"way-out-taken-{width}")
    page.goto("/segments/of/L5/")
    page.get_by_role("button", name="Take this way out").click()
    expect(page.get_by_text("There is no room for P5 on segment L9 any more.")).to_be_visible()
    page.get_by_role("link", name="ways out that are taken").or_(
        page.get_by_role("link", name="Segments", exact=True)
    ).first.click()
    page.goto("/segments/ways-out/")
    fine(page, f"ways-out-taken-{width}")
    page.get_by_role("button", name="Give up the way out of L1").click()
    expect(page.get_by_text("The way out of segment L1 is given up.")).to_be_visible()
    assert not TakenWay.objects.exists()


def test_the_list_asks_for_a_price_and_says_what_is_wrong_with_it(open_site: Opened) -> None:
    page = open_site("planning", "phone")
    page.goto("/segments/?building=B1")
    fine(page, "ways-out-below-phone")
    page.get_by_label("less than (EUR)").fill("much")
    page.get_by_role("button", name="Take them").click()
    expect(page.get_by_text("The price is not a number")).to_be_visible()
    assert page.url.endswith("?building=B1")


def test_readers_see_what_is_taken_and_are_offered_nothing(open_site: Opened) -> None:
    take("L1", by=None)
    page = open_site("reader")
    page.goto("/segments/of/L1/")
    expect(page.get_by_text("The next plan makes an order of it")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("way out"))).to_have_count(0)
    page.goto("/plans/by-hand/")
    expect(page.get_by_role("heading", name="Orders as the next plan makes them")).to_be_visible()


@pytest.mark.parametrize("width", WIDTHS)
def test_a_planner_joins_orders_sees_the_cost_and_keeps_the_choice(open_site: Opened, width: str) -> None:
    page = open_site("planning", width)
    page.goto("/plans/by-hand/")
    fine(page, f"orders-by-hand-{width}")
    for segment in ("L6", "L7"):
        page.get_by_label(segment, exact=True).check()
    page.get_by_role("button", name="Ticked ones together").click()
    expect(page.get_by_role("heading", name="What it would mean")).to_be_visible()
    expect(page.locator("tr", has_text="with this choice").get_by_role("cell").first).to_have_text("1")
    fine(page, f"orders-by-hand-look-{width}")
    page.get_by_label("Why").fill("one key for both")
    page.get_by_role("button", name="Keep this choice").click()
    expect(page.get_by_text("The choice is kept")).to_be_visible()
    expect(page.get_by_text("from the next plan on")).to_be_visible()
    fine(page, f"orders-by-hand-kept-{width}")
    assert [(row.parts, row.why) for row in OrderChoice.objects.all()] == [([["L6", "L7"]], "one key for both")]
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("The choice is taken back")).to_be_visible()
    assert not OrderChoice.objects.exists()


def test_what_cannot_hold_is_refused_in_words(open_site: Opened) -> None:
    page = open_site("planning", "phone")
    page.goto("/plans/by-hand/")
    page.get_by_label("L7", exact=True).check()
    page.get_by_role("button", name="Ticked ones apart").click()
    expect(page.get_by_role("alert")).to_contain_text("hang on gateway L7-G, which is changed once")
    fine(page, "orders-by-hand-refused-phone")
