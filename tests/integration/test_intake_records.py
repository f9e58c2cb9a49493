"""Single records, failures and calendars: each change one transaction, with who did it."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.core.problems import Severity
from inventory.models import Building, CalendarFile, Failure, Node, Run
from inventory.services.calendars import put_calendars
from inventory.services.failures import report_failure
from inventory.services.intake import take_in
from inventory.services.records import StillNeeded, create_record, edit_record, remove_record
from planner.store.intake import ALL_TARGETS
from tests.books import small

pytestmark = pytest.mark.django_db

CALENDAR = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nEND:VCALENDAR\r\n"


@pytest.fixture
def person() -> User:
    return User.objects.create_user("kim")


@pytest.fixture
def station() -> Node:
    assert take_in(small(), "campus.xlsx", ALL_TARGETS, None).stored
    return Node.objects.get(key="S1")


def test_a_new_record_has_a_first_page_of_history(person: User) -> None:
    building = create_record(Building, {"key": "B9", "name": "Annex"}, person)
    page = building.history.get()
    assert (page.history_type, page.history_user) == ("+", person)


def test_a_record_that_breaks_a_rule_is_refused_field_by_field(person: User) -> None:
    with pytest.raises(ValidationError):
        create_record(Building, {"key": "B9", "outages_at_once": 0}, person)
    assert not Building.objects.exists()


def test_a_change_is_one_page_and_no_change_is_none(station: Node, person: User) -> None:
    pages = station.history.count()
    edit_record(station, {"note": station.note}, person)
    assert station.history.count() == pages
    assert edit_record(station, {"note": "loose"}, person).note == "loose"
    page = station.history.latest("history_id")
    assert (page.history_type, page.history_user, page.note) == ("~", person, "loose")


def test_what_others_refer_to_stays_and_they_are_named(station: Node, person: User) -> None:
    with pytest.raises(StillNeeded, match=r"1 run \(R1\) and 2 failures"):
        remove_record(station, person)
    Run.objects.all().delete()
    Failure.objects.all().delete()
    remove_record(station, person)
    page = Node.history.filter(key="S1").latest("history_id")
    assert (page.history_type, page.history_user) == ("-", person)


def test_a_failure_is_reported_with_who(station: Node, person: User) -> None:
    failure = report_failure(station, date(2026, 1, 5), " dead ", "replaced", person)
    assert (failure.what_failed, failure.outcome) == ("dead", "replaced")
    assert failure.history.get().history_user == person


@pytest.mark.parametrize("what", ["slider", None])
def test_a_failure_on_record_is_not_reported_twice(station: Node, what: str | None) -> None:
    day = date(2025, 1, 3) if what else date(2025, 1, 2)
    with pytest.raises(ValidationError):
        report_failure(station, day, what, None, None)


def test_a_failure_lies_between_installation_and_today(station: Node) -> None:
    assert station.installed is not None
    with pytest.raises(ValidationError, match="installed"):
        report_failure(station, station.installed - timedelta(days=1), None, None, None)
    with pytest.raises(ValidationError, match="not come yet"):
        report_failure(station, timezone.localdate() + timedelta(days=1), None, None, None)
    report_failure(station, station.installed, None, None, None)
    report_failure(station, timezone.localdate(), None, None, None)


def test_one_broken_calendar_keeps_all_out_and_is_named_with_its_line() -> None:
    (problem,) = put_calendars({"a.ics": CALENDAR, "b.ics": CALENDAR.replace(b"PRODID:x", b"PRODID")}, None)
    assert (problem.severity, problem.row, problem.value) == (Severity.ERROR, 3, "b.ics")
    assert "b.ics, line 3" in problem.message
    assert not CalendarFile.objects.exists()


def test_rooms_whose_calendar_is_not_on_file_are_told() -> None:
    rooms = [("Building", "Room", "Calendar"), ("B1", "1.01", "a.ics"), ("B2", "1.01", "b.ics")]
    result = take_in(small(Rooms=rooms), "campus.xlsx", ALL_TARGETS, None)
    assert [one.value for one in result.problems if one.code == "calendar-missing"] == ["a.ics", "b.ics"]
    assert result.stored
    (left,) = put_calendars({"a.ics": CALENDAR}, None)
    assert (left.severity, left.value) == (Severity.WARNING, "b.ics")
    assert put_calendars({"b.ics": CALENDAR}, None) == ()


def test_a_calendar_that_is_the_same_is_not_written_again(person: User) -> None:
    put_calendars({"a.ics": CALENDAR}, person)
    first = CalendarFile.objects.get()
    put_calendars({"a.ics": CALENDAR}, None)
    again = CalendarFile.objects.get()
    assert (again.taken_in, again.by) == (first.taken_in, person)
