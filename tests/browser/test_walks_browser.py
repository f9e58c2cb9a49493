"""Each person's main day in a real browser, by keyboard alone; the planner's stands with the demo campus and its worker."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import openpyxl
import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.models import Delivery, Failure, Node, Part
from planner.core.plans import OrderState
from planner.models import Order, Plan, StationRisk
from tests.browser.conftest import Opened
from tests.browser.walks import Walk
from tests.site_campus import PASSWORD
from tests.work import STEPS, work_order

pytestmark = pytest.mark.browser


@pytest.fixture
def walk(open_site: Opened) -> Callable[[str], Walk]:
    """Return a function that begins the day of a person."""
    return lambda person: Walk(open_site(role=""), person, PASSWORD)


def test_the_day_of_facilities(walk: Callable[[str], Walk]) -> None:
    risky = Node.objects.filter(model__kind="station", bus__key="B1-L2").earliest("key")
    StationRisk.objects.create(node=risky, importance=4, chance=0.2, days_without=30, score=24)
    day = walk("facilities")
    day.follow("stations by risk", "Stations", "stations-by-risk")
    day.follow(risky.key, risky.key, "station")
    day.open("Report a failure")
    day.page.keyboard.press("Tab")
    day.page.keyboard.type("slider 2 jumps")
    day.press("Enter", risky.key)
    day.told("is on record")
    assert Failure.objects.get(node=risky).what_failed == "slider 2 jumps"
    day.follow("Campus", "Campus")
    day.follow("The whole survey list", "Survey", "survey")
    day.follow("Intake", "Intake", "intake")
    day.follow("Records", "Records", "records")
    day.follow("Nodes", "Nodes", "nodes")
    day.follow(risky.key, risky.key, "record")
    day.follow("Change", "Change", "record-change")
    day.fill("#id_condition", "5")
    day.push("Keep the change")
    day.told("is changed")
    assert Node.objects.get(pk=risky.pk).condition == 5
    day.follow("Who did what", "Who did what", "who-did-what")


def test_the_day_of_purchasing(walk: Callable[[str], Walk]) -> None:
    bought = {"supplier": "Northquay Supply", "price": Decimal("7.40"), "currency": "EUR", "lead_time_days": 20}
    part = Part.objects.create(key="P-1001", on_hand=Decimal(2), **bought)
    late = timezone.localdate() - timedelta(days=4)
    Delivery.objects.create(part=part, due=late, quantity=Decimal(8), reference="PO-1")
    day = walk("purchasing")
    day.follow("Materials", "Materials", "materials")
    day.open("Delivered, or later")
    day.fill("[name$=quantity]", "3")
    day.push("Delivered")
    day.told("3 units are on the shelf")
    day.open("Ordered")
    day.fill("[name=due]", (timezone.localdate() + timedelta(days=30)).strftime("%d %b %Y"))
    day.push("Ordered")
    day.told("on their way")
    assert Part.objects.get(pk=part.pk).on_hand == Decimal(5)
    assert Delivery.objects.count() == 2
    assert Delivery.objects.get(reference="PO-1").quantity == 5
    day.follow("P-1001", "P-1001", "part")
    day.follow("Materials", "Materials")
    handed = openpyxl.load_workbook(BytesIO(day.keep("Northquay Supply").read_bytes()))
    assert any("P-1001" in [cell.value for cell in row] for sheet in handed for row in sheet.iter_rows())
    day.follow("Phase 1", "Materials", "materials-of-a-phase")


def test_the_day_of_a_crew(walk: Callable[[str], Walk]) -> None:
    order = work_order()
    day = walk("crew")
    day.follow(order.key, order.key, "order")
    day.follow("Work on it", "Work on", "work")
    day.push("I have read the cautions")
    expect(day.page.get_by_text("under way").first).to_be_visible()
    for number, (_, _, _, _, hold) in enumerate([("", 0, 0, False, False), *STEPS], start=1):
        if hold:
            day.tab("e => e.matches('.work-steps .hold input[name=text]')", "the second person")
            day.page.keyboard.type("Ines")
        day.push("Done")
        expect(day.page.locator(".work-steps li.ticked")).to_have_count(number)
    day.fill("[data-does^=serial] [name=text]", "70-4711")
    day.page.keyboard.press("Enter")
    expect(day.page.locator("dd").get_by_text("70-4711")).to_be_visible()
    day.met("ticked")
    day.push("Accept")
    expect(day.page.locator(".verdict-line").get_by_text("accepted")).to_be_visible()
    assert Order.objects.get(pk=order.pk).state == OrderState.ACCEPTED
    day.follow("The pack as it is printed", "Work pack", "pack")


def test_the_day_of_a_reader(walk: Callable[[str], Walk]) -> None:
    station = Node.objects.filter(model__kind="station").earliest("key")
    day = walk("reader")
    day.fill("#find-anything", station.key)
    day.press("Enter", "Search")
    day.met("search")
    day.follow(station.key, station.key)
    day.follow("B1 Weir House", "Weir House", "building")
    day.follow("Segments", "Segments", "segments")
    day.follow("B1-L3", "B1-L3", "segment")
    day.follow("Stations", "Stations")
    assert day.keep("CSV").read_bytes().count(b"\n") == Node.objects.filter(model__kind="station").count() + 1
    day.follow("Plans", "Plans", "plans")
    plan = Plan.objects.latest("pk")  # its number depends on what was tested before
    day.follow(f"First plan, no. {plan.pk}", "First plan", "plan")
    day.follow("Words", "Words", "words")
    day.follow("Sources", "Sources")
    expect(day.page.get_by_role("link", name="Intake", exact=True)).to_have_count(0)
