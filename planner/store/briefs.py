"""Briefs, crews, phases and closures from tables to the records that the planner's core works with."""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from inventory.core.snapshot import Closure as ClosureRecord
from inventory.models import Building
from inventory.store import place_positions
from planner.core.brief import Brief as BriefRecord
from planner.core.brief import BriefError
from planner.core.brief_text import read_brief, read_days
from planner.core.plans import Crew as CrewRecord
from planner.core.plans import Phase as PhaseRecord
from planner.models import BriefSetting, Closure, Crew, Phase
from planner.models.briefs import FIRST_BRIEF

HOUR_MIN = 60
KEEP_OUT = "keep out"  # what a closure is where nobody wrote down its kind: the careful reading


def load_brief(name: str = FIRST_BRIEF) -> BriefRecord:
    """Return the brief of this name, defaults where nothing is set; BriefError where a setting cannot be used."""
    stored = dict(BriefSetting.objects.filter(brief__name=name).values_list("setting", "value"))
    brief, problems = read_brief(stored)
    if brief is None:
        first = problems[0]
        raise BriefError(name, first.value or "", f"{first.message}. {first.remedy}")
    return brief


def load_crews(brief_name: str = FIRST_BRIEF) -> tuple[CrewRecord, ...]:
    """Return the crews of a brief, sorted by key; one whose days or shift nobody wrote down keeps those of the brief."""
    brief = load_brief(brief_name)
    rows = Crew.objects.filter(brief__name=brief_name)
    return tuple(sorted((_crew(row, brief) for row in rows), key=lambda crew: crew.key))


def _crew(row: Crew, brief: BriefRecord) -> CrewRecord:
    return CrewRecord(
        key=row.key,
        people=row.people,
        days=read_days(row.days) if row.days else brief.work_days,
        shift_from_min=_minutes(row.shift_from, brief.work_from_min),
        shift_to_min=_minutes(row.shift_to, brief.work_to_min),
    )


def _minutes(clock: time | None, otherwise: int) -> int:
    return otherwise if clock is None else clock.hour * HOUR_MIN + clock.minute


def load_phases(brief_name: str = FIRST_BRIEF) -> tuple[PhaseRecord, ...]:
    """Return the phases of a brief, sorted by start and key."""
    rows = Phase.objects.filter(brief__name=brief_name)
    return tuple(sorted(map(_phase, rows), key=lambda phase: (phase.start, phase.key)))


def _phase(row: Phase) -> PhaseRecord:
    return PhaseRecord(
        key=row.key,
        start=row.start,
        end=row.end,
        budget=row.budget,
        materials_ordered_on=row.materials_ordered_on,
        districts=tuple(part.strip() for part in (row.districts or "").split(",") if part.strip()),
    )


def campus_zone() -> str:
    """Return the time zone that holds where a building has none: that of the first building that has one, else UTC."""
    named = Building.objects.filter(time_zone__isnull=False).order_by()
    zones = list(named.values_list("time_zone", flat=True).distinct()[:2])
    if len(zones) > 1:  # asked for on every page: names are compared only where they decide
        zones = [min(named.values_list("key", "time_zone"))[1]]
    return next(iter(zones), None) or "UTC"


def load_closures(brief_name: str = FIRST_BRIEF) -> tuple[ClosureRecord, ...]:
    """Return the closures that hold for a brief: the campus's that it does not lift, and its own, sorted by start.

    Their instants are in UTC, their places those of a snapshot.
    """
    buildings, rooms = place_positions()
    campus = campus_zone()
    zones: dict[int | None, str | None] = dict(Building.objects.values_list("pk", "time_zone"))
    found = [
        ClosureRecord(
            building=None if row.building_id is None else buildings.one(row.building_id),
            room=None if row.room_id is None else rooms.one(row.room_id),
            start=_instant(row.start, zones.get(row.building_id) or campus),
            end=_instant(row.end, zones.get(row.building_id) or campus),
            kind=row.kind or KEEP_OUT,
            why=row.why,
        )
        for row in closures_of(brief_name)
    ]
    return tuple(sorted(found, key=lambda one: (one.start, one.end, _place(one.building), _place(one.room), one.kind)))


def closures_of(brief_name: str) -> QuerySet[Closure]:
    """Return the rows of the closures that hold for a brief."""
    lifted = Closure.objects.filter(lifted_in__name=brief_name).values("pk")
    return Closure.objects.filter(brief__name__in=(FIRST_BRIEF, brief_name)).exclude(pk__in=lifted)


def _place(position: int | None) -> int:
    return -1 if position is None else position


def _instant(local: str, zone: str) -> datetime:
    """Return the instant of a local time; of one that a clock change repeats, the first."""
    return datetime.fromisoformat(local).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
