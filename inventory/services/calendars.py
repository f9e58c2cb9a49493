"""Putting the calendars that rooms name on file: all of them readable, or none is stored."""

import hashlib
from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from inventory.core.calendars import calendar_faults
from inventory.core.problems import Problem, Severity
from inventory.models import CalendarFile, Room
from inventory.store.targets import By


@transaction.atomic
def put_calendars(files: Mapping[str, bytes], by: By) -> tuple[Problem, ...]:
    """Store .ics files by name; return errors (then nothing is stored), or warnings about those still missing."""
    errors = calendar_errors(files)
    if errors:
        return errors
    now = timezone.now()
    on_file = dict(CalendarFile.objects.values_list("name", "sha256"))
    for name in sorted(files):
        sha256 = hashlib.sha256(files[name]).hexdigest()
        if on_file.get(name) != sha256:
            kept = {"content": files[name], "sha256": sha256, "taken_in": now, "by_id": by.pk if by else None}
            CalendarFile.objects.update_or_create(name=name, defaults=kept)
    return calendar_warnings()


def calendar_errors(files: Mapping[str, bytes]) -> tuple[Problem, ...]:
    """Return an error for each thing that keeps one of these calendars from being read."""
    return tuple(_fault(name, line, why) for name in sorted(files) for line, why in _faults(files[name]))


def _faults(content: bytes) -> list[tuple[int, str]]:
    return [(fault.line, fault.why) for fault in calendar_faults(content)]


def _fault(name: str, line: int, why: str) -> Problem:
    return Problem(
        code="calendar-unreadable",
        severity=Severity.ERROR,
        message=f"{name}, line {line}: {why}.",
        remedy="Export the calendar again, or mend the line; nothing was stored.",
        row=line,
        value=name,
    )


def calendar_warnings() -> tuple[Problem, ...]:
    """Return a warning for each calendar that rooms name and that is not on file."""
    rooms: dict[str, list[str]] = {}
    named = Room.objects.filter(calendar__isnull=False).exclude(calendar__in=CalendarFile.objects.values("name"))
    for building, room, name in named.values_list("building__key", "key", "calendar"):
        rooms.setdefault(str(name), []).append(f"{building} {room}")
    return tuple(_calendar_warning(name, sorted(rooms[name])) for name in sorted(rooms))


def _calendar_warning(name: str, rooms: list[str]) -> Problem:
    who = f"room {rooms[0]}" if len(rooms) == 1 else f"{len(rooms)} rooms ({rooms[0]} to {rooms[-1]})"
    return Problem(
        code="calendar-missing",
        severity=Severity.WARNING,
        message=f"The calendar {name} is not on file; {who} cannot be planned.",
        remedy=f"Put the file {name} on file, or blank the cell for a room that is never booked.",
        sheet="Rooms",
        column="Calendar",
        value=name,
    )
