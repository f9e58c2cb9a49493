"""The day on which tests plan the demo campus: its phases lie in 2027, and the clock of the machine goes on."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from planner.services.clock import standing_at

PLANNING_DAY = datetime(2026, 11, 16, 10, 0, tzinfo=UTC)  # before every phase of the demo campus


@contextmanager
def planning_day() -> Iterator[None]:
    """Let it be the day on which the demo campus is planned."""
    with standing_at(PLANNING_DAY):
        yield
