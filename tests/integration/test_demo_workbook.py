"""The demo campus as it is shipped: made anew it is the same, it reads without an error, and it shows everything."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime
from hashlib import sha256
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import recurring_ical_events
from icalendar import Calendar

import fixtures
from fixtures.make_campus import CALENDARS, WORKBOOK, campus_rows, workbook_bytes, write_campus
from fixtures.recipes import GATEWAYS, RECIPES, WITHOUT_GATEWAY
from inventory.core.problems import Severity
from inventory.store.snapshot import load_snapshot
from inventory.workbook.check import check_rows
from inventory.workbook.choices import EXTRAS
from inventory.workbook.read import read_workbook
from inventory.workbook.rows import KnownKeys
from inventory.workbook.sheets import SHEETS
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict
from planner.core.verdicts import assess
from planner.services.assess import assess_campus
from planner.services.intake import take_with_calendars
from planner.store.briefs import load_brief, load_closures

pytestmark = pytest.mark.on_any_database

FOLDER = Path(fixtures.__file__).parent
DUBLIN = ZoneInfo("Europe/Dublin")


@pytest.fixture(scope="module")
def content() -> bytes:
    return (FOLDER / WORKBOOK).read_bytes()


@pytest.fixture(scope="module")
def calendars() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted((FOLDER / CALENDARS).glob("*.ics"))}


def digest(content: bytes) -> str:
    """Return what stands for a file: two large ones that differ take minutes to be told apart in words."""
    return sha256(content).hexdigest()


def test_made_anew_the_campus_has_the_bytes_that_are_shipped(
    tmp_path: Path, content: bytes, calendars: dict[str, bytes]
) -> None:
    write_campus(tmp_path)
    made = {path.name: path.read_bytes() for path in (tmp_path / CALENDARS).iterdir()}
    assert digest((tmp_path / WORKBOOK).read_bytes()) == digest(content), "make the demo campus anew"
    assert {name: digest(one) for name, one in made.items()} == {name: digest(one) for name, one in calendars.items()}


def test_another_seed_makes_another_campus(content: bytes) -> None:
    assert workbook_bytes(campus_rows(1)[0]) != content


def test_every_sheet_is_there_and_reads_without_a_problem(content: bytes) -> None:
    rows = read_workbook(content)
    assert set(rows.sheets) == {sheet.code for sheet in SHEETS}
    assert all(rows.sheets[sheet.code].numbers for sheet in SHEETS)
    assert (rows.problems, rows.unknown_columns) == ((), ())


def test_what_contradicts_is_warned_of_and_nothing_is_an_error(content: bytes) -> None:
    problems = check_rows(read_workbook(content), KnownKeys())
    assert {problem.severity for problem in problems} == {Severity.WARNING}
    assert {problem.code for problem in problems} == {"bus-without-run", "bus-of-another-building", "no-shared-bus"}


def test_the_campus_has_the_size_a_demo_needs() -> None:
    rows, calendars = campus_rows()
    models = Counter(str(node["model"])[:2] for node in rows["nodes"])
    assert len(rows["buildings"]) == 8
    assert len({building["district"] for building in rows["buildings"]}) == 3
    assert 480 <= models["WS"] <= 520
    assert models["GW"] == 60
    assert (len(rows["crews"]), len(rows["phases"])) == (3, 3)
    assert {room["calendar"] for room in rows["rooms"]} - {None} == set(calendars)


def test_stations_are_of_three_ages() -> None:
    rows, _ = campus_rows()
    years: dict[str, set[int]] = {"WS-2": set(), "WS-3": set(), "WS-5": set()}
    for node in rows["nodes"]:
        installed = node["installed"]
        if str(node["model"])[:4] in years and isinstance(installed, date):
            years[str(node["model"])[:4]].add(installed.year)
    assert [(min(found), max(found)) for found in years.values()] == [(1996, 2002), (2004, 2010), (2012, 2016)]


def test_calendars_have_recurrences_exceptions_cancellations_and_all_day_events(calendars: dict[str, bytes]) -> None:
    for name, file in calendars.items():
        calendar = Calendar.from_ical(file)
        events = list(calendar.walk("VEVENT"))
        assert any("rrule" in event and "exdate" in event for event in events), name
        assert any("recurrence-id" in event for event in events), name
        assert any(event.get("status") == "CANCELLED" for event in events), name
        assert any(not isinstance(event.decoded("dtstart"), datetime) for event in events), name
        assert len(list(calendar.walk("VTIMEZONE"))) == 1, name


def test_lessons_stay_at_eight_over_the_change_of_the_clock(calendars: dict[str, bytes]) -> None:
    # Irish clocks go forward on 28 March 2027: 8:00 is 08:00 UTC on Friday the 26th and 07:00 UTC on Monday the 29th
    calendar = Calendar.from_ical(next(iter(calendars.values())))
    found = recurring_ical_events.of(calendar).between(date(2027, 3, 26), date(2027, 3, 30))
    days = [event.decoded("dtstart") for event in found if str(event["uid"]).startswith("day.")]
    assert [(day.astimezone(DUBLIN).hour, day.utcoffset().total_seconds()) for day in sorted(days)] == [
        (8, 0),
        (8, 3600),
    ]


@pytest.fixture
def reports(db: None, content: bytes, calendars: dict[str, bytes]) -> tuple[SegmentReport, ...]:
    assert take_with_calendars(content, WORKBOOK, calendars, by=None).stored
    return assess(load_snapshot(date(2026, 11, 25), load_closures()), load_brief())


def test_every_verdict_and_every_extra_occurs(reports: tuple[SegmentReport, ...]) -> None:
    assert {report.verdict for report in reports} == set(Verdict)
    assert {extra for report in reports for extra in report.extras} == set(EXTRAS)


def test_every_segment_that_does_not_convert_has_a_price_or_says_what_it_is_at_most(
    reports: tuple[SegmentReport, ...],
) -> None:
    assert reports  # stored, so that what `assess --json` answers with can be asked for
    needing = [one for one in assess_campus(by=None).reports if one.old_stations and one.verdict not in CONVERTIBLE]
    assert needing
    for one in needing:
        way = one.way_out
        assert way is not None, one.segment
        assert way.price is not None or (way.unpriced and way.at_most and way.at_most_if), one.segment
        assert way.changes or way.along, one.segment


def recipes_by_bus() -> Iterator[tuple[str, str]]:
    for building, gateways in GATEWAYS.items():
        names = [name for _, lines in gateways for name in lines] + list(WITHOUT_GATEWAY.get(building, ()))
        yield from ((f"{building}-L{number:02d}", name) for number, name in enumerate(names, start=1))


def said(report: SegmentReport) -> str:
    """Return verdict, the rule that decided a refusal, extras: as recipes say what they lead to."""
    if report.verdict in {Verdict.NEW_CABLE, Verdict.OTHER_METHOD}:
        return f"{report.verdict.value}: {report.decided_by}"
    return ", ".join((report.verdict.value, *(report.extras if report.verdict in CONVERTIBLE else ())))


def test_every_line_leads_to_the_verdict_it_is_laid_for(reports: tuple[SegmentReport, ...]) -> None:
    found = {bus: said(report) for report in reports for bus in report.buses}
    assert {bus: (name, found[bus]) for bus, name in recipes_by_bus()} == {
        bus: (name, RECIPES[name].leads_to) for bus, name in recipes_by_bus()
    }


def test_taken_in_twice_nothing_changes(db: None, content: bytes, calendars: dict[str, bytes]) -> None:
    take_with_calendars(content, WORKBOOK, calendars, by=None)
    again = take_with_calendars(content, WORKBOOK, calendars, by=None)
    assert again.stored
    assert {(count.new, count.changed) for count in again.counts.values()} == {(0, 0)}
