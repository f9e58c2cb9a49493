"""What the windows of a year cost: 500 rooms with 50 bookings a week each, in processor time. Run with -s to read.

Beside them stands a floor, measured in the same run: cutting the longer of the two sets of calendars into its lines,
each parted at its colon. The time to reach (10 s on two ordinary cores) is read with -s; the limits are ratios.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from inventory.core.catalogue import Catalogue
from inventory.core.snapshot import Building, Room, Snapshot
from planner.core.brief import Brief
from planner.core.plans import Crew, Order, Phase, WindowsOfOrder
from planner.core.windows import find_windows
from tests.campuses import Draft
from tests.unit.planner.test_windows import ORDER

ROOMS, ROOMS_A_BUILDING, A_WEEK, WEEKS = 500, 25, 50, 52
MONDAY = datetime(2027, 1, 4)  # noqa: DTZ001 - a wall clock has no zone
CREWS = tuple(
    Crew(key=key, people=3, days=(0, 1, 2, 3, 4), shift_from_min=18 * 60, shift_to_min=7 * 60) for key in "AB"
)
PHASES = (Phase(key="year", start=date(2027, 1, 4), end=date(2027, 12, 31)),)
MOST = {"repeating": 6.0, "single": 6.0}  # times the floor


def _booking(number: int, week: int, slot: int, minutes: int, rule: str = "") -> str:
    start = MONDAY + timedelta(weeks=week, days=slot % 5, minutes=8 * 60 + 15 * (slot // 5))
    return (
        f"BEGIN:VEVENT\r\nUID:{number}@campus.invalid\r\nDTSTAMP:20261101T080000Z\r\nSUMMARY:Seminar {number}\r\n"
        f"DTSTART;TZID=Europe/Berlin:{start:%Y%m%dT%H%M%S}\r\n"
        f"DTEND;TZID=Europe/Berlin:{start + timedelta(minutes=minutes):%Y%m%dT%H%M%S}\r\n{rule}END:VEVENT\r\n"
    )


def _calendar(room: int, kind: str) -> bytes:
    rng = np.random.default_rng(room)
    slots, minutes = rng.integers(0, 5 * 48, A_WEEK).tolist(), rng.choice([45, 60, 90], A_WEEK).tolist()
    if kind == "repeating":
        rule = "RRULE:FREQ=WEEKLY;UNTIL=20271231T225959Z\r\n"
        events = [_booking(at, 0, slot, long, rule) for at, (slot, long) in enumerate(zip(slots, minutes, strict=True))]
    else:
        events = [
            _booking(week * A_WEEK + at, week, slot, long)
            for week in range(WEEKS)
            for at, (slot, long) in enumerate(zip(slots, minutes, strict=True))
        ]
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{''.join(events)}END:VCALENDAR\r\n".encode()


def _campus(kind: str) -> tuple[Snapshot, tuple[Order, ...]]:
    draft = Draft(catalogue=Catalogue())
    rooms = [(f"B{at // ROOMS_A_BUILDING:02}", f"R{at:03}") for at in range(ROOMS)]
    for building in sorted({building for building, _ in rooms}):
        draft.buildings.append(Building(key=building, district="Quay", time_zone="Europe/Berlin"))
    draft.rooms += [(building, Room(building=-1, key=room, calendar=f"{room}.ics")) for building, room in rooms]
    calendars = {f"{room}.ics": _calendar(at, kind) for at, (_, room) in enumerate(rooms)}
    orders = tuple(
        replace(ORDER, key=f"{building}-{room}", building=building, rooms=((building, room),), people=2)
        for building, room in rooms
    )
    return replace(draft.snapshot(), calendars=calendars), orders


def _spent_s(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def _lines(calendars: list[bytes]) -> int:
    return sum(len([row.partition(b":") for row in content.splitlines()]) for content in calendars)


@pytest.mark.parametrize("kind", ["repeating", "single"])
def test_a_year_of_500_rooms_beside_cutting_calendars_into_lines(benchmark: object, kind: str) -> None:
    snapshot, orders = _campus(kind)
    longer = [_calendar(room, "single") for room in range(ROOMS)]
    found: list[WindowsOfOrder] = []

    def windows() -> None:
        found[:] = find_windows(snapshot, orders, CREWS, PHASES, Brief())

    benchmark.pedantic(windows, rounds=1)  # type: ignore[attr-defined]
    spent_s, floor_s = _spent_s(windows), _spent_s(lambda: _lines(longer))
    nights = sum(len(each.windows) for each in found)
    print(f"\n{kind}: {nights} windows in {spent_s:.2f} s of processor time, floor {floor_s:.2f} s")  # noqa: T201
    assert len(found) == ROOMS
    assert nights > ROOMS
    assert spent_s < MOST[kind] * floor_s
