"""What keeps single orders out of any plan is said while the plan is looked for, not only with it."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

import fixtures
from fixtures.make_campus import CALENDARS, WORKBOOK
from inventory.store.snapshot import load_snapshot
from planner.core.pipeline import Effort, prepare
from planner.core.verdicts import assess
from planner.services.intake import take_with_calendars
from planner.services.plan import load_team, plan_afresh_or_again
from planner.store.briefs import load_brief, load_closures

FOLDER = Path(fixtures.__file__).parent


@pytest.mark.django_db
def test_an_order_longer_than_any_window_is_named_from_the_first_word_on() -> None:
    calendars = {path.name: path.read_bytes() for path in (FOLDER / CALENDARS).glob("*.ics")}
    assert take_with_calendars((FOLDER / WORKBOOK).read_bytes(), WORKBOOK, calendars, by=None).stored
    now = datetime(2026, 11, 16, 9, tzinfo=UTC)
    snapshot = load_snapshot(now.date(), load_closures())
    prepared = prepare(snapshot, assess(snapshot, load_brief()), load_team("First plan"), now=now)
    key = prepared.demands.orders[0].key
    windows = tuple(
        replace(each, windows=(), longest_free_min=30) if each.order == key else each
        for each in prepared.demands.windows
    )
    told: list[str] = []

    def tell(doing: str, _: float | None = None) -> bool:
        told.append(doing)
        return False

    plan_afresh_or_again(
        replace(prepared, demands=replace(prepared.demands, windows=windows)),
        Effort(seconds=1.0, seed=1, workers=1),
        tell,
    )
    searching = [words for words in told if words.startswith("Making the plain list")]
    assert searching
    assert all(f"Known beforehand: Order {key} takes" in words for words in searching)
    assert all("the longest free time found is 30 min" in words for words in searching)
