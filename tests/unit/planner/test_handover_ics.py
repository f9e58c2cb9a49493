"""The calendar files: who reads them learns when, where, what will not work and whom to ask."""

from dataclasses import replace
from datetime import timedelta

from icalendar import Calendar, Component

from planner.handover.ics import event_uid, write_calendars
from tests.handed import AFTER_CHANGE, BEFORE_CHANGE, MADE, order, place, small_handover


def events(content: bytes) -> list[Component]:
    return list(Calendar.from_ical(content).walk("VEVENT"))


def test_one_file_for_each_building_with_work_and_each_crew() -> None:
    assert sorted(write_calendars(small_handover())) == ["building-A.ics", "crew-Night-A.ics"]


def test_a_crew_without_an_order_has_its_file_too() -> None:
    files = write_calendars(replace(small_handover(), crews=("Night A", "Night B")))
    assert sorted(files) == ["building-A.ics", "crew-Night-A.ics", "crew-Night-B.ics"]
    assert events(files["crew-Night-B.ics"]) == []
    assert Calendar.from_ical(files["crew-Night-B.ics"])["x-wr-calname"] == "Crew Night B"


def test_the_rooms_see_the_outage_and_the_crew_sees_its_time_on_site() -> None:
    files = write_calendars(small_handover())
    rooms, crew = events(files["building-A.ics"]), events(files["crew-Night-A.ics"])
    assert [event.decoded("dtstart") for event in rooms] == [
        BEFORE_CHANGE + timedelta(minutes=20),
        AFTER_CHANGE + timedelta(minutes=20),
    ]
    assert [event.decoded("dtstart") for event in crew] == [BEFORE_CHANGE, AFTER_CHANGE]
    assert crew[0].decoded("dtend") == BEFORE_CHANGE.replace(hour=23, minute=5)


def test_the_words_name_rooms_local_time_and_whom_to_ask() -> None:
    handed = replace(small_handover(), contact="Harbour desk, 2214")
    second = events(write_calendars(handed)["building-A.ics"])[1]
    said = str(second["description"])
    assert "1.01 Model shop" in said
    assert "Mon 29 Mar 2027 22:20" in said, "British summer time began the day before"
    assert "Ask: Harbour desk, 2214" in said
    assert second["location"] == "A Weir House"


def test_an_order_keeps_its_event_when_its_time_moves() -> None:
    first = small_handover()
    moved = replace(first, plan=replace(first.plan, placed=(place("A-1", AFTER_CHANGE, "Phase 1"),)))
    before = {str(event["uid"]) for event in events(write_calendars(first)["building-A.ics"])}
    after = {str(event["uid"]) for event in events(write_calendars(moved)["building-A.ics"])}
    assert after < before


def test_events_of_different_campuses_orders_and_readers_never_share_a_name() -> None:
    names = {event_uid(c, o, r) for c in ("I", "J") for o in ("A-1", "A-2") for r in ("building", "crew")}
    assert len(names) == 8


def test_same_facts_give_the_same_bytes_and_only_the_argument_dates_them() -> None:
    files = write_calendars(small_handover())
    assert write_calendars(small_handover()) == files
    assert {event.decoded("dtstamp") for content in files.values() for event in events(content)} == {MADE}


def test_names_that_look_alike_on_disk_get_files_of_their_own() -> None:
    full = small_handover()
    placed = (place("A-1", BEFORE_CHANGE, "P", crew="Night/A"), place("A-2", AFTER_CHANGE, "P", crew="night a"))
    files = write_calendars(replace(full, plan=replace(full.plan, placed=placed)))
    assert sorted(files) == ["building-A.ics", "crew-Night-A.ics", "crew-night-a-2.ics"]


def test_words_with_commas_semicolons_and_breaks_come_back_as_they_went_in() -> None:
    odd = replace(order("A-1", "A", stations=1, parts="1.00"), rooms=(("A", "1;0,1\\"),))
    full = small_handover()
    handed = replace(full, orders=(odd,), plan=replace(full.plan, placed=(place("A-1", BEFORE_CHANGE, "P"),)))
    assert "1;0,1\\" in str(events(write_calendars(handed)["building-A.ics"])[0]["description"])


def test_a_plan_without_orders_gives_no_calendar() -> None:
    full = small_handover()
    assert write_calendars(replace(full, plan=replace(full.plan, placed=()))) == {}
