"""What fails next, and the spares along a plan, in a real browser: nothing that axe minds, no scrolling sideways."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inventory.models import EquipmentModel, Failure, Method, Node, Protocol
from planner.models import Plan
from tests.browser.conftest import shoot
from tests.browser.test_site_browser import judged, overflows

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]


def wear() -> None:
    """Put a dozen failures on record, and a method that makes their model an old one."""
    models = {model.key: model for model in EquipmentModel.objects.all()}
    Method.objects.create(
        key="M-1",
        old_model=models["WS-10"],
        new_model=models["WS-70"],
        new_protocol=Protocol.objects.get(key="NEWPAIR"),
    )
    today = timezone.localdate()
    old = Node.objects.filter(model__key="WS-10", installed__lt=today - timedelta(days=900)).order_by("key")[:12]
    Failure.objects.bulk_create(
        Failure(node=node, date=today - timedelta(days=60 * at + 5), outcome="replaced") for at, node in enumerate(old)
    )


@pytest.mark.parametrize("width", ["desk", "phone"])
@pytest.mark.parametrize("worn", ["worn", "new"])
def test_ageing_and_spares_have_no_violation(open_site: Opened, width: str, worn: str) -> None:
    page = open_site(width=width)
    if worn == "worn":
        wear()
    for name, address in (("ageing", "/ageing/"), ("spares", f"/plans/{Plan.objects.earliest('pk').pk}/spares/")):
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == 200
        shoot(page, f"{name}-{width}-{worn}")
        assert judged(page) == [], name
        assert not overflows(page), name


def test_campus_leads_to_a_room_at_risk_and_its_ages_can_be_estimated(open_site: Opened) -> None:
    page = open_site()
    wear()
    page.goto("/")
    page.get_by_role("link", name="What fails next").click()
    page.get_by_role("link", name="estimate the unknown ones").click()
    expect(page.get_by_role("link", name="leave them unknown")).to_be_visible()
    page.get_by_role("region", name="Rooms at most risk").get_by_role("link").first.click()
    assert "/rooms/" in page.url
