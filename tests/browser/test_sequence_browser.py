"""What comes first, said on the page of an order, and the long form of the brief: in a real browser at both widths."""

import pytest
from playwright.sync_api import expect

from planner.core.brief_families import Family
from planner.models import Order, Precedence
from tests.browser.conftest import Opened, shoot
from tests.browser.test_site_browser import judged, overflows

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_one_order_is_put_after_another_by_keyboard_and_a_ring_is_refused_beside_the_field(
    open_site: Opened, width: str
) -> None:
    page = open_site("planning", width)
    first, second = Order.objects.filter(key__in=("B1-O0", "B1-O1")).order_by("key")
    for order in Order.objects.filter(building__key="B1"):
        order.data["segments"] = [f"B1-L{order.key[-1]}"]
        order.save(update_fields=["data"])
    page.goto(f"/orders/{first.pk}/")
    page.get_by_label("Comes after order").focus()
    page.keyboard.type("b1-o1")
    page.keyboard.press("Tab")
    page.keyboard.type("one key for both")
    page.keyboard.press("Enter")
    expect(page.get_by_text("B1-O0 comes after B1-O1 in every plan made from now on")).to_be_visible()
    expect(page.get_by_text("from the next plan on")).to_be_visible()
    assert judged(page) == []
    assert not overflows(page)
    shoot(page, f"sequence-{width}")
    page.goto(f"/orders/{second.pk}/")
    page.get_by_label("Comes after order").fill("B1-O0")
    page.get_by_role("button", name="Keep this sequence").click()
    expect(page.get_by_role("alert")).to_contain_text("so none of them could be first")
    expect(page.get_by_label("Comes after order")).to_have_value("B1-O0")
    assert judged(page) == []
    shoot(page, f"sequence-refused-{width}")
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("need not come after B1-O1 any more")).to_be_visible()
    assert not Precedence.objects.exists()


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_every_heading_of_the_brief_is_led_to_and_its_settings_stand_under_it(open_site: Opened, width: str) -> None:
    page = open_site("planning", width)
    page.goto("/plans/brief/")
    for number, family in enumerate(Family, start=1):
        page.get_by_role("navigation", name="Settings by what they are about").get_by_text(family.title).click()
        heading = page.locator(f"#family-{number}")
        expect(heading).to_have_text(family.title)
        expect(heading).to_be_in_viewport()
    under = page.get_by_role("region", name="Money").get_by_role("textbox")
    expect(under).to_have_count(4)
    assert judged(page) == []
    assert not overflows(page)
