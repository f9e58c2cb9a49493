"""What fails next, and the spares along a plan, in a real browser: nothing that axe minds, no scrolling sideways."""

from collections.abc import Callable

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inventory.models import Node
from planner.models import Plan, StationRisk
from planner.services.ageing import reckon_risks
from tests.browser.conftest import shoot
from tests.browser.test_site_browser import judged, overflows
from tests.site_campus import wear

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]


@pytest.mark.parametrize("width", ["desk", "phone"])
@pytest.mark.parametrize("worn", ["worn", "new"])
def test_ageing_and_spares_have_no_violation(open_site: Opened, width: str, worn: str) -> None:
    page = open_site(width=width)
    if worn == "worn":
        wear()
        reckon_risks()
    spares = f"/plans/{Plan.objects.earliest('pk').pk}/spares/"
    for name, address in (
        ("ageing", "/ageing/"),
        ("ageing-estimated", "/ageing/?estimate=yes"),
        ("spares", spares),
        ("spares-made", f"{spares}?from=made"),
    ):
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


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_stations_show_age_support_and_risk_sort_by_it_and_the_ranking_is_taken_along(
    open_site: Opened, width: str
) -> None:
    page = open_site(width=width)
    wear()
    reckon_risks()
    page.goto("/ageing/")
    page.get_by_role("link", name="stations by risk", exact=True).click()
    schedule = page.get_by_role("table")
    for heading in ("Age (years)", "Service life left (years)", "Supported until", "Risk (weighted days)"):
        expect(schedule.get_by_role("columnheader", name=heading)).to_have_count(1)
    riskiest = StationRisk.objects.exclude(score=None).order_by("-score", "node__key").first()
    assert riskiest is not None
    expect(schedule.get_by_role("row").nth(1)).to_contain_text(riskiest.node.key)
    expect(schedule.get_by_role("row").nth(1)).to_contain_text(f"{riskiest.score:.2f}")
    shoot(page, f"stations-by-risk-{width}")
    with page.expect_download() as caught:
        page.get_by_role("link", name="CSV").click()
    lines = caught.value.path().read_text(encoding="utf-8-sig").splitlines()
    assert "Risk (weighted days)" in lines[0]
    assert len(lines) == 1 + Node.objects.filter(model__kind="station").count()
    scores = [float(line.rsplit(",", 1)[1]) for line in lines[1:] if line.rsplit(",", 1)[1]]
    assert scores == sorted(scores, reverse=True)
    assert len(scores) == StationRisk.objects.exclude(score=None).count()


def test_a_floor_of_the_map_leads_to_its_stations(open_site: Opened) -> None:
    page = open_site()
    wear()
    reckon_risks()
    page.goto("/ageing/")
    page.get_by_role("link", name="B1 floor 0:").click()
    assert "building=B1" in page.url
    assert "floor=0" in page.url
    there = Node.objects.filter(building__key="B1", room__floor="0", model__kind="station").count()
    expect(page.get_by_text(f"{there} stations", exact=False).first).to_be_visible()


def test_a_failure_is_on_record_after_two_taps_on_a_phone_and_stands_in_the_history(open_site: Opened) -> None:
    page = open_site(role="facilities", width="phone", has_touch=True)
    wear()
    reckon_risks()
    node = Node.objects.filter(model__key="WS-20", installed__lt=timezone.localdate()).earliest("key")
    page.goto(f"/stations/{node.pk}/")
    page.get_by_text("Report a failure").tap()
    page.get_by_role("button", name="Put it on record").tap()
    expect(page.get_by_text(f"The failure of {node.key} is on record.")).to_be_visible()
    assert node.failures.get().date == timezone.localdate()
    for heading in ("Risk", "Failures", "Facts"):
        expect(page.get_by_role("heading", name=heading, exact=True)).to_be_visible()
    for fact in ("Age", "Service life left", "Supported until", "Last sold", "Condition"):
        expect(page.get_by_role("rowheader", name=fact, exact=True)).to_be_visible()
    assert judged(page) == []
    assert not overflows(page)
    shoot(page, "station-failed-phone")
