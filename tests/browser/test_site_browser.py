"""Every page in a real browser: no violation that axe can find, no request that leaves the site, no need for a mouse."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, Page, expect

from inventory.models import Intake, Node
from planner.models import Order, Plan
from tests.browser.conftest import WIDTHS, shoot, sign_in

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]

# WCAG 2.2 A and AA, and what axe calls best practices; what passes is not told: that took half of the time.
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
COLOURS = {**RULES, "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}

PAGES = {
    "campus": "/",
    "stations": "/stations/",
    "stations-narrowed": "/stations/?verdict=new+cable&sort=-age&building=NO-SUCH",
    "segments": "/segments/",
    "segment": "/segments/of/B1-L2/",
    "segment-to-survey": "/segments/of/B2-L5/",
    "segment-with-way-out": "/segments/of/B1-L3/",
    "survey": "/segments/survey/",
    "survey-one-building": "/segments/survey/?building=B1",
    "survey-sheets": "/segments/survey/sheets/",
    "plans": "/plans/",
    "brief": "/plans/brief/",
    "intake": "/intake/",
    "audit": "/audit/",
    "materials": "/materials/",
    "search": "/search/?q=b1",
    "search-none": "/search/?q=no+such+thing",
    "words": "/words/",
    "sources": "/sources/",
    "workbook": "/workbook/",
    "no-such-page": "/no/such/page/",
}


def judged(page: Page, rules: dict[str, Any] = RULES) -> list[str]:
    """Return what axe finds wrong with the page as it stands."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found = page.evaluate("rules => axe.run(rules).then(found => found.violations)", rules)
    return [f"{one['id']}: {node['html'][:160]}" for one in found for node in one["nodes"]]


def judged_in_both_schemes(page: Page) -> list[str]:
    """Return what axe finds wrong in light, and with the colours in the dark: nothing else differs there."""
    found = judged(page)
    page.emulate_media(color_scheme="dark")
    found += [f"in the dark: {one}" for one in judged(page, COLOURS)]
    page.emulate_media(color_scheme="light")
    return found


def overflows(page: Page) -> bool:
    """Tell whether the page itself scrolls sideways."""
    wide: bool = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
    return wide


FAULTY = """<!doctype html><html lang="en"><title>Faulty</title><style>p { color: #000; background: #fff }
@media (prefers-color-scheme: dark) { p { color: #eee } }</style><main><h1>Faulty</h1><p>Pale in the dark.</p>%s</main></html>"""


@pytest.mark.parametrize(("more", "also"), [("", set()), ("<img src='data:,'>", {"image-alt"})])
def test_what_is_wrong_in_light_and_what_in_the_dark_alone_are_both_told(
    browser: Browser, more: str, also: set[str]
) -> None:
    """WCAG 2.2: 1.4.3 asks for a contrast of 4.5 to 1, 1.1.1 for words in place of a picture."""
    page = browser.new_page(color_scheme="light")
    page.set_content(FAULTY % more)
    found = {one.partition(": <")[0] for one in judged_in_both_schemes(page)}
    page.close()
    assert found == {"in the dark: color-contrast"} | also


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_has_a_violation_or_scrolls_sideways(open_site: Opened, width: str) -> None:
    page = open_site(width=width)
    station = Node.objects.filter(model__kind="station").earliest("key")
    Intake.objects.update(counts={"rooms": {"new": 2, "changed": 1}})
    ones = {
        "intake-back": f"/intake/taken/{Intake.objects.earliest('pk').pk}/back/",
        "station": f"/stations/{station.pk}/",
        "building": f"/buildings/{station.building_id}/",
        "room": f"/rooms/{station.room_id}/",
        "plan": f"/plans/{Plan.objects.earliest('pk').pk}/",
        "order": f"/orders/{Order.objects.earliest('pk').pk}/",
    }
    for name, address in (PAGES | ones).items():
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == (404 if name == "no-such-page" else 200), name
        shoot(page, f"{name}-{width}")
        assert judged_in_both_schemes(page) == [], name
        assert not overflows(page), name


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_sign_in_and_refusals_have_no_violation(open_site: Opened, width: str) -> None:
    page = open_site(role="", width=width)
    page.goto("/")
    expect(page).to_have_title(re.compile("Sign in"))
    assert judged(page) == []
    page.get_by_role("button", name="Sign in").click()
    assert judged(page) == []
    shoot(page, f"sign-in-{width}")
    sign_in(page, "nobody")
    expect(page.get_by_role("heading", level=1)).to_have_text("Not for your role")
    assert judged(page) == []
    shoot(page, f"refused-{width}")


def test_the_whole_way_from_sign_in_to_a_failure_on_record_goes_by_keyboard(open_site: Opened) -> None:
    page = open_site(role="")
    page.goto("/sign-in/")
    expect(page.get_by_label("Name")).to_be_focused()
    page.keyboard.type("crew")
    page.keyboard.press("Tab")
    page.keyboard.type("weir-lamp-quay-19")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Orders")
    follow(page, "Stations")
    follow(page, "B1-L0-S0")
    reach(page, "summary.button")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("slider 2 jumps")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("is on record")
    expect(page.get_by_text("slider 2 jumps")).to_be_visible()


def test_the_first_tab_skips_to_the_page(open_site: Opened) -> None:
    page = open_site(role="reader")
    page.goto("/stations/")
    page.keyboard.press("Tab")
    assert focused(page, "e => e.textContent") == "Skip to the page"
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert focused(page, "e => e.closest('main') !== null")


def test_everything_that_takes_focus_shows_it(open_site: Opened) -> None:
    page = open_site(role="super")
    page.goto("/stations/")
    for _ in range(30):
        page.keyboard.press("Tab")
        width = focused(page, "e => parseFloat(getComputedStyle(e).outlineWidth)")
        assert width >= 2, focused(page, "e => e.outerHTML.slice(0, 120)")


def test_a_click_on_a_bar_of_the_campus_lists_those_stations(open_site: Opened) -> None:
    page = open_site(role="reader")
    page.goto("/")
    bar = page.get_by_role("link", name="Age not known", exact=False)
    count = (bar.get_attribute("aria-label") or "").split(": ")[1].split()[0]
    bar.click()
    expect(page.get_by_text(f"{count} stations")).to_be_visible()


def test_print_shows_the_sheet_and_its_title_block_and_no_controls(open_site: Opened) -> None:
    page = open_site(role="reader")
    page.goto("/stations/")
    page.emulate_media(media="print")
    expect(page.locator(".topline")).to_be_hidden()
    expect(page.locator(".filters")).to_be_hidden()
    expect(page.locator(".titleblock")).to_be_visible()
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    shoot(page, "print")


def test_the_first_notice_prints_as_all_others_do_with_nothing_of_the_site_above_it(open_site: Opened) -> None:
    page = open_site(role="planning")
    page.goto(f"/plans/{Plan.objects.earliest('pk').pk}/notices/")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.emulate_media(media="print")
    expect(page.get_by_role("heading", level=1)).to_be_hidden()
    expect(page.locator(".trail")).to_be_hidden()
    assert page.locator(".notice").count() > 1
    expect(page.locator(".notice").first.get_by_text("WALL STATIONS OUT OF USE")).to_be_visible()


def test_a_page_with_all_that_it_loads_weighs_less_than_100_kb(open_site: Opened) -> None:
    page = open_site(role="reader")
    weights: list[int] = []
    page.on("response", lambda answer: weights.append(len(answer.body())) if answer.status == 200 else None)
    for address in ("/", "/stations/", "/materials/"):
        weights.clear()
        page.goto(address, wait_until="networkidle")
        assert 0 < sum(weights) < 100_000, address


def focused(page: Page, question: str) -> Any:
    """Return what the function says of the element that has the focus."""
    return page.evaluate(f"({question})(document.activeElement)")


def reach(page: Page, selector: str) -> None:
    """Press Tab until an element that matches has the focus."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if focused(page, f"e => e.matches({selector!r})"):
            return
    pytest.fail(f"no way to {selector} by keyboard")


def follow(page: Page, words: str) -> None:
    """Press Tab until a link with these words has the focus, then Enter."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if focused(page, "e => e.tagName === 'A' && e.textContent.trim()") == words:
            with page.expect_navigation():
                page.keyboard.press("Enter")
            return
    pytest.fail(f"no way to the link {words} by keyboard")
