"""Signing in again in the middle of a form, in a real browser."""

import pytest
from playwright.sync_api import expect

from inventory.models import Failure, Node
from tests.browser.conftest import Opened, shoot, sign_in
from tests.browser.test_site_browser import judged, overflows
from tests.site_campus import PASSWORD

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_a_report_sent_after_the_sign_in_ended_is_not_lost(open_site: Opened, width: str) -> None:
    page = open_site("crew", width)
    page.goto(f"/stations/{Node.objects.filter(model__kind='station').earliest('key').pk}/")
    page.get_by_text("Report a failure").click()
    page.get_by_label("What failed").fill("slider 2 jumps")
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Put it on record").click()
    expect(page.get_by_text("What you typed is kept")).to_be_visible()
    shoot(page, f"sign-in-again-{width}")
    assert judged(page) == []
    page.get_by_label("Name").fill("crew")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Go on with what you typed")).to_be_visible()
    shoot(page, f"go-on-{width}")
    assert judged(page) == []
    assert not overflows(page)
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_text("slider 2 jumps")).to_be_visible()
    assert Failure.objects.count() == 1


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_a_person_changes_the_own_password(open_site: Opened, width: str) -> None:
    page = open_site("reader", width)
    page.get_by_role("link", name="reader", exact=True).click()
    page.get_by_label("Password as it is").fill(PASSWORD)
    page.get_by_label("New password", exact=True).fill("short")
    page.get_by_label("New password once more").fill("short")
    page.get_by_role("button", name="Change the password").click()
    expect(page.get_by_text("at least 12 characters").last).to_be_visible()
    shoot(page, f"new-password-{width}")
    assert judged(page) == []
    assert not overflows(page)
    page.get_by_label("Password as it is").fill(PASSWORD)
    page.get_by_label("New password", exact=True).fill("four plain words here")
    page.get_by_label("New password once more").fill("four plain words here")
    page.get_by_role("button", name="Change the password").click()
    expect(page.get_by_role("navigation", name="Places")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    sign_in(page, "reader")
    expect(page.get_by_text("do not go together")).to_be_visible()
