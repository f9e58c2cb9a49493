"""Windows: each thing that opens or shuts a night, at its limit and just past it."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from inventory.core.catalogue import Catalogue
from inventory.core.snapshot import Building, Closure, Room, Snapshot
from planner.core.brief import Brief
from planner.core.plans import Crew, Order, Phase, WindowsOfOrder
from planner.core.windows import find_windows
from tests.campuses import Draft

BUILDING = Building(key="B1", district="Quay", time_zone="Europe/Berlin", holidays="DE-BY")
CREW = Crew(key="Night", people=2, days=(0, 1, 2, 3, 4, 5, 6), shift_from_min=21 * 60, shift_to_min=6 * 60)
PHASE = Phase(key="P1", start=date(2027, 3, 2), end=date(2027, 3, 2))
BRIEF = Brief(work_from_min=18 * 60, work_to_min=7 * 60)
ORDER = Order(
    key="B1-O001",
    building="B1",
    district="Quay",
    segments=("L1",),
    stations=("S1",),
    rooms=(("B1", "1.01"),),
    people=2,
    setup_min=20,
    outage_min=60,
    restore_min=15,
    parts=(),
    freed=(),
    cost_parts=Decimal(0),
    cost_labour=Decimal(0),
    cost_outage=Decimal(0),
    currency="EUR",
    unpriced=(),
    benefit=1.0,
    oldest=None,
)


def _booked(*spans: str) -> bytes:
    """Return a calendar with bookings `20270302T210000/20270302T220000`, local to the building."""
    events = (
        f"BEGIN:VEVENT\r\nUID:{number}\r\nDTSTART:{span.partition('/')[0]}\r\nDTEND:{span.partition('/')[2]}\r\nEND:VEVENT\r\n"
        for number, span in enumerate(spans)
    )
    return f"BEGIN:VCALENDAR\r\n{''.join(events)}END:VCALENDAR\r\n".encode()


def _campus(calendar: str | None = None, calendars: dict[str, bytes] | None = None, **facts: object) -> Snapshot:
    draft = Draft(catalogue=Catalogue())
    draft.buildings.append(replace(BUILDING, **facts))  # type: ignore[arg-type]
    draft.rooms.append(("B1", Room(building=-1, key="1.01", calendar=calendar)))
    draft.rooms.append(("B1", Room(building=-1, key="1.02")))
    return replace(draft.snapshot(), calendars=calendars or {})


def _find(
    snapshot: Snapshot | None = None,
    order: Order = ORDER,
    crews: tuple[Crew, ...] = (CREW,),
    phases: tuple[Phase, ...] = (PHASE,),
    brief: Brief = BRIEF,
) -> WindowsOfOrder:
    (found,) = find_windows(_campus() if snapshot is None else snapshot, (order,), crews, phases, brief)
    return found


def _hours(found: WindowsOfOrder) -> list[str]:
    """Return the windows in UTC, which in Berlin is an hour behind in winter."""
    return [f"{window.start:%d %H:%M} - {window.end:%d %H:%M}" for window in found.windows]


def _closure(kind: str, start: datetime, end: datetime, **where: int | None) -> Closure:
    return Closure(**{"building": None, "room": None, **where}, start=start, end=end, kind=kind)  # type: ignore[arg-type]


def test_a_night_is_where_shift_and_hours_meet() -> None:
    found = _find()
    assert _hours(found) == ["02 20:00 - 03 05:00"]
    window = found.windows[0]
    assert (window.crew, window.night, window.phase, window.start.tzinfo) == ("Night", date(2027, 3, 2), "P1", UTC)
    assert (found.longest_free_min, found.problems) == (540, ())


def test_hours_cut_a_shift_that_goes_on_longer() -> None:
    crew = replace(CREW, shift_from_min=16 * 60, shift_to_min=8 * 60)
    assert _hours(_find(crews=(crew,))) == ["02 17:00 - 03 06:00"]


def test_the_morning_of_the_first_date_belongs_to_the_night_before() -> None:
    # A shift from midnight on 2 March works in the hours that began on the 1st.
    crew = replace(CREW, shift_from_min=0, shift_to_min=6 * 60)
    assert _hours(_find(crews=(crew,))) == ["01 23:00 - 02 05:00"]


def test_bookings_split_a_night_and_windows_are_half_open() -> None:
    campus = _campus("a.ics", {"a.ics": _booked("20270302T230000/20270303T000000")})
    assert _hours(_find(campus)) == ["02 20:00 - 02 22:00", "02 23:00 - 03 05:00"]


def test_a_span_of_exactly_the_time_on_site_is_a_window_and_a_minute_less_is_none() -> None:
    # 95 minutes are needed: 21:00 to 22:35.
    fits = _campus("a.ics", {"a.ics": _booked("20270302T223500/20270303T070000")})
    assert _hours(_find(fits)) == ["02 20:00 - 02 21:35"]
    short = _find(_campus("a.ics", {"a.ics": _booked("20270302T223400/20270303T070000")}))
    assert (short.windows, short.longest_free_min) == ((), 94)
    assert short.problems == ("95 min are needed on site, the longest window is 94 min",)


def test_every_room_must_be_free_not_only_the_first() -> None:
    campus = _campus("a.ics", {"a.ics": _booked("20270302T180000/20270303T080000")})
    found = _find(campus, replace(ORDER, rooms=(("B1", "1.02"), ("B1", "1.01"))))
    assert found.windows == ()
    assert found.problems == ("no shift of a crew meets a time when all 2 rooms are free and B1 admits crews",)


def test_a_calendar_that_is_not_on_file_gives_no_window_and_says_so() -> None:
    found = _find(_campus("a.ics"))
    assert found.windows == ()
    assert found.problems == ("calendar a.ics of room B1 1.01 is not on file",)


def test_a_calendar_that_cannot_be_read_gives_no_window_and_names_file_and_line() -> None:
    found = _find(_campus("a.ics", {"a.ics": b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART:soon\r\n"}))
    assert found.windows == ()
    assert found.problems[0].startswith("calendar a.ics, line 3: ")


@pytest.mark.parametrize(
    ("zone", "words"),
    [(None, "time zone of building B1 is not known"), ("Middle/Earth", "no time zone 'Middle/Earth'")],
)
def test_without_a_time_zone_there_is_no_window(zone: str | None, words: str) -> None:
    found = _find(_campus(time_zone=zone))
    assert found.windows == ()
    assert words in found.problems[0]


@pytest.mark.parametrize("where", [{}, {"building": 0}, {"building": 0, "room": 0}])
def test_a_closure_of_campus_building_or_room_keeps_work_out(where: dict[str, int]) -> None:
    closure = _closure("keep out", datetime(2027, 3, 2, 22, tzinfo=UTC), datetime(2027, 3, 3, 12, tzinfo=UTC), **where)
    assert _hours(_find(replace(_campus(), closures=(closure,)))) == ["02 20:00 - 02 22:00"]


def test_a_closed_building_keeps_crews_out_even_where_none_of_its_rooms_goes_dark() -> None:
    closure = _closure(
        "keep out", datetime(2027, 3, 2, 22, tzinfo=UTC), datetime(2027, 3, 3, 12, tzinfo=UTC), building=0
    )
    campus = replace(_campus(), closures=(closure,))
    assert _hours(_find(campus, replace(ORDER, rooms=()))) == ["02 20:00 - 02 22:00"]


def test_a_welcome_to_one_of_two_rooms_does_not_admit_work_on_both() -> None:
    day = replace(CREW, shift_from_min=8 * 60, shift_to_min=16 * 60)
    welcome = _closure(
        "welcome", datetime(2027, 3, 2, 9, tzinfo=UTC), datetime(2027, 3, 2, 12, tzinfo=UTC), building=0, room=0
    )
    campus = replace(_campus(), closures=(welcome,))
    assert _find(campus, crews=(day,)).windows
    for rooms in ((("B1", "1.01"), ("B1", "1.02")), (("B1", "1.02"), ("B1", "1.01"))):
        assert not _find(campus, replace(ORDER, rooms=rooms), crews=(day,)).windows


def test_a_closure_of_another_room_is_none_of_ours() -> None:
    closure = _closure(
        "keep out", datetime(2027, 3, 2, tzinfo=UTC), datetime(2027, 3, 4, tzinfo=UTC), building=0, room=1
    )
    assert _hours(_find(replace(_campus(), closures=(closure,)))) == ["02 20:00 - 03 05:00"]


@pytest.mark.parametrize("where", [{}, {"building": 0}, {"building": 0, "room": 0}])
def test_a_welcome_admits_crews_where_the_hours_do_not(where: dict[str, int]) -> None:
    # Saturday 6 March, when the brief does not work; the shift of the day is on from 8 to 16.
    day = replace(CREW, shift_from_min=8 * 60, shift_to_min=16 * 60)
    phase = replace(PHASE, start=date(2027, 3, 6), end=date(2027, 3, 6))
    brief = replace(BRIEF, work_days=(0, 1, 2, 3))
    assert _find(crews=(day,), phases=(phase,), brief=brief).windows == ()
    welcome = _closure("welcome", datetime(2027, 3, 6, 9, tzinfo=UTC), datetime(2027, 3, 6, 12, tzinfo=UTC), **where)
    campus = replace(_campus(), closures=(welcome,))
    assert _hours(_find(campus, crews=(day,), phases=(phase,), brief=brief)) == ["06 09:00 - 06 12:00"]


def test_a_welcome_never_overrides_a_booking_or_a_closure() -> None:
    welcome = _closure("welcome", datetime(2027, 3, 1, tzinfo=UTC), datetime(2027, 3, 4, tzinfo=UTC))
    shut = _closure("keep out", datetime(2027, 3, 3, 1, tzinfo=UTC), datetime(2027, 3, 4, tzinfo=UTC), building=0)
    campus = _campus("a.ics", {"a.ics": _booked("20270302T180000/20270302T230000")})
    assert _hours(_find(replace(campus, closures=(shut, welcome)))) == ["02 22:00 - 03 01:00"]


@pytest.mark.parametrize(
    ("holidays", "nights", "note"),
    [
        ("DE-BY", 1, ""),  # Epiphany, 6 January, is a holiday in Bavaria ...
        ("DE", 2, ""),  # ... and not in all of Germany
        (None, 2, "holidays of building B1 are not known"),
        ("XX", 0, "holidays of 'XX' are not known"),
    ],
)
def test_nights_that_start_on_a_holiday_are_left_out_if_the_brief_says_so(
    holidays: str | None, nights: int, note: str
) -> None:
    phase = replace(PHASE, start=date(2027, 1, 6), end=date(2027, 1, 7))
    found = _find(_campus(holidays=holidays), phases=(phase,), brief=replace(BRIEF, work_on_holidays=False))
    assert len(found.windows) == nights
    assert note in " ".join(found.problems)
    assert len(_find(_campus(holidays=holidays), phases=(phase,)).windows) == 2


@pytest.mark.parametrize(("night", "hours"), [(date(2027, 3, 27), 7), (date(2027, 10, 30), 9), (date(2027, 6, 1), 8)])
def test_a_night_over_a_clock_change_is_an_hour_shorter_or_longer(night: date, hours: int) -> None:
    crew = replace(CREW, shift_from_min=22 * 60)
    window = _find(crews=(crew,), phases=(replace(PHASE, start=night, end=night),)).windows[0]
    assert (window.end - window.start).total_seconds() == hours * 3600


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"crews": ()}, "there is no crew"),
        ({"crews": (replace(CREW, people=1),)}, "2 people are needed, the largest crew has 1"),
        ({"phases": ()}, "there is no phase to work in"),
        ({"phases": (replace(PHASE, districts=("Hill",)),)}, "no phase works at building B1, in district Quay"),
        ({"brief": replace(BRIEF, longest_outage_min=59)}, "rooms would be dark for 60 min, the brief allows 59 min"),
        ({"crews": (replace(CREW, days=(0,)),)}, "no shift of a crew meets a time when room 1.01 is free"),
        ({"brief": replace(BRIEF, work_days=(0,))}, "no shift of a crew meets"),
    ],
)
def test_what_stands_in_the_way_of_every_window_is_said_in_words(change: dict[str, object], words: str) -> None:
    found = _find(**change)  # type: ignore[arg-type]
    assert found.windows == ()
    assert words in found.problems[0]


def test_an_outage_of_exactly_the_longest_allowed_is_allowed() -> None:
    assert _find(brief=replace(BRIEF, longest_outage_min=60)).windows


def test_a_district_that_is_not_known_is_admitted_only_by_phases_that_name_none() -> None:
    unknown = replace(ORDER, district=None)
    assert _find(order=unknown).windows
    assert not _find(order=unknown, phases=(replace(PHASE, districts=("Quay",)),)).windows


def test_phases_that_overlap_each_offer_the_night() -> None:
    phases = (PHASE, replace(PHASE, key="P2", start=date(2027, 3, 1)))
    found = _find(phases=phases).windows
    assert [(window.night.day, window.phase) for window in found] == [(1, "P2"), (2, "P1"), (2, "P2")]


def test_an_order_whose_minutes_are_not_known_cannot_be_dated() -> None:
    found = _find(order=replace(ORDER, unknown=("minutes of step 3 of method M are not known",)))
    assert (found.windows, found.problems) == ((), ("minutes of step 3 of method M are not known",))


def test_the_order_of_what_is_handed_in_changes_nothing() -> None:
    crews = (CREW, replace(CREW, key="Early", shift_from_min=20 * 60))
    phases = (PHASE, replace(PHASE, key="P2", start=date(2027, 3, 3), end=date(2027, 3, 5)))
    assert _find(crews=crews, phases=phases) == _find(crews=crews[::-1], phases=phases[::-1])


@pytest.mark.parametrize(
    ("admitted", "hours"),
    [
        (None, ["02 20:00 - 03 05:00"]),
        ("Tue 22:00-04:00", ["02 21:00 - 03 03:00"]),
        ("Mon-Fri 20:00-24:00, Sat Sun 08:00-09:00", ["02 20:00 - 02 23:00"]),
        ("Mon-Fri 00:00-24:00", ["02 20:00 - 03 05:00"]),
        ("Tue 22:00-23:45; Wed 01:00-03:00", ["02 21:00 - 02 22:45", "03 00:00 - 03 02:00"]),
        ("Wed 18:00-07:00", []),
    ],
)
def test_a_building_admits_crews_only_in_its_own_hours_of_that_weekday(admitted: str | None, hours: list[str]) -> None:
    assert _hours(_find(_campus(crews_admitted=admitted))) == hours  # 2 March 2027 is a Tuesday


def test_hours_that_cannot_be_read_never_mean_open() -> None:
    found = _find(_campus(crews_admitted="at night"))
    assert found.windows == ()
    assert "admits crews cannot be read: at night" in " ".join(found.problems)
