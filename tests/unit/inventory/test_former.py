"""Units that an accepted order took down: their lives and failures stay theirs, and an earlier day can be told again."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from inventory.core.campus_risk import CampusRisk, assess_risk, recurrent_trouble
from inventory.core.catalogue import Catalogue, Model, NodeKind
from inventory.core.former import as_it_stood, units_of
from inventory.core.lives import FailedBeforeInstalled, FailureLog, FormerUnits, Outcome
from inventory.core.snapshot import Snapshot
from tests.campuses import Draft

OLD, NEW = 0, 1
CATALOGUE = Catalogue(
    models=(Model(key="WS-20", kind=NodeKind.STATION), Model(key="WS-70", kind=NodeKind.STATION)),
)
BEFORE, AFTER, TODAY = date(2026, 11, 2), date(2027, 1, 25), date(2027, 4, 7)
CONVERTED = (0, 1, 2, 3)
Row = tuple[int, str, Outcome]
WORN: tuple[Row, ...] = tuple((at, f"{2012 + at}-03-01", Outcome.REPLACED) for at in range(8))


def campus(*, converted: tuple[int, ...] = (), on: date = TODAY) -> Snapshot:
    draft = Draft(catalogue=CATALOGUE)
    draft.building("B1")
    draft.bus("L1")
    for at in range(10):
        draft.room("B1", f"{at}")
    for at in range(20):
        model, day = ("WS-70", str(AFTER)) if at in converted else ("WS-20", f"{2000 + at % 5}-05-01")
        draft.node(f"S{at:02}", model, "L1", room=f"{at // 2}", installed=day)
    return replace(draft.snapshot(), taken_on=on)


def log_of(*rows: Row, former: FormerUnits | None = None) -> FailureLog:
    return FailureLog(
        node=np.array([row[0] for row in rows], dtype=np.int32),
        day=np.array([row[1] for row in rows], dtype="datetime64[D]"),
        outcome=np.array([row[2] for row in rows], dtype=np.int8),
        starts=date(2010, 1, 1),
        former=former,
    )


def former_of(*rows: tuple[int, int, str, str]) -> FormerUnits:
    return FormerUnits(
        node=np.array([row[0] for row in rows], dtype=np.int32),
        model=np.array([row[1] for row in rows], dtype=np.int32),
        installed=np.array([row[2] for row in rows], dtype="datetime64[D]"),
        removed=np.array([row[3] for row in rows], dtype="datetime64[D]"),
    )


TAKEN_DOWN = former_of(*((at, OLD, f"{2000 + at % 5}-05-01", str(AFTER)) for at in CONVERTED))


def test_failures_of_what_hung_there_before_are_its_own_and_no_contradiction() -> None:
    snapshot = campus(converted=CONVERTED)
    assert len(assess_risk(snapshot, log_of(*WORN)).problems) == 4, "without knowing of the old ones"
    risk = assess_risk(snapshot, log_of(*WORN, former=TAKEN_DOWN))
    assert risk.problems == ()
    assert [life.failures for life in risk.model_lives] == [8, 0]


def test_the_life_of_what_was_taken_down_ends_alive_on_that_day() -> None:
    risk = assess_risk(campus(converted=CONVERTED), log_of(*WORN, former=TAKEN_DOWN))
    mine = risk.unit_node[risk.lives.node] == 0
    last = mine & (risk.unit_model[risk.lives.node] == OLD) & ~risk.lives.failed
    # replaced at noon of 1 March 2012, taken down on 25 January 2027
    assert risk.lives.exit_years[last] == pytest.approx([(AFTER - date(2012, 3, 1)).days / 365.2425], abs=0.002)
    new = mine & (risk.unit_model[risk.lives.node] == NEW)
    assert risk.lives.exit_years[new] == pytest.approx([(TODAY - AFTER).days / 365.2425])


def test_what_hangs_there_now_is_ranked_once_and_by_its_own_age() -> None:
    risk = assess_risk(campus(converted=CONVERTED), log_of(*WORN, former=TAKEN_DOWN))
    assert sorted(risk.ranking.station.tolist()) == list(range(20))
    assert risk.lives.age_years.size == risk.lives.on_wall.size == risk.estimated.size == 20
    assert risk.ranking.age_years[risk.ranking.station == 0] == pytest.approx((TODAY - AFTER).days / 365.2425)


def test_a_failure_before_the_old_one_was_installed_is_still_a_contradiction() -> None:
    risk = assess_risk(campus(converted=CONVERTED), log_of((0, "1999-01-01", Outcome.REPAIRED), former=TAKEN_DOWN))
    assert [one.kind for one in risk.problems] == [FailedBeforeInstalled]
    assert risk.problems[0].message.startswith("S00 failed on 1999-01-01, before it was installed on 2000-05-01")


def test_of_two_that_hung_there_one_after_the_other_each_has_its_own_and_the_day_of_change_is_the_next_ones() -> None:
    two = former_of((0, NEW, "2010-01-01", "2020-06-01"), (0, OLD, "2000-05-01", "2010-01-01"))
    rows = ((0, day, Outcome.REPAIRED) for day in ("2009-12-31", "2010-01-01", "2020-05-31", "2020-06-01"))
    units = units_of(campus(), log_of(*rows, former=two), TODAY)
    assert units.log.node.tolist() == [21, 20, 20, 0]


def test_a_room_keeps_its_trouble_though_its_station_was_replaced() -> None:
    again = tuple((0, f"2013-{month:02}-01", Outcome.REPAIRED) for month in range(1, 13))
    snapshot = campus(converted=CONVERTED)
    risk = assess_risk(snapshot, log_of(*WORN, *again, former=TAKEN_DOWN))
    spots = recurrent_trouble(risk, snapshot.nodes.room, len(snapshot.rooms))
    assert [snapshot.rooms[spot.place].key for spot in spots if spot.stands_out] == ["0"]


def same(one: CampusRisk, other: CampusRisk) -> bool:
    pairs = ((one.ranking.station, other.ranking.station), (one.lives.exit_years, other.lives.exit_years))
    return all(np.array_equal(a, b) for a, b in pairs) and one.model_lives == other.model_lives


def test_an_earlier_day_is_told_as_it_was_told_then() -> None:
    then = assess_risk(campus(on=BEFORE), log_of(*WORN))
    later = log_of(*WORN, (0, "2027-02-01", Outcome.REPAIRED), (9, "2027-03-01", Outcome.REMOVED), former=TAKEN_DOWN)
    risk = assess_risk(*as_it_stood(campus(converted=CONVERTED), later, BEFORE))
    assert same(risk, then)
    assert risk.problems == (), "what was not known yet is no contradiction either"
    assert not same(assess_risk(campus(converted=CONVERTED), later), then)


def test_of_two_taken_down_since_the_earlier_one_hung_there() -> None:
    two = former_of((0, NEW, "2027-01-10", "2027-02-01"), (0, OLD, "2000-05-01", "2027-01-10"))
    snapshot, log = as_it_stood(campus(converted=(0,)), log_of(former=two), BEFORE)
    assert (snapshot.nodes.model[0], str(snapshot.nodes.installed[0])) == (OLD, "2000-05-01")
    assert log.former is not None
    assert len(log.former) == 0
