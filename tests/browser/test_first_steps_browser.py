"""The first five minutes in a real browser: from an empty campus and the blank workbook to the first verdicts."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from inventory.models import Node
from planner.models import Job, Segment
from planner.services import jobs
from planner.services.assess import silent
from planner.tasks import WORK
from tests import site_campus
from tests.browser.conftest import shoot
from tests.browser.test_site_browser import judged, overflows

pytestmark = pytest.mark.browser

Opened = Callable[..., Page]
Filled = dict[str, list[dict[str, Any]]]

# what a person writes first: one building, one kind of station, two lines, of which one was never measured
CAMPUS: Filled = {
    "Buildings": [{"Building": "B1", "Name": "Weir House", "Time zone": "Europe/Lisbon"}],
    "Rooms": [{"Building": "B1", "Room": "101"}, {"Building": "B1", "Room": "102"}],
    "Protocols": [
        {"Protocol": "MILLNET", "Layout": "any", "Power on bus": "no"},
        {"Protocol": "HALLBUS", "Bit rate (kbit/s)": 9.6, "Layout": "any", "Total wire (m)": 2000, "Most nodes": 32,
         "Ends": 0, "Power on bus": "yes"},
        {"Protocol": "NEWPAIR", "Bit rate (kbit/s)": 125, "Layout": "line", "Longest bus (m)": 500, "Longest stub (m)": 22,
         "All stubs (m)": 110, "Most nodes": 64, "Ends": 2, "End resistance (ohm)": 120, "Lowest impedance (ohm)": 95,
         "Highest impedance (ohm)": 140, "Power on bus": "yes"},
    ],
    "Cables": [
        {"Cable": "2x2 18AWG", "Power conductor": "18 AWG", "Power pairs": 1, "Conductor class": "stranded", "Data pairs": 1,
         "Impedance (ohm)": 120},
        {"Cable": "Cat 6 patch", "Power conductor": "24 AWG", "Power pairs": 2, "Conductor class": "stranded",
         "Data pairs": 1, "Impedance (ohm)": 100},
    ],
    "Models": [
        {"Model": "WS-10", "Kind": "station", "Protocol": "HALLBUS", "Draw (W)": 1.8, "Lowest supply (V)": 9, "Zones": 8,
         "Scenes": 8, "Box gangs": 2, "Ends its bus": "no", "Unit loads": 1},
        {"Model": "WS-70", "Kind": "station", "Protocol": "NEWPAIR", "Draw (W)": 3, "Lowest supply (V)": 12, "Zones": 8,
         "Scenes": 16, "Box gangs": 2, "Ends its bus": "switch", "Unit loads": 0.25},
        {"Model": "GW-2", "Kind": "gateway", "Protocol": "HALLBUS", "Protocol 2": "MILLNET", "Supply (V)": 24, "Supply rating (W)": 60,
         "Ends its bus": "no", "Unit loads": 1},
        {"Model": "GW-7", "Kind": "gateway", "Protocol": "NEWPAIR", "Protocol 2": "MILLNET", "Supply (V)": 24, "Supply rating (W)": 60,
         "Ends its bus": "yes", "Unit loads": 1},
    ],
    "Buses": [
        {"Bus": "L1", "Building": "B1", "Protocol": "HALLBUS"},
        {"Bus": "L2", "Building": "B1", "Protocol": "HALLBUS"},
        {"Bus": "M1", "Building": "B1", "Protocol": "MILLNET"},
    ],
    "Nodes": [
        {"Node": "G1", "Building": "B1", "Model": "GW-2", "Bus": "L1", "Bus 2": "M1"},
        {"Node": "G2", "Building": "B1", "Model": "GW-2", "Bus": "L2", "Bus 2": "M1"},
        {"Node": "S1", "Building": "B1", "Room": "101", "Model": "WS-10", "Bus": "L1", "Zones used": 6, "Scenes used": 4,
         "Box gangs": 2, "Installed": date(2004, 9, 1)},
        {"Node": "S2", "Building": "B1", "Room": "102", "Model": "WS-10", "Bus": "L2", "Zones used": 6, "Scenes used": 4,
         "Box gangs": 2},
    ],
    "Runs": [
        {"Run": "R0", "Bus": "M1", "From": "G1", "To": "G2", "Cable": "Cat 6 patch", "Length (m)": 30},
        {"Run": "R1", "Bus": "L1", "From": "G1", "To": "S1", "Cable": "2x2 18AWG", "Length (m)": 40},
        {"Run": "R2", "Bus": "L2", "From": "G2", "To": "S2", "Cable": "2x2 18AWG"},
    ],
    "Methods": [
        {"Method": "M-1", "Old model": "WS-10", "New model": "WS-70", "New protocol": "NEWPAIR", "Bit rate (kbit/s)": 125,
         "Old gateway model": "GW-2", "New gateway model": "GW-7", "Patch cable": "Cat 6 patch", "Patch lead (m)": 1},
    ],
}  # fmt: skip


@pytest.fixture
def people(transactional_db: None) -> dict[str, User]:
    """Return the people of a campus of which nothing is on record."""
    return site_campus.people()


def fill(path: Path, campus: Filled) -> None:
    """Write rows under the headings of the blank workbook, as a person does; a heading that is not there is a fault."""
    book = openpyxl.load_workbook(path)
    for title, rows in campus.items():
        headings = [cell.value for cell in book[title][1]]
        for number, row in enumerate(rows, start=2):
            for heading, value in row.items():
                book[title].cell(number, headings.index(heading) + 1).value = value
    book.save(path)


def work() -> None:
    """Do what is queued, as a worker does."""
    for pk in Job.objects.filter(state="queued").order_by("pk").values_list("pk", flat=True):
        job = jobs.claim(pk)
        assert job
        jobs.finish(job, WORK[job.kind](job, silent))


def look_at(page: Page, path: Path) -> None:
    page.locator("#id_workbook").set_input_files(path)
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("waiting for a worker")).to_be_visible()
    work()


def looked(page: Page, name: str) -> None:
    shoot(page, name)
    assert judged(page) == []
    assert not overflows(page)


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_three_steps_lead_from_the_blank_workbook_to_the_first_verdicts(
    open_site: Opened, width: str, tmp_path: Path
) -> None:
    page, path = open_site("facilities", width), tmp_path / "campus.xlsx"
    expect(page.get_by_text("Nothing has been judged here yet.")).to_be_visible()
    looked(page, f"first-steps-{width}")
    with page.expect_download() as blank:
        page.get_by_role("link", name="The blank workbook").click()
    blank.value.save_as(path)
    slip = {**CAMPUS, "Runs": [*CAMPUS["Runs"][:1], {**CAMPUS["Runs"][1], "To": "S9"}, *CAMPUS["Runs"][2:]]}
    fill(path, slip)
    page.get_by_role("link", name="Take in a workbook").click()
    look_at(page, path)
    expect(page.get_by_text("Nothing is stored until they are mended")).to_be_visible()
    expect(page.locator("li.bad")).to_contain_text("To S9")
    looked(page, f"first-steps-slip-{width}")
    fill(path, CAMPUS)
    page.get_by_role("link", name="Intake", exact=True).first.click()
    look_at(page, path)
    expect(page.get_by_text("This workbook can be taken in.")).to_be_visible()
    expect(page.get_by_role("heading", name="New rows")).to_be_visible()
    looked(page, f"first-steps-look-{width}")
    assert not Node.objects.exists()
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_text("waiting for a worker")).to_be_visible()
    work()
    page.get_by_role("link", name="see the verdicts").click()
    verdicts = dict(Segment.objects.values_list("key", "verdict"))
    assert (verdicts["L1"], verdicts["L2"]) == ("in place", "survey first"), verdicts
    expect(page.get_by_role("row").filter(has_text="L1").first).to_contain_text("in place")
    looked(page, f"first-steps-verdicts-{width}")
    page.get_by_role("link", name="Campus", exact=True).first.click()
    expect(page.get_by_text("Nothing has been judged here yet.")).to_have_count(0)
    looked(page, f"first-steps-campus-{width}")


def test_whoever_may_not_take_in_is_told_who_does(open_site: Opened) -> None:
    page = open_site("reader")
    expect(page.get_by_text("Facilities take workbooks in.")).to_be_visible()
    expect(page.get_by_role("link", name="Take in a workbook")).to_have_count(0)
