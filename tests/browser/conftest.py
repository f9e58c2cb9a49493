"""A real browser against the running site; Chromium must be there where CI is set, and its absence is loud elsewhere."""

import os
import shutil
from base64 import b64decode
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    Response,
    expect,
    sync_playwright,
)

from tests.site_campus import PASSWORD, whole_campus

SHOTS = Path(__file__).parent / "shots"
ARGUMENTS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WIDTHS = {"desk": 1280, "phone": 360}
expect.set_options(timeout=20_000)  # what is there at once costs nothing; a busy machine is no fault of the page


TOO_SLOW = r"playwright\._impl\._errors\.TimeoutError|Locator expected|Page expected"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Try a browser test once more where the page did not come in time: a busy machine is no fault of the page.

    Only waiting is forgiven; what axe, a wrong figure or a wrong word fails, fails at once. Reruns are told in the summary.
    """
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.flaky(reruns=1, only_rerun=[TOO_SLOW]))


@pytest.fixture(scope="session")
def chromium() -> str:
    """Return where Chromium is; without it these tests are skipped, but never in CI."""
    path = shutil.which("chromium")
    if path is None and os.environ.get("CI"):
        pytest.fail("Chromium is not installed, and CI must not pass without the browser tests.")
    if path is None:
        pytest.skip("NOT TESTED IN A BROWSER: Chromium is not installed (Debian: apt-get install chromium).")
    return path


@pytest.fixture(scope="session", autouse=True)
def _django_beside_a_browser() -> Iterator[None]:
    """Let Django work although the browser's own event loop runs in this thread."""
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    yield
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=chromium, args=list(ARGUMENTS))
        yield running
        running.close()


@pytest.fixture
def people(transactional_db: None) -> dict[str, User]:
    """Return the people of the invented campus, which is built afresh for each test."""
    return whole_campus()


Opened = Callable[..., Page]


@pytest.fixture
def open_site(browser: Browser, live_server: Any, people: dict[str, User]) -> Iterator[Opened]:
    """Return a function that opens the site at a width as someone, and fails if a request leaves the site."""
    contexts: list[BrowserContext] = []
    strayed: list[str] = []

    def watch(request: Request) -> None:
        if not request.url.startswith((live_server.url, "data:")):
            strayed.append(request.url)

    def opened(role: str = "super", width: str = "desk", **options: Any) -> Page:
        context = browser.new_context(
            viewport={"width": WIDTHS[width], "height": 800}, base_url=live_server.url, **options
        )
        contexts.append(context)
        context.on("request", watch)
        context.on("response", lambda answer: strayed.append(answer.url) if _is_missing_part(answer) else None)
        page = context.new_page()
        page.on("console", lambda message: strayed.append(message.text) if _is_fault(message) else None)
        if role:
            sign_in(page, role)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert strayed == []


def _is_missing_part(answer: Response) -> bool:
    """Tell whether a style, script or picture of a page is not there; being asked to sign in, or refused, is no fault."""
    return answer.status >= 400 and answer.status not in {401, 403} and answer.request.resource_type != "document"


def _is_fault(message: ConsoleMessage) -> bool:
    """Tell whether the browser complains: of the policy, of a script; not of a page that is meant to be refused."""
    return message.type == "error" and not message.text.startswith("Failed to load resource")


def sign_in(page: Page, role: str) -> None:
    """Sign in by the form, as people do."""
    page.goto("/sign-in/")
    page.get_by_label("Name").fill(role)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def shoot(page: Page, name: str) -> None:
    """Keep a picture of the whole page, to look at, where SHOTS is set: nothing is checked by them, and each costs time.

    The browser is asked for the same pixels packed in haste: Playwright's own picture takes twice as long.
    """
    if not os.environ.get("SHOTS"):
        return
    SHOTS.mkdir(exist_ok=True)
    width, height = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]")
    whole = {"x": 0, "y": 0, "width": width, "height": height, "scale": 1}
    protocol = page.context.new_cdp_session(page)
    taken = protocol.send(
        "Page.captureScreenshot", {"clip": whole, "captureBeyondViewport": True, "optimizeForSpeed": True}
    )
    protocol.detach()
    (SHOTS / f"{name}.png").write_bytes(b64decode(taken["data"]))
