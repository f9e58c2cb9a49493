"""What ranges tell of many trials at once is what they tell of each in words."""

from dataclasses import replace

import numpy as np
import pytest

from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.brief import Brief
from planner.core.judgements import judge
from planner.core.screening import screen_campus
from planner.core.telling import told_by_arrays
from planner.core.verdicts import assess
from tests.bench.big_campus import big_campus

BRIEF = Brief()


def hungry(seed: int) -> Snapshot:
    """Return a campus of hungry stations, on which every seventh run is long and of a cable that nobody knows."""
    snapshot = big_campus(seed, 8_000)
    models = tuple(
        replace(model, draw_w=model.draw_w * 8) if model.draw_w else model for model in snapshot.catalogue.models
    )
    seventh = np.arange(len(snapshot.runs.cable)) % 7 == 0
    cable = np.where(seventh, UNKNOWN, snapshot.runs.cable).astype(snapshot.runs.cable.dtype)
    length_m = np.where(seventh, 200.0, snapshot.runs.length_m)
    return replace(
        snapshot,
        catalogue=replace(snapshot.catalogue, models=models),
        runs=replace(snapshot.runs, cable=cable, length_m=length_m),
    )


@pytest.mark.parametrize(
    "snapshot", [big_campus(1, 8_000), hungry(1), hungry(2)], ids=["usual", "hungry", "hungry too"]
)
def test_verdicts_of_a_campus_that_lacks_lengths_and_cables_are_those_in_words(snapshot: Snapshot) -> None:
    judgements = judge(snapshot, BRIEF)
    told = [judgements.verdict_of(label) for label in range(len(judgements))]
    assert told == [(report.verdict, report.decided_by) for report in assess(snapshot, BRIEF)]


def test_a_run_of_unknown_cable_that_is_too_long_even_for_the_best_fails_without_words() -> None:
    campus = judge(hungry(1), BRIEF).campus
    screened = screen_campus(campus)
    failing = screened.failing
    asking = screened.unknown.any(axis=0) & ~failing.any(axis=0) & ~screened.screen.tally.doubtful
    before = failing.any(axis=0)
    worded = told_by_arrays(campus, screened, failing, asking)
    fails = np.flatnonzero(failing.any(axis=0) & ~before)
    assert len(fails)
    assert not worded.any()
    assert screened.screen.tally.cables[fails, -1].all()
