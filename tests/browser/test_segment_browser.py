"""The page of a segment in a real browser: drawings of every shape, figures entered on a phone, paper."""

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from inventory.models import Method, Reading
from planner.services.assess import assess_campus
from tests.browser.conftest import Opened, shoot
from tests.browser.test_site_browser import judged, overflows
from tests.campus_catalogue import catalogue
from tests.campus_tables import store
from tests.campuses import Draft, add_line, add_station
from tests.site_campus import people as staff

pytestmark = pytest.mark.browser

MOST_BYTES = 100_000
SEGMENTS = {
    "line": "L1",
    "tree": "L2",
    "ring": "L3",
    "long line": "L4",
    "bush": "L5",
    "large ring": "L6",
    "too large": "L7",
}
PINS = (
    ("CAN_H", "data pair, white", 1),
    ("CAN_L", "data pair, blue", 2),
    ("V-", "power pair, black", 7),
    ("V+", "power pair, red", 8),
)  # CiA 303-1 lands power on 7 and 8
Wire = Callable[[int], int]

# Which texts of one drawing stand on one another as the browser draws them, or are cut off; boxes of letters may touch.
CLASHES = """svg => {
  const page = svg.getBoundingClientRect();
  const solid = [...svg.querySelectorAll('text')].map(e => [e.textContent, e.getBoundingClientRect()]);
  const out = solid.filter(([, b]) => b.left < page.left - .5 || b.right > page.right + .5 || b.top < page.top - .5 || b.bottom > page.bottom + .5);
  const found = out.map(([t]) => [t, 'is cut off']);
  solid.forEach(([one, a], i) => solid.slice(i + 1).forEach(([two, b]) => {
    const w = Math.min(a.right, b.right) - Math.max(a.left, b.left), h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (w > .5 && h > 2.5) found.push([one, two]);
  }));
  return found;
}"""


def wired(draft: Draft, line: str, count: int, origin: Wire, *, ring: bool = False) -> None:
    """Add a line of stations, each reached from the gateway (0) or an earlier station."""
    keys = {0: add_line(draft, line)}
    for number in range(1, count + 1):
        keys[number] = f"{line}-S{number:03d}"
        add_station(draft, line, keys[number], keys[origin(number)], length_m=2.5 + number % 7)
    if ring:
        draft.run(f"{line}-R", line, (keys[count], keys[0]), cable="2x2 18AWG", length_m=4.5)


def campus() -> Draft:
    draft = Draft(catalogue=catalogue())
    draft.building("B1")
    draft.bus("B1-N0", "B1", "CAMPUSNET")
    draft.node("B1-C1", "CT-1", "B1-N0", building="B1")
    wired(draft, "L1", 3, lambda n: n - 1)
    wired(draft, "L2", 4, lambda n: {1: 0, 2: 1, 3: 1, 4: 3}[n])
    wired(draft, "L3", 4, lambda n: n - 1, ring=True)
    wired(draft, "L4", 59, lambda n: n - 1)
    wired(draft, "L5", 59, lambda n: n // 2)
    wired(draft, "L6", 59, lambda n: n - 1, ring=True)
    wired(draft, "L7", 80, lambda n: n - 1)
    rooms = {(building, room.key): (building, room) for building, room in draft.rooms}
    draft.rooms = list(rooms.values())
    return draft


@pytest.fixture
def people(transactional_db: None) -> dict[str, User]:
    """Store and assess a campus with a segment of each shape, small and as large as is drawn; return its people."""
    snapshot = campus().snapshot()
    store(snapshot)
    for method in Method.objects.order_by("key"):
        for signal, conductor, pin in PINS:
            method.pins.create(signal=signal, old_conductor=conductor, terminal=str(pin), rj45_pin=pin)
    made = staff()
    assess_campus(by=None)
    return made


def drawn(page: Page, key: str) -> None:
    """Go to the drawings: on the page of the segment, or by its link where they have their own."""
    seen(page, key)
    link = page.get_by_role("link", name="Drawings, before")
    if link.count():
        link.click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("Drawings of segment")


def seen(page: Page, key: str) -> None:
    page.goto(f"/segments/of/{key}/")
    expect(page.get_by_role("heading", level=1)).to_contain_text(key)


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_segments_of_every_shape_are_drawn_with_nothing_on_anything(open_site: Opened, width: str) -> None:
    page = open_site("reader", width=width)
    for shape, key in SEGMENTS.items():
        drawn(page, key)
        drawings = page.locator("svg.drawing[role=img]")
        expect(drawings.first).to_be_visible()
        for drawing in drawings.all():
            assert drawing.evaluate(CLASHES) == [], shape
        assert not overflows(page), shape


@pytest.mark.parametrize(("width", "scheme"), [("desk", "light"), ("phone", "dark")])
def test_the_page_of_a_line_a_tree_and_a_ring_is_sound_and_light(open_site: Opened, width: str, scheme: str) -> None:
    page = open_site("crew", width=width, color_scheme=scheme)
    for shape in ("line", "tree", "ring", "too large"):
        drawn(page, SEGMENTS[shape])
        assert judged(page) == [], shape
        shoot(page, f"segment-{shape.replace(' ', '-')}-{width}-{scheme}")


def test_no_page_of_a_segment_that_is_drawn_is_heavy(open_site: Opened) -> None:
    page = open_site("crew")
    for shape, key in SEGMENTS.items():
        for address in (f"/segments/of/{key}/", f"/segments/of/{key}/drawing/"):
            answer = page.request.get(address)
            assert answer.ok
            assert len(answer.body()) < MOST_BYTES, (shape, address)


def test_both_drawings_say_what_goes_and_what_comes_to_those_who_hear_them(open_site: Opened) -> None:
    page = open_site("reader")
    seen(page, SEGMENTS["line"])
    expect(page.get_by_role("img", name="Segment L1 before, as recorded")).to_be_visible()
    after = page.get_by_role("img", name="Segment L1 after the change")
    expect(after).to_be_visible()
    expect(after.get_by_text("WS-70 put in for WS-20")).to_have_count(3)
    expect(page.get_by_role("region", name="The drawings as a table").get_by_role("row")).to_have_count(5)


def test_on_paper_no_drawing_is_cut_by_the_end_of_a_page(open_site: Opened) -> None:
    page = open_site("reader", width="desk")
    drawn(page, SEGMENTS["long line"])
    page.emulate_media(media="print")
    heights = page.locator("svg.drawing[role=img]").evaluate_all(
        "all => all.map(e => e.getBoundingClientRect().height)"
    )
    assert len(heights) > 2
    assert max(heights) < 1000, "A4 upright leaves 1000 points between its margins"


def test_a_crew_enters_a_figure_on_a_phone_and_is_told_what_it_means(open_site: Opened) -> None:
    page = open_site("crew", width="phone")
    seen(page, SEGMENTS["line"])
    page.get_by_label("Loop resistance, L1-G to L1-S003, in ohm").fill("9.6")
    page.get_by_label("Instrument").fill("Bridge 4")
    page.get_by_role("button", name="Put the figures on record").click()
    expect(page.get_by_role("status")).to_contain_text("1 figure is on record. L1 is now survey first.")
    expect(page.get_by_role("region", name="Figures to measure")).to_contain_text("Contradicts the records.")
    expect(page.get_by_role("region", name="Figures to measure")).to_contain_text("would explain it")
    expect(page.get_by_role("region", name="Readings on record")).to_contain_text("Bridge 4")
    assert judged(page) == []
    assert not overflows(page)
    shoot(page, "segment-contradicted-phone")


def test_a_wrong_figure_keeps_what_was_typed_and_says_so_beside_it(open_site: Opened) -> None:
    page = open_site("crew", width="phone")
    seen(page, SEGMENTS["line"])
    field = page.get_by_label("Voltage without load, L1-S003, in V")
    field.fill("231")
    page.get_by_role("button", name="Put the figures on record").click()
    beside = page.get_by_role("region", name="Figures to measure")
    expect(beside.get_by_text("Stop, isolate and prove dead: mains may be on the pair.")).to_be_visible()
    expect(page.locator("#waiting")).to_contain_text("Not kept (figures of L1")
    expect(field).to_have_value("231")
    assert judged(page) == []
    assert not overflows(page)


def test_figures_typed_without_a_connection_are_kept_and_count_once_when_it_is_back(open_site: Opened) -> None:
    page = open_site("crew", width="phone")
    seen(page, SEGMENTS["line"])
    page.context.set_offline(True)
    page.get_by_label("Loop resistance, L1-G to L1-S003, in ohm").fill("9.6")
    page.get_by_label("Instrument").fill("Bridge 4")
    page.get_by_role("button", name="Put the figures on record").click()
    waiting = page.locator("#waiting")
    expect(waiting).to_contain_text("Stop: Loop resistance, L1-G to L1-S003, in ohm: 9.6 is outside its span.")
    expect(waiting).to_contain_text("1 kept in this browser, not sent yet: figures of L1")
    assert not overflows(page)
    shoot(page, "segment-offline-phone")
    assert Reading.objects.count() == 0
    page.context.set_offline(False)
    expect(page.locator("#work-state")).to_contain_text("1 figure is on record. L1 is now survey first.")
    expect(waiting).to_be_hidden()
    kept = Reading.objects.get()
    assert (kept.value, kept.instrument) == (9.6, "Bridge 4")
    page.reload()
    expect(page.get_by_role("region", name="Readings on record")).to_contain_text("Bridge 4")
    assert Reading.objects.count() == 1
