"""The clock of the demo campus: a campus in mid-migration has a past and a next week, whatever day it is outside.

Everything asks Django's `timezone.now()` for the time. The demo makes its past by letting that answer other moments, and
leaves behind, in a file beside the campus's name, how far its clock is from the one on the wall: the site, its worker and
every command go by that. Without the file the clock is the machine's own.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

from django.conf import settings
from django.utils import timezone

Clock = Callable[[], datetime]


def wall_clock() -> datetime:
    """Return the time of the machine."""
    return datetime.now(UTC)


@contextmanager
def standing_at(moment: datetime) -> Iterator[None]:
    """Let the time stand still at a moment; afterwards the clock is what it was."""
    before: Clock = timezone.now
    _go_by(lambda: moment)
    try:
        yield
    finally:
        _go_by(before)


def set_campus_clock(moment: datetime) -> None:
    """Let the campus's clock show a moment now and go on from there, here and wherever this campus is served."""
    ahead = moment - wall_clock()
    settings.CAMPUS_CLOCK_FILE.write_text(f"{ahead.total_seconds():.0f}\n")
    _run_ahead(ahead)


def go_by_campus_clock() -> None:
    """Go by the clock that this campus was left with, if it has one of its own."""
    if settings.CAMPUS_CLOCK_FILE.exists():
        _run_ahead(timedelta(seconds=float(settings.CAMPUS_CLOCK_FILE.read_text())))


def go_by_wall_clock() -> None:
    """Go by the clock of the machine."""
    _go_by(wall_clock)


def has_own_clock() -> bool:
    """Tell whether the time that is shown is this campus's own."""
    return settings.CAMPUS_CLOCK_FILE.exists()


def _run_ahead(ahead: timedelta) -> None:
    _go_by(lambda: wall_clock() + ahead)


def _go_by(clock: Clock) -> None:
    timezone.now = clock
