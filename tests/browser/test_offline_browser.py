"""The page of the work loaded anew without a connection, in a real browser: as of when, with what was typed; gone after signing out."""

import re

import pytest
from playwright.sync_api import Page, expect

from planner.models import WorkEntry
from tests.browser.conftest import Opened, shoot
from tests.browser.test_site_browser import judged, overflows
from tests.browser.test_work_browser import begin, opener, step, tick
from tests.site_campus import PASSWORD
from tests.work import work_order

pytestmark = pytest.mark.browser

NEEDED = ("/orders/{}/steps/", "/orders/{}/pack/", "/static/site/work.js", "/static/site/sheet.css")
LOST = "net::ERR_"  # how Chromium says that a page did not come


def outlasts(page: Page, pk: int) -> None:
    """Wait until the browser keeps all that the page needs."""
    needed = [one.format(pk) for one in NEEDED]
    page.wait_for_function(
        f"() => Promise.all({needed}.map((one) => caches.match(one))).then((all) => all.every(Boolean))"
    )


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_the_work_comes_again_without_a_connection_with_all_that_was_typed(open_site: Opened, width: str) -> None:
    page, order = opener(open_site, work_order)(width)
    outlasts(page, order.pk)
    begin(page)
    tick(page, "Box adapter")
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)
    expect(page.locator("#waiting")).to_be_hidden()
    page.wait_for_function(  # what was sent is on the page that is kept
        f"() => caches.match('/orders/{order.pk}/steps/').then((one) => one.text()).then((text) => text.includes('ticked'))"
    )
    page.context.set_offline(True)
    tick(page, "Save zones and scenes")
    expect(page.locator("#waiting")).to_contain_text("1 kept in this browser, not sent yet")
    page.get_by_label("Note").fill("the cover is lo")
    page.reload()
    expect(page.locator("#stale")).to_contain_text("This page is as of")
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)
    expect(step(page, "Save zones and scenes").get_by_role("button", name="Done")).to_be_disabled()
    expect(page.get_by_label("Note")).to_have_value("the cover is lo")
    tick(page, "Isolate, lock off", "Ines")
    expect(page.locator("#waiting")).to_contain_text("2 kept in this browser, not sent yet")
    shoot(page, f"work-stale-{width}")
    assert judged(page) == []
    assert not overflows(page)
    page.get_by_role("link", name="The pack as it is printed").click()
    expect(page.locator("#stale")).to_contain_text("This page is as of")
    expect(page.get_by_role("heading", name="Steps")).to_be_visible()
    page.go_back()
    expect(page.locator("#stale")).to_be_visible()
    page.context.set_offline(False)
    expect(page.locator(".work-steps li.ticked")).to_have_count(3, timeout=30_000)
    expect(page.locator("#stale")).to_be_hidden()
    expect(page.get_by_label("Note")).to_have_value("the cover is lo")
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 3


def test_after_signing_out_nothing_of_it_is_left_on_the_phone(open_site: Opened) -> None:
    page, order = opener(open_site, work_order)()
    outlasts(page, order.pk)
    page.get_by_label("Note").fill("the cover is lo")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.wait_for_function("() => caches.keys().then((all) => !all.includes('changeover-pages'))")
    assert page.evaluate("Object.keys(localStorage)") == []
    page.context.set_offline(True)
    with pytest.raises(Exception, match=LOST):
        page.goto(f"/orders/{order.pk}/steps/")
    page.context.set_offline(False)


def test_words_half_typed_outlast_a_sign_in_that_ended(open_site: Opened) -> None:
    page, order = opener(open_site, work_order)()
    page.get_by_label("Note").fill("the cover is lo")
    page.context.clear_cookies(name="sessionid")
    page.reload()
    expect(page.get_by_text("Sign in to see that page")).to_be_visible()
    page.get_by_label("Name").fill("crew")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(re.compile(f"/orders/{order.pk}/steps/$"))
    expect(page.get_by_label("Note")).to_have_value("the cover is lo")
