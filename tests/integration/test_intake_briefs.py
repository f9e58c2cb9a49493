"""The planner's sheets as the planner's core sees them: local times into instants, blanks into the brief's."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from inventory.services.intake import take_in
from inventory.store import load_snapshot
from planner.core.brief import Brief, BriefError
from planner.models import Brief as BriefRow
from planner.models import BriefSetting
from planner.models.briefs import FIRST_BRIEF
from planner.store.briefs import load_brief, load_closures, load_crews, load_phases
from planner.store.intake import ALL_TARGETS, PLANNER_CHECKS
from tests.books import Table, small

pytestmark = pytest.mark.django_db


def put(**sheets: Table) -> None:
    result = take_in(small(**sheets), "campus.xlsx", ALL_TARGETS, None, checks=PLANNER_CHECKS)
    assert result.stored, result.problems


def test_without_a_sheet_the_first_brief_is_the_default() -> None:
    assert load_brief(FIRST_BRIEF) == Brief()


def test_the_sheet_fills_the_first_brief() -> None:
    put(Brief=[("Setting", "Value"), ("longest outage", "240"), ("Labour rate", "52.5"), ("Reserve", None)])
    brief = load_brief()
    assert (brief.longest_outage_min, brief.labour_rate, brief.reserve_pct) == (240, Decimal("52.5"), 10.0)


def test_a_stored_setting_that_cannot_be_used_is_never_passed_over() -> None:
    other = BriefRow.objects.create(name="Other")
    BriefSetting.objects.create(brief=other, setting="Reserve", value="much")
    with pytest.raises(BriefError, match="Reserve"):
        load_brief("Other")


def test_a_crew_keeps_its_own_hours_and_takes_blank_ones_from_the_brief() -> None:
    crews = [
        ("Crew", "People", "Days", "From", "To"),
        ("B", 2, None, None, None),
        ("A", 3, "Mon Tue Wed", "21:00", "06:00"),
    ]
    put(Crews=crews, Brief=[("Setting", "Value"), ("Work from", "19:00"), ("Work days", "Sat Sun")])
    first, second = load_crews()
    assert (first.key, first.people, first.days, first.shift_from_min, first.shift_to_min) == (
        "A",
        3,
        (0, 1, 2),
        1260,
        360,
    )
    assert (second.key, second.days, second.shift_from_min, second.shift_to_min) == ("B", (5, 6), 19 * 60, 7 * 60)


def test_phases_come_by_start_with_their_districts() -> None:
    phases = [
        ("Phase", "Start", "End", "Budget", "Districts"),
        ("Late", "2027-05-01", "2027-06-30", None, None),
        ("Early", "2027-02-01", "2027-04-30", 60000, "North bank, Quay"),
    ]
    put(Phases=phases)
    early, late = load_phases()
    assert (early.key, early.budget, early.districts) == ("Early", Decimal(60000), ("North bank", "Quay"))
    assert (late.start, late.budget, late.districts) == (date(2027, 5, 1), None, ())


def test_closures_are_local_to_their_building_and_name_places_of_the_snapshot() -> None:
    # Lisbon keeps UTC in winter and UTC+1 from the last Sunday of March (28 March 2027); New York UTC-5 in winter.
    # IANA time zone database.
    buildings = [("Building", "Time zone"), ("B1", "Europe/Lisbon"), ("B2", "America/New_York")]
    closures = [
        ("Building", "Room", "From", "To", "Kind"),
        (None, None, "2027-01-01 00:00", "2027-01-02 00:00", None),
        ("B1", None, "2027-03-27 08:00", "2027-03-29 08:00", "keep out"),
        ("B2", "1.01", "2027-02-01 08:00", "2027-02-01 18:00", "welcome"),
    ]
    put(Buildings=buildings, Closures=closures)
    campus, room, building = load_closures()
    assert (campus.building, campus.room, campus.kind) == (None, None, "keep out"), (
        "without a kind: the careful reading"
    )
    assert (campus.start, campus.end) == (datetime(2027, 1, 1, tzinfo=UTC), datetime(2027, 1, 2, tzinfo=UTC))
    assert (building.start, building.end) == (
        datetime(2027, 3, 27, 8, tzinfo=UTC),
        datetime(2027, 3, 29, 7, tzinfo=UTC),
    )
    assert (room.start, room.kind) == (datetime(2027, 2, 1, 13, tzinfo=UTC), "welcome")
    snapshot = load_snapshot(closures=load_closures())
    assert room.room is not None
    assert snapshot.buildings[snapshot.rooms[room.room].building].key == "B2"
