"""Forms that go wrong in a browser: the sign-in ends while somebody types, a double click, the back button."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from inventory.models import Failure, Node
from planner.models import Brief, Job
from tests.books import small
from tests.browser.conftest import Opened, shoot
from tests.site_campus import PASSWORD

pytestmark = pytest.mark.browser


def sign_in_again(page: Page, name: str) -> None:
    expect(page.get_by_text("Your sign-in had ended")).to_be_visible()
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_a_brief_typed_when_the_sign_in_ended_is_kept_and_planned_once(open_site: Opened) -> None:
    page = open_site("planning", "phone")
    page.goto("/plans/brief/")
    page.get_by_label("Name of the brief").fill("Summer only")
    page.get_by_label("Reserve", exact=False).first.fill("35")
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Keep the brief and plan").click()
    sign_in_again(page, "planning")
    expect(page.get_by_role("heading", name="Go on with what you typed")).to_be_visible()
    expect(page.get_by_role("definition").filter(has_text="Summer only")).to_be_visible()
    assert not Job.objects.exists()
    page.get_by_role("button", name="Send it").click()
    expect(page.get_by_role("heading", name="Go on with what you typed")).to_be_hidden()
    assert Brief.objects.filter(name="Summer only").count() == 1
    shoot(page, "brief-sent-again-phone")


def failure_typed(page: Page) -> None:
    page.get_by_text("Report a failure", exact=True).click()
    page.get_by_label("What failed").fill("slider 2 jumps")


def test_a_failure_reported_by_a_double_click_and_again_after_going_back_is_on_record_once(open_site: Opened) -> None:
    page = open_site("facilities", "phone")
    page.goto(f"/stations/{Node.objects.filter(model__kind='station').earliest('key').pk}/")
    failure_typed(page)
    page.get_by_role("button", name="Put it on record").dblclick()
    expect(page.get_by_text("slider 2 jumps")).to_be_visible()
    assert Failure.objects.count() == 1
    page.go_back()
    if not page.get_by_label("What failed").is_visible():
        page.get_by_text("Report a failure", exact=True).click()
    page.get_by_label("What failed").fill("slider 2 jumps")
    page.get_by_role("button", name="Put it on record").click()
    expect(page.get_by_label("What failed")).to_have_value("slider 2 jumps")
    expect(page.locator("details.report .errorlist")).to_be_visible()
    assert Failure.objects.count() == 1


def test_a_workbook_sent_when_the_sign_in_ended_is_asked_for_again_and_looked_at_once(
    open_site: Opened, tmp_path: Path
) -> None:
    page = open_site("facilities", "desk")
    file = tmp_path / "small.xlsx"
    file.write_bytes(small())
    page.goto("/intake/")
    page.locator("input[type=file]").first.set_input_files(file)
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("Files are not kept")).to_be_visible()
    assert not Job.objects.exists()
    page.goto("/sign-in/?next=/intake/")
    page.get_by_label("Name").fill("facilities")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.locator("input[type=file]").first.set_input_files(file)
    page.get_by_role("button", name="Look at it").dblclick()
    expect(page.get_by_role("heading", name="Intake", exact=True)).to_be_hidden()
    assert Job.objects.filter(kind="intake").count() == 1
