"""What every walk does: goes by keyboard alone, and looks at each page met at both widths, in light, dark and print."""

from pathlib import Path

from django.db import connection
from playwright.sync_api import Page, expect

from tests.browser.conftest import WIDTHS, shoot
from tests.browser.test_site_browser import COLOURS, RULES, focused, judged, overflows

LOOKS = (  # width, scheme, and what axe asks: in the dark the colours alone differ; the walk goes on as it ends
    ("phone", "light", RULES),
    ("phone", "dark", COLOURS),
    ("desk", "dark", COLOURS),
    ("desk", "light", RULES),
)
MOST_TABS = 400
BLACK = "rgb(0, 0, 0)"


class Walk:
    """One person's day from sign-in on; no mouse, no address typed."""

    def __init__(self, page: Page, person: str, password: str) -> None:
        self.page, self.person = page, person
        page.goto("/")
        self.met("sign-in")
        page.keyboard.type(person)
        page.keyboard.press("Tab")
        page.keyboard.type(password)
        self.press("Enter", "Campus")
        self.met("campus")

    def met(self, name: str) -> None:
        """Look at the page as it stands; on one database, since how it looks hangs on none."""
        if connection.vendor != "sqlite":
            return
        page, shown = self.page, f"walk-{self.person}-{name}"
        for width, scheme, rules in LOOKS:
            page.set_viewport_size({"width": WIDTHS[width], "height": 800})
            page.emulate_media(media="screen", color_scheme=scheme)  # type: ignore[arg-type]
            found = judged(page, rules)
            assert found == [], (name, width, scheme, found)
            assert not overflows(page), (name, width)
            shoot(page, f"{shown}-{width}-{scheme}")
        page.emulate_media(media="print", color_scheme="dark")
        expect(page.locator(".topline")).to_be_hidden()
        expect(page.locator(".titleblock, .packblock").locator("visible=true").first).to_be_visible()
        assert page.evaluate("getComputedStyle(document.body).color") == BLACK, name
        assert not overflows(page), (name, "print")
        shoot(page, f"{shown}-print")
        page.emulate_media(media="screen", color_scheme="light")

    def tab(self, question: str, what: str) -> None:
        """Press Tab until the element with the focus answers the question (a function of JavaScript) with yes."""
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Tab")
            if focused(self.page, question):
                return
        raise AssertionError(f"no way to {what} by keyboard on {self.page.url}")

    def press(self, key: str, heading: str) -> None:
        """Press a key, and wait for the page with this heading."""
        self.page.keyboard.press(key)
        expect(self.page.get_by_role("heading", level=1)).to_contain_text(heading)

    def follow(self, words: str, heading: str, name: str = "") -> None:
        """Follow a link that says this to the page with that heading; with a name, look at it."""
        self.tab(
            f"e => e.tagName === 'A' && (e.textContent.trim() === {words!r} || e.ariaLabel === {words!r})",
            f"the link {words}",
        )
        self.press("Enter", heading)
        if name:
            self.met(name)

    def open(self, words: str) -> None:
        """Open what is folded under these words."""
        self.tab(f"e => e.tagName === 'SUMMARY' && e.textContent.trim() === {words!r}", f"what folds under {words}")
        self.page.keyboard.press("Enter")

    def fill(self, selector: str, text: str) -> None:
        """Go to a field and type in place of what is there."""
        self.tab(f"e => e.matches({selector!r})", selector)
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.type(text)

    def push(self, words: str) -> None:
        """Push a button that says this."""
        self.tab(f"e => e.tagName === 'BUTTON' && e.textContent.trim().startsWith({words!r})", f"the button {words}")
        self.page.keyboard.press("Enter")

    def told(self, words: str) -> None:
        """Wait for the page to say so."""
        expect(self.page.get_by_role("status").first).to_contain_text(words)

    def keep(self, words: str) -> Path:
        """Follow a link to a file, and return what came."""
        self.tab(f"e => e.tagName === 'A' && e.textContent.trim() === {words!r}", f"the link {words}")
        with self.page.expect_download() as coming:
            self.page.keyboard.press("Enter")
        return Path(coming.value.path())
