"""The crew at the wall box, in a real browser: ticking, hold points, no connection, photographs, paper."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from planner.core.plans import OrderState
from planner.models import Order, Photograph, WorkEntry
from tests.browser.conftest import WIDTHS, Opened, shoot
from tests.browser.test_site_browser import judged, overflows
from tests.work import STEPS, comes_first, work_order

pytestmark = pytest.mark.browser


@pytest.fixture
def work(open_site: Opened) -> Callable[..., tuple[Page, Order]]:
    """Return a function that opens the work on an order as the crew."""

    def opened(width: str = "phone", **options: object) -> tuple[Page, Order]:
        order = work_order()
        page = open_site("crew", width, **options)
        page.goto(f"/orders/{order.pk}/steps/")
        return page, order

    return opened


def step(page: Page, text: str) -> Locator:
    return page.locator(".work-steps li").filter(has=page.locator(".work-text", has_text=text))


def begin(page: Page) -> None:
    page.get_by_role("button", name="I have read the cautions").click()
    expect(page.get_by_text("under way").first).to_be_visible()


def tick(page: Page, text: str, witness: str = "") -> None:
    item = step(page, text)
    if witness:
        item.get_by_label("Second person").fill(witness)
    item.get_by_role("button", name="Done").click()


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_a_crew_ticks_every_step_and_accepts(work: Callable[..., tuple[Page, Order]], width: str) -> None:
    page, order = work(width)
    shoot(page, f"work-booked-{width}")
    assert judged(page) == []
    begin(page)
    held = step(page, "Isolate, lock off")
    expect(held.get_by_role("button", name="Done")).to_be_disabled()
    assert judged(page) == []
    tick(page, "Box adapter")
    tick(page, "Save zones and scenes")
    expect(held.get_by_role("button", name="Done")).to_be_enabled()
    shoot(page, f"work-under-way-{width}")
    tick(page, "Isolate, lock off", "Ines")
    expect(held.get_by_text("seen by Ines")).to_be_visible()
    for text, *_, hold in STEPS[2:]:
        tick(page, text, "Ines" if hold else "")
        expect(step(page, text).locator(".work-done")).to_be_visible()
    page.get_by_label("From the label").fill("70-4711")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("70-4711")).to_be_visible()
    page.get_by_role("button", name="Accept").click()
    expect(page.locator(".verdict-line").get_by_text("accepted")).to_be_visible()
    shoot(page, f"work-accepted-{width}")
    assert judged(page) == []
    assert not overflows(page)
    assert Order.objects.get(pk=order.pk).state == OrderState.ACCEPTED


def test_without_a_connection_the_crew_goes_on_and_everything_arrives_once(
    work: Callable[..., tuple[Page, Order]],
) -> None:
    page, order = work()
    begin(page)
    page.context.set_offline(True)
    tick(page, "Box adapter")
    tick(page, "Save zones and scenes")
    tick(page, "Isolate, lock off", "Ines")
    tick(page, "Land both ends")
    expect(page.locator("#waiting")).to_contain_text("4 kept in this browser, not sent yet")
    shoot(page, "work-offline-phone")
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 0
    page.context.set_offline(False)
    expect(page.locator(".work-steps li.ticked")).to_have_count(4)
    expect(page.locator("#waiting")).to_be_hidden()
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 4


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_a_crew_is_told_what_comes_first_and_begins_all_the_same_without_a_connection(
    work: Callable[..., tuple[Page, Order]], width: str
) -> None:
    page, order = work(width)
    comes_first(order)
    page.reload()
    expect(page.get_by_text("B1-O0 comes first and is not accepted yet")).to_be_visible()
    shoot(page, f"work-first-{width}")
    assert judged(page) == []
    assert not overflows(page)
    page.context.set_offline(True)
    page.get_by_role("button", name="I have read the cautions").click()
    expect(page.get_by_text("not sent yet")).to_be_hidden()  # a reason is asked for first
    page.get_by_label("Why it begins all the same").fill("the keys came early")
    page.get_by_role("button", name="I have read the cautions").click()
    expect(page.get_by_text("1 kept in this browser, not sent yet: begin")).to_be_visible()
    page.context.set_offline(False)
    expect(page.locator(".verdict-line").get_by_text("under way")).to_be_visible(timeout=20_000)
    expect(page.get_by_text("Reason: the keys came early")).to_be_visible()
    assert Order.objects.get(pk=order.pk).state == OrderState.UNDER_WAY


def test_an_answer_that_got_lost_does_not_count_twice(work: Callable[..., tuple[Page, Order]]) -> None:
    page, order = work()
    begin(page)
    lost = []

    def lose_the_first(route: object) -> None:
        if not lost:
            lost.append(route)
            route.fetch()  # type: ignore[attr-defined]
            route.abort()  # type: ignore[attr-defined]
        else:
            route.continue_()  # type: ignore[attr-defined]

    page.route("**/steps/entries/", lose_the_first)
    tick(page, "Box adapter")
    expect(page.locator("#waiting")).to_contain_text("No connection")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 1


def test_what_waits_in_the_browser_outlives_the_sign_in_and_the_page(work: Callable[..., tuple[Page, Order]]) -> None:
    page, order = work()
    begin(page)
    session = [cookie for cookie in page.context.cookies() if cookie["name"] == "sessionid"]
    page.context.clear_cookies(name="sessionid")
    tick(page, "Box adapter")
    expect(page.locator("#waiting")).to_contain_text("Your sign-in has ended")
    page.context.add_cookies(session)  # type: ignore[arg-type]
    page.reload()
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 1


def test_a_photograph_goes_up_from_the_phone(work: Callable[..., tuple[Page, Order]], tmp_path: Path) -> None:
    page, _ = work()
    begin(page)
    path = tmp_path / "old.jpg"
    Image.new("RGB", (800, 600), "grey").save(path)
    page.get_by_label("Photograph", exact=True).set_input_files(path)
    page.get_by_label("What it shows").fill("old landing")
    page.get_by_role("button", name="Keep the photograph").click()
    expect(page.get_by_role("img", name="Photograph 1: old landing")).to_be_visible()
    assert judged(page) == []
    assert Photograph.objects.count() == 1


def test_a_step_is_ticked_without_any_script(work: Callable[..., tuple[Page, Order]]) -> None:
    page, _ = work("phone", java_script_enabled=False)
    begin(page)
    tick(page, "Box adapter")
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)


def test_the_pack_prints_on_a4_and_letter_in_black_and_white(work: Callable[..., tuple[Page, Order]]) -> None:
    page, order = work("desk")
    page.goto(f"/orders/{order.pk}/pack/")
    assert judged(page) == []
    assert not overflows(page)
    shoot(page, "pack-desk")
    page.set_viewport_size({"width": WIDTHS["phone"], "height": 800})
    assert not overflows(page)
    assert judged(page) == []
    page.set_viewport_size({"width": WIDTHS["desk"], "height": 800})
    page.emulate_media(media="print")
    for paper in ("A4", "Letter"):
        assert page.pdf(format=paper, prefer_css_page_size=False).startswith(b"%PDF")
    expect(page.locator(".topline")).to_be_hidden()
    shoot(page, "pack-print")
    page.goto(f"/plans/{order.plan_id}/packs/?phase=Phase+1")
    expect(page.locator("article.pack")).to_have_count(5)  # the accepted one is built
    expect(page.locator(".packblock")).to_have_count(5)


def test_several_packs_on_one_page_are_told_apart_and_their_print_shows_no_links_to_click(
    work: Callable[..., tuple[Page, Order]],
) -> None:
    page, order = work("phone")
    page.goto(f"/plans/{order.plan_id}/packs/?phase=Phase+1")
    cautions = [one.get_attribute("aria-label") for one in page.locator("article.pack .caution").all()]
    assert len(set(cautions)) == len(cautions) == 5
    assert not overflows(page)
    page.goto(f"/plans/{order.plan_id}/notices/")
    page.emulate_media(media="print")
    expect(page.locator("article.notice").first).to_be_visible()
    for one in page.locator(".no-print").all():
        expect(one).to_be_hidden()
