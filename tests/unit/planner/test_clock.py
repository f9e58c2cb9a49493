"""The demo's clock: it stands still for an act of the past, and runs on from the demo's own today; otherwise it is the machine's."""

from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import timezone

from planner.services import clock

MOMENT = datetime(2027, 4, 7, 8, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _own_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    monkeypatch.setattr(settings, "CAMPUS_CLOCK_FILE", tmp_path / "campus-clock")
    yield
    clock.go_by_wall_clock()


def ahead() -> timedelta:
    """Return how far the time that everything asks for is ahead of the machine's, to the hour."""
    hours = round((timezone.now() - clock.wall_clock()) / timedelta(hours=1))
    return timedelta(hours=hours)


def test_it_stands_still_for_as_long_as_an_act_takes_and_is_put_right_after_a_failure() -> None:
    with clock.standing_at(MOMENT):
        assert timezone.now() == timezone.now() == MOMENT
        assert timezone.localdate() == date(2027, 4, 7)
    assert ahead() == timedelta(0)
    with suppress(ZeroDivisionError), clock.standing_at(MOMENT):
        1 / 0  # noqa: B018 - an act that fails
    assert ahead() == timedelta(0)


def test_a_campus_with_a_clock_of_its_own_is_shown_by_it_by_every_process() -> None:
    clock.set_campus_clock(clock.wall_clock() + timedelta(days=400))
    assert ahead() == timedelta(days=400)
    clock.go_by_wall_clock()
    assert ahead() == timedelta(0)
    clock.go_by_campus_clock()
    assert clock.has_own_clock()
    assert ahead() == timedelta(days=400)


def test_a_campus_without_one_is_shown_by_the_clock_of_the_machine() -> None:
    clock.go_by_campus_clock()
    assert not clock.has_own_clock()
    assert ahead() == timedelta(0)
