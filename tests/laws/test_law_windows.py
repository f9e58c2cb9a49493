"""Laws of windows, held against a naive answer: every minute of every night asked one by one."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import Phase as Step
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.core.catalogue import Catalogue
from inventory.core.snapshot import Building, Closure, Room, Snapshot
from planner.core.brief import Brief
from planner.core.plans import Crew, Phase, Window
from planner.core.windows import find_windows
from tests.campuses import Draft
from tests.unit.planner.test_windows import ORDER

ZONE = ZoneInfo("Europe/Berlin")
ROOMS = ("1.01", "1.02")
# The clocks go on in the night of 27 March 2027.
FIRST, LAST = date(2027, 3, 26), date(2027, 3, 28)
START = datetime(2027, 3, 25, tzinfo=UTC)
MINUTES = 6 * 24 * 60
FOUND_AS_DRAWN = (Step.explicit, Step.reuse, Step.generate)  # shrinking minutes takes minutes
QUARTER = timedelta(minutes=15)
Spans = list[tuple[datetime, datetime]]


@st.composite
def _spans(draw: st.DrawFn, most: int = 4) -> Spans:
    starts = [START + draw(st.integers(0, MINUTES // 15)) * QUARTER for _ in range(draw(st.integers(0, most)))]
    return [(start, start + draw(st.integers(1, 40)) * QUARTER) for start in starts]


CREWS = st.builds(
    Crew,
    key=st.sampled_from(["A", "B"]),
    people=st.integers(1, 3),
    days=st.sets(st.integers(0, 6), min_size=3).map(lambda days: tuple(sorted(days))),
    shift_from_min=st.integers(0, 95).map(lambda quarter: quarter * 15),
    shift_to_min=st.integers(0, 95).map(lambda quarter: quarter * 15),
)
BRIEFS = st.builds(
    Brief,
    work_from_min=st.integers(0, 95).map(lambda quarter: quarter * 15),
    work_to_min=st.integers(0, 95).map(lambda quarter: quarter * 15),
    work_days=st.sets(st.integers(0, 6), min_size=3).map(lambda days: tuple(sorted(days))),
)


def _calendar(spans: Spans) -> bytes:
    events = (
        f"BEGIN:VEVENT\r\nUID:{number}\r\nDTSTART:{start:%Y%m%dT%H%M%SZ}\r\nDTEND:{end:%Y%m%dT%H%M%SZ}\r\nEND:VEVENT\r\n"
        for number, (start, end) in enumerate(spans)
    )
    return f"BEGIN:VCALENDAR\r\n{''.join(events)}END:VCALENDAR\r\n".encode()


def _campus(booked: tuple[Spans, Spans], closures: list[tuple[str, Spans]]) -> Snapshot:
    draft = Draft(catalogue=Catalogue())
    draft.buildings.append(Building(key="B1", district="Quay", time_zone="Europe/Berlin"))
    draft.rooms += [("B1", Room(building=-1, key=room, calendar=f"{room}.ics")) for room in ROOMS]
    return replace(
        draft.snapshot(),
        calendars={f"{room}.ics": _calendar(spans) for room, spans in zip(ROOMS, booked, strict=True)},
        closures=tuple(
            Closure(building=0, room=None, start=start, end=end, kind=kind)
            for kind, spans in closures
            for start, end in spans
        ),
    )


def _local(day: date, minute: int) -> datetime:
    """Return the instant of a time of day: in a gap with the offset before it, as RFC 5545 section 3.3.5 reads it."""
    wall = datetime(day.year, day.month, day.day) + timedelta(minutes=minute)  # noqa: DTZ001
    return wall.replace(tzinfo=ZONE).astimezone(UTC)


def _night(day: date, from_min: int, to_min: int) -> tuple[datetime, datetime]:
    return _local(day, from_min), _local(day, to_min if to_min > from_min else to_min + 1440)


def _in(spans: Spans, minute: datetime) -> bool:
    return any(start <= minute < end for start, end in spans)


def _naive(crew: Crew, brief: Brief, taken: Spans, welcome: Spans, night: date) -> set[datetime]:
    """Return every minute of one night in which all is well, each asked by itself."""
    days = [FIRST + timedelta(days=day) for day in range(-1, (LAST - FIRST).days + 1)]
    admitted = welcome + [
        _night(day, brief.work_from_min, brief.work_to_min) for day in days if day.weekday() in brief.work_days
    ]
    start, end = _night(night, crew.shift_from_min, crew.shift_to_min)
    minutes = (start + timedelta(minutes=number) for number in range(int((end - start).total_seconds()) // 60))
    return {minute for minute in minutes if _in(admitted, minute) and not _in(taken, minute)}


def _long_enough(minutes: set[datetime], least: int) -> set[datetime]:
    """Keep the minutes that lie in an unbroken row of at least so many."""
    kept: set[datetime] = set()
    row: list[datetime] = []
    for minute in sorted(minutes):
        if row and minute - row[-1] != timedelta(minutes=1):
            kept |= set(row) if len(row) >= least else set()
            row = []
        row.append(minute)
    return kept | (set(row) if len(row) >= least else set())


def _minutes(windows: tuple[Window, ...]) -> set[tuple[date, datetime]]:
    return {
        (window.night, window.start + timedelta(minutes=minute))
        for window in windows
        for minute in range(int((window.end - window.start).total_seconds()) // 60)
    }


def _find(campus: Snapshot, crew: Crew, brief: Brief) -> tuple[Window, ...]:
    order = replace(ORDER, people=1, rooms=tuple(("B1", room) for room in ROOMS))
    phase = Phase(key="P", start=FIRST, end=LAST)
    return find_windows(campus, (order,), (crew,), (phase,), brief)[0].windows


@settings(max_examples=25, deadline=None, phases=FOUND_AS_DRAWN)
@given(crew=CREWS, brief=BRIEFS, rooms=st.tuples(_spans(), _spans()), closed=st.tuples(_spans(2), _spans(2)))
def test_windows_hold_exactly_the_minutes_that_a_minute_by_minute_search_finds(
    crew: Crew, brief: Brief, rooms: tuple[Spans, Spans], closed: tuple[Spans, Spans]
) -> None:
    booked, (shut, welcome) = rooms[0] + rooms[1], closed
    campus = _campus(rooms, [("keep out", shut), ("welcome", welcome)])
    expected = set()
    for night in (FIRST, FIRST + timedelta(days=1), LAST):
        if night.weekday() in crew.days:
            good = _naive(crew, brief, booked + shut, welcome, night)
            expected |= {(night, minute) for minute in _long_enough(good, ORDER.onsite_min)}
    assert _minutes(_find(campus, crew, brief)) == expected


@settings(max_examples=25, deadline=None, phases=FOUND_AS_DRAWN)
@given(crew=CREWS, brief=BRIEFS, booked=_spans(), more=_spans())
def test_one_more_booking_never_adds_time(crew: Crew, brief: Brief, booked: Spans, more: Spans) -> None:
    before = _minutes(_find(_campus((booked, []), []), crew, brief))
    after = _minutes(_find(_campus(([*booked, *more], []), []), crew, brief))
    assert after <= before


@settings(max_examples=25, deadline=None, phases=FOUND_AS_DRAWN)
@given(crew=CREWS, brief=BRIEFS, booked=_spans())
def test_windows_of_a_night_never_touch_and_each_is_long_enough(crew: Crew, brief: Brief, booked: Spans) -> None:
    windows = _find(_campus((booked, []), []), crew, brief)
    for window, following in pairwise(windows):
        assert window.night != following.night or window.end < following.start
    assert all((window.end - window.start) >= timedelta(minutes=ORDER.onsite_min) for window in windows)
