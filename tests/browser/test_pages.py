"""The way through intake and planning in a real browser, on the demo campus, with the site and its worker as processes."""

import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from tests.browser.conftest import WIDTHS, shoot
from tests.browser.test_site_browser import focused, follow, judged_in_both_schemes, overflows, reach
from tests.browser.walks import Walk

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_MS = 90_000
Visit = Callable[..., Page]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Return the environment of a copy of the product that has nothing but its own files."""
    outside = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "BROKER_URL"}}
    return {**outside, "CHANGEOVER_HOME": str(tmp_path_factory.mktemp("home")), "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}


def manage(home: dict[str, str], *words: str) -> str:
    command = [sys.executable, "manage.py", *words]
    return subprocess.run(command, cwd=ROOT, env=home, check=True, capture_output=True, text=True).stdout


@pytest.fixture(scope="module")
def passwords(home: dict[str, str]) -> dict[str, str]:
    """Make the demo campus with one plan; return the passwords that it prints."""
    said = manage(home, "demo", "--no-serve", "--untouched", "--seconds", "1")
    return dict(re.findall(r"(?m)^  (\w+) +(\S+)$", said))


@pytest.fixture(scope="module")
def site(home: dict[str, str], passwords: dict[str, str]) -> Iterator[str]:
    """Run the site with one worker; return its address."""
    assert passwords
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "manage.py", "serve", "--port", str(port), "--workers", "1"]
    process = subprocess.Popen(command, cwd=ROOT, env=home, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    until = time.monotonic() + PATIENCE_MS / 1000
    while not _answers(address) and time.monotonic() < until:
        time.sleep(0.2)
    yield address
    process.terminate()
    process.wait(30)


def _answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(f"{address}/sign-in/", timeout=5) as answer:  # noqa: S310 - our own address
            return bool(answer.status == 200)
    except urllib.error.URLError:
        return False


@pytest.fixture
def visit(browser: Browser, site: str, passwords: dict[str, str]) -> Iterator[Visit]:
    """Return a function that signs in as a role at a width; no request may leave the site, no script may complain."""
    contexts: list[BrowserContext] = []
    strayed: list[str] = []

    def stray(request: Request) -> None:
        if not request.url.startswith((site, "data:")):
            strayed.append(request.url)

    def visited(role: str, width: str = "desk", **options: Any) -> Page:
        viewport = {"width": WIDTHS[width], "height": 800}
        context = browser.new_context(viewport=viewport, base_url=site, **options)
        contexts.append(context)
        context.on("request", stray)
        page = context.new_page()
        page.on("console", lambda said: strayed.append(said.text) if "Content Security" in said.text else None)
        page.on("pageerror", lambda error: strayed.append(str(error)))
        page.goto("/sign-in/")
        page.get_by_label("Name").fill(role)
        page.get_by_label("Password").fill(passwords[role])
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Campus")
        return page

    yield visited
    for context in contexts:
        context.close()
    assert strayed == []


@pytest.fixture(scope="module")
def workbooks(
    home: dict[str, str], passwords: dict[str, str], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    """Return the campus with one room renamed and one failure left out, and the same with a model that does not exist."""
    assert passwords
    folder = tmp_path_factory.mktemp("books")
    manage(home, "blank", str(folder / "changed.xlsx"), "--filled")
    book = openpyxl.load_workbook(folder / "changed.xlsx")
    put(book["Rooms"], "Name", "Tide room")
    book["Failures"].delete_rows(2)
    book.save(folder / "changed.xlsx")
    put(book["Nodes"], "Model", "NO-SUCH")
    book.save(folder / "wrong.xlsx")
    return {name: folder / f"{name}.xlsx" for name in ("changed", "wrong")}


def put(sheet: Any, heading: str, value: str) -> None:
    sheet.cell(2, [cell.value for cell in sheet[1]].index(heading) + 1).value = value


def checked(page: Page, name: str) -> None:
    """Look at the page as it stands: a picture to keep, nothing that axe minds, no scrolling sideways."""
    shoot(page, name)
    assert judged_in_both_schemes(page) == [], name
    assert not overflows(page), name


def look_at(page: Page, workbook: Path) -> None:
    page.goto("/intake/")
    page.locator("#id_workbook").set_input_files(workbook)
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("heading", level=2, name="Problems")).to_be_visible(timeout=PATIENCE_MS)


PAGES = {
    "segments": "/segments/",
    "segment-in-place": "/segments/?verdict=in+place",
    "plans": "/plans/",
    "brief": "/plans/brief/",
    "plan": "/plans/1/",
    "order": "/orders/1/",
}


@pytest.mark.parametrize("width", WIDTHS)
def test_pages_of_the_demo_have_no_violation_and_do_not_scroll_sideways(visit: Visit, width: str) -> None:
    page = visit("planning", width)
    for name, address in PAGES.items():
        page.goto(address)
        checked(page, f"demo-{name}-{width}")
    for verdict in ("in place", "together", "clear first", "new cable", "other method", "survey first", "leave"):
        page.goto(f"/segments/?verdict={verdict.replace(' ', '+')}")
        page.locator("tbody th a").first.click()
        expect(page.locator(".stamp")).to_have_text(verdict)
        checked(page, f"demo-segment-{verdict.replace(' ', '-')}-{width}")


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_a_workbook_is_looked_at_refused_mended_and_taken_in(
    visit: Visit, workbooks: dict[str, Path], width: str
) -> None:
    page = visit("facilities", width)
    look_at(page, workbooks["wrong"])
    expect(page.get_by_text("Nothing is stored until they are mended")).to_be_visible()
    expect(page.get_by_role("button", name="Take it in")).to_have_count(0)
    checked(page, f"intake-wrong-{width}")
    with page.expect_download() as marked:
        page.get_by_role("link", name="The workbook with each of these cells marked").click()
    assert openpyxl.load_workbook(BytesIO(marked.value.path().read_bytes())).sheetnames
    look_at(page, workbooks["changed"])
    checked(page, f"intake-preview-{width}")
    page.get_by_role("button", name="Take it in").dblclick()
    expect(page.get_by_text("The campus has been assessed anew")).to_be_visible(timeout=PATIENCE_MS)
    checked(page, f"intake-taken-{width}")
    page.go_back()
    expect(page.get_by_role("link", name="see what came of it")).to_be_visible()
    expect(page.get_by_role("button", name="Take it in")).to_have_count(0)


def test_the_day_of_a_planner_goes_by_keyboard_from_the_brief_to_the_packs_of_a_phase(
    site: str, browser: Browser, passwords: dict[str, str]
) -> None:
    context = browser.new_context(viewport={"width": WIDTHS["desk"], "height": 800}, base_url=site)
    day = Walk(context.new_page(), "planning", passwords["planning"])
    page = day.page
    day.follow("Plans", "Plans", "plans")
    day.follow("Write a brief and plan", "Brief", "brief")
    day.fill("#id_name", "By keyboard")
    day.fill("#id_seconds", "0")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Say for how many seconds, 1 to 600.")).to_be_visible()
    assert page.locator("#id_name").input_value() == "By keyboard"
    day.fill("#id_seconds", "2")
    day.press("Enter", "Making a plan")
    expect(page.get_by_role("link", name="See the plan")).to_be_visible(timeout=PATIENCE_MS)
    day.met("plan-made")
    day.follow("See the plan", "By keyboard", "plan")
    expect(page.get_by_role("heading", name="Night by night")).to_be_visible()
    number = page.url.split("#")[0].rstrip("/").rsplit("/", 1)[1]
    first = page.get_by_role("region", name="Orders by night").locator("a.key, td a").first.inner_text()
    phase = page.locator("#hand-over + dl a").first.inner_text()
    day.push("Adopt this plan")
    expect(page.get_by_text("Adopted").first).to_be_visible()
    day.follow(first, first, "order")
    day.follow("Move it or put it off", "Move", "move")
    page.go_back()
    day.follow("Plans", "Plans")
    day.follow(f"By keyboard, no. {number}", "By keyboard")
    day.follow(phase, "Work packs", "packs")
    page.go_back()
    day.follow("Notices to hang up at the doors", "Notices", "notices")
    page.go_back()
    day.follow("Addresses by building and by crew", "Calendars by address")
    day.push("Open it")
    day.told("is open")
    day.met("calendars")
    context.close()


def choose(page: Page, path: Path) -> None:
    """Open the dialogue of the file field that has the focus, and choose; a busy browser may want the key again."""
    for key in ("Space", "Enter", "Space"):
        with suppress(PlaywrightTimeout), page.expect_file_chooser(timeout=8000) as chooser:
            page.keyboard.press(key)
            chooser.value.set_files(path)
            return
    pytest.fail("the file field opens no dialogue by keyboard")


def test_a_workbook_goes_up_by_keyboard(visit: Visit, workbooks: dict[str, Path]) -> None:
    page = visit("facilities")
    follow(page, "Intake")
    reach(page, "#id_workbook")
    choose(page, workbooks["changed"])
    reach(page, "button.main")
    assert focused(page, "e => e.textContent") == "Look at it"
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=2, name="Problems")).to_be_visible(timeout=PATIENCE_MS)


def test_hand_over_files_come_without_any_script(visit: Visit) -> None:
    page = visit("planning", java_script_enabled=False)
    page.goto("/plans/1/")
    page.get_by_role("button", name="Make the hand-over files").click()
    again, files_made = page.get_by_role("link", name="Look again"), page.get_by_role("link", name="Download the files")
    until = time.monotonic() + PATIENCE_MS / 1000
    expect(again.or_(files_made)).to_be_visible(timeout=PATIENCE_MS)  # the plan's own page has neither
    while again.is_visible() and time.monotonic() < until:
        again.click()
        expect(again.or_(files_made)).to_be_visible(timeout=PATIENCE_MS)
    with page.expect_download() as files:
        files_made.click()
    assert files.value.suggested_filename == "changeover-plan-1.zip"


def test_print_leaves_out_what_only_a_screen_can_do(visit: Visit) -> None:
    page = visit("planning", "phone")
    page.emulate_media(media="print")
    for name, address in PAGES.items():
        page.goto(address)
        expect(page.locator(".topline")).to_be_hidden()
        expect(page.locator(".titleblock, .packblock").locator("visible=true").first).to_be_visible()
        shoot(page, f"print-{name}")
    page.goto("/plans/1/")
    expect(page.get_by_role("columnheader", name="Night of")).to_be_visible()


def test_the_survey_goes_out_as_a_workbook_comes_back_and_settles_a_segment(visit: Visit, tmp_path: Path) -> None:
    page, path = visit("facilities"), tmp_path / "survey.xlsx"
    page.goto("/segments/survey/")
    asked = page.get_by_role("row").filter(has_text=re.compile(r"Cable of run \S+")).last
    segment = asked.locator("[data-label=Segments] a").first.inner_text()
    question = asked.get_by_role("rowheader").inner_text()
    with page.expect_download() as out:
        page.get_by_role("link", name="Workbook to fill in").click()
    out.value.save_as(path)
    book = openpyxl.load_workbook(path)
    runs = book["Runs"]
    key, cable = ([cell.value for cell in runs[1]].index(name) for name in ("Run", "Cable"))
    row = next(row for row in runs.iter_rows(min_row=2) if f"run {row[key].value} " in question)
    assert row[cable].value is None
    row[cable].value = "2x2x18"
    book.save(path)
    look_at(page, path)
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_text("The campus has been assessed anew")).to_be_visible(timeout=PATIENCE_MS)
    page.goto(f"/segments/of/{segment}/")
    expect(page.locator(".stamp").first).to_have_text(re.compile("in place|together"))
    page.goto("/segments/survey/")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    expect(page.get_by_text(question)).to_have_count(0)


def test_the_survey_prints_one_sheet_of_paper_a_floor_with_room_for_each_answer(visit: Visit) -> None:
    page = visit("facilities")
    page.goto("/segments/survey/")
    page.get_by_role("link", name="Sheets to print").click()
    sheets = page.locator("article.paper")
    expect(sheets.first).to_be_visible()
    for width in WIDTHS.values():
        page.set_viewport_size({"width": width, "height": 800})
        checked(page, f"demo-survey-sheets-{width}")
    page.emulate_media(media="print")
    for sheet in sheets.all():
        expect(sheet.get_by_label("Caution")).to_be_visible()
        expect(sheet.get_by_role("rowheader", name="Surveyed by")).to_be_visible()
        breaks = sheet.evaluate("e => getComputedStyle(e).breakBefore")
        assert breaks == ("auto" if sheet.evaluate("e => !e.previousElementSibling.matches('.paper')") else "page")
        for box in sheet.locator("td.answer").all():
            drawn = box.bounding_box()
            assert drawn is not None
            assert drawn["height"] >= 50  # 14 mm at 96 pixels an inch: three lines of handwriting
    shoot(page, "print-survey-sheets")
    for paper in ("A4", "Letter"):
        printed = page.pdf(format=paper)
        assert printed.count(b"/Type /Page\n") >= sheets.count()


def minutes_later(page: Page, minutes: int) -> None:
    """Move the start in the form of a move by some minutes, over midnight too."""
    day, clock = page.get_by_label("Date of the start"), page.get_by_label("Time of the start")
    shown = f"{day.input_value()} {clock.input_value()}"
    start = datetime.strptime(shown, "%d %b %Y %H:%M") + timedelta(minutes=minutes)  # noqa: DTZ007 - the building's own
    day.fill(f"{start:%d %b %Y}")
    clock.fill(f"{start:%H:%M}")


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_a_planner_moves_an_order_copies_a_brief_compares_and_adopts(visit: Visit, width: str) -> None:
    page = visit("planning", width)
    page.goto("/plans/1/")
    order = page.get_by_role("region", name="Orders by night").locator("td a").last
    key = order.inner_text()
    order.click()
    page.get_by_role("link", name="Move it or put it off").click()
    # twelve hours later it is day, and in no window of the order
    minutes_later(page, 12 * 60)
    page.get_by_role("button", name="Look what it breaks").click()
    expect(page.get_by_text("Rule 1, each order lies inside one window of its own")).to_be_visible()
    checked(page, f"move-breaks-{width}")
    minutes_later(page, 5 - 12 * 60)
    page.get_by_role("button", name="Look what it breaks").click()
    expect(page.get_by_text("Nothing: all nine rules hold.")).to_be_visible()
    page.get_by_role("button", name="Keep it as a new version of the plan").dblclick()
    expect(page.get_by_text("plan 1 stays as it was")).to_be_visible()
    moved = page.url.rstrip("/").rsplit("/", 1)[1]
    checked(page, f"move-kept-{width}")
    page.goto(f"/plans/{moved}/orders/")
    expect(page.get_by_role("link", name=key, exact=True)).to_be_visible()

    page.goto("/plans/")
    page.get_by_role("link", name=re.compile("^Copy ")).first.click()
    page.get_by_role("button", name="Copy it").click()
    expect(page.get_by_text("Give the copy a name")).to_be_visible()
    page.get_by_label("Name of the copy").fill(f"More hands {width}")
    page.get_by_role("button", name="Copy it").click()
    expect(page.get_by_text(f"More hands {width} stands beside")).to_be_visible()
    crew = page.get_by_role("group").filter(has=page.get_by_label("People")).first
    people = crew.get_by_label("People")
    people.fill(str(int(people.input_value()) + 1))
    page.get_by_role("button", name="Keep all of this page").first.click()
    expect(page.get_by_text(f"Crews, phases and closures of More hands {width} are kept")).to_be_visible()
    checked(page, f"scenario-{width}")
    page.get_by_role("link", name="Settings, and plan by it").click()
    page.locator("#id_seconds").fill("2")
    page.get_by_role("button", name="Keep the brief and plan").click()
    page.get_by_role("link", name="See the plan").click(timeout=PATIENCE_MS)
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"More hands {width}")
    made = page.url.split("#")[0].rstrip("/").rsplit("/", 1)[1]

    page.goto("/plans/")
    for number in ("1", made):
        page.get_by_label(f"Compare no. {number}", exact=True).check()
    page.get_by_role("button", name="Compare the plans chosen").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Plans side by side")
    expect(page.get_by_role("row").filter(has_text="Orders dated")).to_contain_text(" of ")
    checked(page, f"compare-{width}")

    page.goto(f"/plans/{made}/")
    page.get_by_role("button", name="Adopt this plan").dblclick()
    expect(page.locator("p.success").filter(has_text="Adopted")).to_have_count(1)
    checked(page, f"adopted-{width}")
    page.goto(f"/plans/{moved}/")
    expect(page.get_by_text("Not adopted: a plan changes nothing until it is.")).to_be_visible()
