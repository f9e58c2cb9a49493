"""Purchasing in a real browser: a part is ordered, comes in part, and is late."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.models import Delivery, Part
from tests.browser.conftest import Opened, shoot
from tests.browser.test_site_browser import judged, overflows

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_a_part_is_ordered_and_comes(open_site: Opened, width: str) -> None:
    page = open_site("purchasing", width)
    part = Part.objects.create(key="P-1001", on_hand=Decimal(2), price=Decimal("7.40"), currency="EUR")
    Delivery.objects.create(
        part=part, due=timezone.localdate() - timedelta(days=4), quantity=Decimal(8), reference="PO-1"
    )
    page.goto(f"/materials/parts/{part.pk}/")
    shoot(page, f"material-{width}")
    assert judged(page) == []
    assert not overflows(page)
    page.get_by_text("Put an order on record").click()
    page.get_by_label("Units ordered").fill("12")
    page.locator("#id_due").fill("2027-02-01")
    page.get_by_role("button", name="Ordered").click()
    expect(page.get_by_text("on their way")).to_be_visible()
    page.goto("/materials/")
    shoot(page, f"materials-buying-{width}")
    assert judged(page) == []
    assert not overflows(page)
    assert Delivery.objects.count() == 2
