"""The crew at the wall box, in a real browser: ticking, hold points, no connection, photographs, paper."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, Route, expect
from pypdf import PdfReader

from inventory.models import Reading
from planner.core.plans import OrderState
from planner.models import Order, Photograph, WorkEntry
from tests.browser.conftest import WIDTHS, Opened, shoot, sign_in
from tests.browser.test_site_browser import judged, overflows
from tests.work import STEPS, asking_order, comes_first, land, measured_order, work_order

pytestmark = pytest.mark.browser


def opener(open_site: Opened, make: Callable[[], Order]) -> Callable[..., tuple[Page, Order]]:
    """Return a function that makes an order and opens the work on it as the crew."""

    def opened(width: str = "phone", **options: object) -> tuple[Page, Order]:
        order = make()
        page = open_site("crew", width, **options)
        page.goto(f"/orders/{order.pk}/steps/")
        return page, order

    return opened


@pytest.fixture
def work(open_site: Opened) -> Callable[..., tuple[Page, Order]]:
    """Return a function that opens the work on an order as the crew."""
    return opener(open_site, work_order)


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
    expect(held.get_by_text("Waits for step")).to_be_visible()
    expect(held.get_by_role("button", name="Done")).to_be_hidden()
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


LOOP = "Loop resistance, B1-L0-G to B1-L0-S0"


def figure(page: Page, value: str, instrument: str = "") -> None:
    line = page.locator(".work-figures li").filter(has_text=LOOP)
    line.get_by_label("Read", exact=False).first.fill(value)
    if instrument:
        line.get_by_label("Instrument").fill(instrument)
    line.get_by_role("button", name="Keep the figure").click()


@pytest.fixture
def measuring(open_site: Opened) -> Callable[..., tuple[Page, Order]]:
    """Return a function that opens an order with a figure to measure as the crew."""
    return opener(open_site, measured_order)


def test_without_a_connection_figures_are_kept_say_stop_and_arrive_once(
    measuring: Callable[..., tuple[Page, Order]],
) -> None:
    page, _ = measuring()
    page.context.set_offline(True)
    figure(page, "1.75", "Bridge 4")
    expect(page.locator("#waiting")).to_contain_text("1 kept in this browser, not sent yet: figure loop resistance")
    expect(page.locator("#waiting")).not_to_contain_text("Stop")
    figure(page, "61")
    expect(page.locator("#waiting")).to_contain_text("Stop: figure loop resistance")
    shoot(page, "work-figures-offline-phone")
    assert judged(page) == []
    assert not overflows(page)
    assert Reading.objects.count() == 0
    page.context.set_offline(False)
    expect(page.locator(".work-figures")).to_contain_text("Stop: it contradicts the records.")
    expect(page.locator("#waiting")).to_be_hidden()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".work-figures")).to_contain_text("Read 61 ohm")
    assert [(one.value, one.instrument) for one in Reading.objects.order_by("pk")] == [(1.75, "Bridge 4"), (61.0, None)]
    shoot(page, "work-figures-phone")
    assert judged(page) == []


def lose_the_first_answer(page: Page) -> None:
    """Let the first entry reach the site, and its answer be lost on the way back."""
    lost: list[Route] = []

    def lose(route: Route) -> None:
        if lost:
            route.continue_()
        else:
            lost.append(route)
            route.fetch()
            route.abort()

    page.route("**/steps/entries/", lose)


def test_a_figure_whose_answer_got_lost_counts_once(measuring: Callable[..., tuple[Page, Order]]) -> None:
    page, _ = measuring("desk")
    lose_the_first_answer(page)
    figure(page, "1.75")
    expect(page.locator("#waiting")).to_contain_text("No connection")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".work-figures")).to_contain_text("Read 1.75 ohm")
    assert Reading.objects.count() == 1
    shoot(page, "work-figures-desk")


def test_a_wrong_figure_is_refused_beside_its_field_with_or_without_script(
    measuring: Callable[..., tuple[Page, Order]],
) -> None:
    page, _ = measuring("phone", java_script_enabled=False)
    figure(page, "plenty", "Bridge 4")
    alert = page.locator(".work-figures li").filter(has_text=LOOP).get_by_role("alert")
    expect(alert).to_contain_text("plenty is no figure in ohm")
    line = page.locator(".work-figures li").filter(has_text=LOOP)
    expect(line.get_by_label("Read", exact=False).first).to_have_value("plenty")
    expect(line.get_by_label("Instrument")).to_have_value("Bridge 4")


def test_what_is_being_typed_survives_the_answer_to_what_was_sent_before(
    work: Callable[..., tuple[Page, Order]],
) -> None:
    page, _ = work()
    begin(page)
    page.get_by_label("Note").fill("the cover is lo")
    page.get_by_text("Back out", exact=True).click()
    page.get_by_label("Why").fill("not yet sure")
    tick(page, "Box adapter")
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)
    expect(page.get_by_label("Note")).to_have_value("the cover is lo")
    expect(page.get_by_label("Why")).to_be_visible()
    expect(page.get_by_label("Why")).to_have_value("not yet sure")


def test_a_double_click_enters_once_and_two_notes_are_two(work: Callable[..., tuple[Page, Order]]) -> None:
    page, order = work()
    begin(page)
    step(page, "Box adapter").get_by_role("button", name="Done").dblclick()
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)
    page.context.set_offline(True)
    for words in ("first", "second"):
        page.get_by_label("Note").fill(words)
        page.get_by_role("button", name="Keep the note").dblclick()
        expect(page.get_by_label("Note")).to_have_value("")
    page.context.set_offline(False)
    expect(page.locator("#waiting")).to_be_hidden()
    expect(page.locator("p.note").filter(has_text="second")).to_be_visible()
    assert list(WorkEntry.objects.filter(order=order, act="note").order_by("pk").values_list("text", flat=True)) == [
        "first",
        "second",
    ]
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 1


def test_accepting_and_backing_out_by_a_double_click_and_after_going_back_are_done_once(
    work: Callable[..., tuple[Page, Order]],
) -> None:
    page, order = work("phone")
    begin(page)
    page.get_by_text("Back out", exact=True).click()
    page.get_by_label("Why").fill("the opening is cracked")
    page.get_by_role("button", name="Back the order out").dblclick()
    expect(page.locator(".verdict-line").get_by_text("backed out")).to_be_visible()
    page.goto("/")
    page.go_back()
    expect(page.locator(".verdict-line").get_by_text("backed out")).to_be_visible()
    assert list(order.events.order_by("pk").values_list("state", flat=True)) == ["under way", "backed out"]


def test_an_order_backed_out_elsewhere_is_refused_in_words_and_the_entry_is_not_lost(
    work: Callable[..., tuple[Page, Order]],
) -> None:
    page, order = work()
    begin(page)
    page.get_by_text("Back out", exact=True).click()
    page.get_by_label("Why").fill("   ")
    page.get_by_role("button", name="Back the order out").click()
    expect(page.locator("form[data-does='back out']").get_by_role("alert")).to_contain_text("Say why")
    assert Order.objects.get(pk=order.pk).state == OrderState.UNDER_WAY


def test_after_signing_in_again_in_another_tab_what_waited_goes_up_from_the_same_page(
    work: Callable[..., tuple[Page, Order]],
) -> None:
    page, order = work()
    begin(page)
    page.get_by_label("Note").fill("half a no")
    page.context.clear_cookies(name="sessionid")
    tick(page, "Box adapter")
    expect(page.locator("#waiting")).to_contain_text("Your sign-in has ended")
    other = page.context.new_page()
    sign_in(other, "crew")
    expect(other.get_by_role("heading", name="Orders")).to_be_visible()
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    expect(page.locator(".work-steps li.ticked")).to_have_count(1)
    expect(page.get_by_label("Note")).to_have_value("half a no")
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 1


def test_an_answer_that_got_lost_does_not_count_twice(work: Callable[..., tuple[Page, Order]]) -> None:
    page, order = work()
    begin(page)
    lose_the_first_answer(page)
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


def printed(page: Page, paper: str) -> list[str]:
    """Return the words on each sheet of paper, line ends taken for blanks."""
    sheets = PdfReader(BytesIO(page.pdf(format=paper, prefer_css_page_size=False))).pages
    return [" ".join(sheet.extract_text().split()) for sheet in sheets]


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
        sheets = printed(page, paper)
        assert len(sheets) > 1
        for number, text in enumerate(sheets, start=1):
            assert f"Page {number} of {len(sheets)}" in text
            assert f"Work pack {order.key}, " in text, "what the sheet is of, at the foot of each"
    expect(page.locator(".topline")).to_be_hidden()
    shoot(page, "pack-print")
    page.goto(f"/plans/{order.plan_id}/packs/?phase=Phase+1")
    expect(page.locator("article.pack")).to_have_count(5)  # the accepted one is built
    expect(page.locator(".packblock")).to_have_count(5)


def test_on_a_phone_the_landing_and_the_figures_of_a_pack_are_read_without_pushing_them_aside(
    open_site: Opened,
) -> None:
    page, order = opener(open_site, measured_order)()
    land(order, {"CAN_H": 1, "CAN_L": 2, "a signal of a rather long name": 8})
    page.goto(f"/orders/{order.pk}/pack/")
    for name in ("Landing of B1-L0 by M-9", "Figures of B1-L0"):
        region = page.get_by_role("region", name=name)
        expect(region.get_by_role("row").nth(1)).to_be_visible()
        assert region.evaluate("one => one.scrollWidth <= one.clientWidth"), name
    assert judged(page) == []


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


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_a_hold_point_asks_for_its_figure_and_for_a_reason_where_it_says_stop_without_a_connection_too(
    open_site: Opened, width: str
) -> None:
    page, order = opener(open_site, asking_order)(width)
    begin(page)
    tick(page, "Box adapter")
    tick(page, STEPS[0][0])
    expect(page.locator(".work-steps > li.ticked")).to_have_count(2)
    hold = step(page, STEPS[1][0])
    reason = hold.get_by_label("Why it goes on all the same")
    expect(reason).to_be_visible()
    shoot(page, f"work-hold-{width}")
    assert judged(page) == []
    assert not overflows(page)
    page.context.set_offline(True)
    figure(page, "1.75")
    expect(reason).to_be_hidden()
    figure(page, "61")
    expect(reason).to_be_visible()
    page.context.set_offline(False)
    expect(hold).to_contain_text("Stop: it contradicts the records.", timeout=20_000)
    tick(page, STEPS[1][0], "Ines")
    expect(page.locator(".work-steps > li.ticked")).to_have_count(2)  # the browser asks for the reason
    reason.fill("the meter is off by sixty")
    tick(page, STEPS[1][0], "Ines")
    expect(page.locator(".work-steps > li.ticked")).to_have_count(3)
    expect(page.get_by_text("Reason: the meter is off by sixty")).to_be_visible()
    shoot(page, f"work-past-{width}")
    assert judged(page) == []
    assert WorkEntry.objects.filter(order=order, act="tick").count() == 3
