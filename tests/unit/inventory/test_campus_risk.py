"""A whole campus and its log of failures into lives, the list by risk and places with trouble."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from inventory.core.campus_risk import NoDay, assess_risk, importance_by_node, recurrent_trouble, spares_on_hand
from inventory.core.catalogue import Catalogue, Model, NodeKind, Part, Spare
from inventory.core.lives import FailedBeforeInstalled, FailureLog, Outcome
from inventory.core.model_lives import Basis, expected_failures
from inventory.core.risk import GONE_DAYS, days_without_spare, riskiest_rooms
from inventory.core.snapshot import Snapshot
from tests.campuses import Draft

CATALOGUE = Catalogue(
    models=(
        Model(key="GW-2", kind=NodeKind.GATEWAY),
        Model(key="WS-20", kind=NodeKind.STATION, last_sold=date(2015, 1, 1)),
        Model(key="WS-70", kind=NodeKind.STATION, part="P-70"),
    ),
    parts=(Part(key="P-70", lead_time_days=20),),
    spares=(Spare(model="WS-20", on_hand=1, store="East"), Spare(model="WS-20", on_hand=2, store="West")),
)
STARTS = date(2010, 1, 1)


def campus(**changed: object) -> Snapshot:
    """Return forty old stations, two a room, of which one has no known day; ten new ones; and a gateway."""
    draft = Draft(catalogue=CATALOGUE)
    draft.building("B1")
    draft.bus("L1")
    for at in range(25):
        draft.room("B1", f"{at:02}", importance=5 if at == 3 else 1 if at else None)
    for at in range(40):
        installed = f"{1998 + at % 8}-05-01" if at != 20 else None
        draft.node(f"S{at:02}", "WS-20", "L1", room=f"{at // 2:02}", installed=installed)
    for at in range(40, 50):
        draft.node(f"S{at}", "WS-70", "L1", room=f"{at // 2:02}", installed="2020-05-01")
    draft.node("X-G", "GW-2", "L1", installed="2000-01-01")
    return replace(draft.snapshot(), **changed)  # type: ignore[arg-type]


def log_of(*rows: tuple[int, str, Outcome]) -> FailureLog:
    return FailureLog(
        node=np.array([row[0] for row in rows], dtype=np.int32),
        day=np.array([row[1] for row in rows], dtype="datetime64[D]"),
        outcome=np.array([row[2] for row in rows], dtype=np.int8),
        starts=STARTS,
    )


WORN = tuple((at, f"{2012 + at}-03-01", Outcome.REPLACED) for at in range(8))


def test_stations_are_ranked_and_those_of_unknown_age_stand_last() -> None:
    risk = assess_risk(campus(), log_of(*WORN))
    assert len(risk.ranking) == 50
    assert risk.ranking.station[-1] == 20
    assert np.isnan(risk.ranking.score[-1])
    assert not np.isnan(risk.ranking.score[:-1]).any()
    assert risk.problems == ()


def test_of_rooms_with_the_same_old_model_the_one_that_matters_most_comes_first() -> None:
    snapshot = campus()
    risk = assess_risk(snapshot, log_of(*WORN))
    rooms = riskiest_rooms(risk.ranking, snapshot.nodes.room, 25)
    assert next(key for key in (snapshot.rooms[one.room].key for one in rooms) if key < "20") == "03"
    assert [one.not_known for one in rooms if snapshot.rooms[one.room].key == "10"] == [1]
    assert len(riskiest_rooms(risk.ranking, snapshot.nodes.room)) == 10


def test_an_unknown_day_is_estimated_only_when_asked_and_marked() -> None:
    risk = assess_risk(campus(), log_of(*WORN), estimate_unknown=True)
    assert list(np.flatnonzero(risk.estimated)) == [20]
    row = int(np.flatnonzero(risk.ranking.station == 20)[0])
    assert risk.ranking.estimated[row]
    assert risk.ranking.age_years[row] == pytest.approx(25, abs=1.1)
    assert risk.ranking.estimated.sum() == 1


def test_an_estimate_never_makes_a_failure_come_before_installation() -> None:
    risk = assess_risk(campus(), log_of(*WORN, (20, "1999-06-01", Outcome.REPAIRED)), estimate_unknown=True)
    assert risk.problems == ()


def test_rows_that_contradict_the_records_are_left_out_and_told() -> None:
    risk = assess_risk(campus(), log_of(*WORN, (40, "2019-01-01", Outcome.REPAIRED)))
    assert [problem.kind for problem in risk.problems] == [FailedBeforeInstalled]
    assert risk.problems[0].message.startswith("S40 failed on 2019-01-01")


def test_a_removed_station_is_no_longer_ranked() -> None:
    risk = assess_risk(campus(), log_of(*WORN, (12, "2020-01-01", Outcome.REMOVED)))
    assert 12 not in risk.ranking.station


def test_the_new_model_leans_on_its_kind_and_the_gateway_on_everything() -> None:
    gateway, old, new = assess_risk(campus(), log_of(*WORN)).model_lives
    assert (old.basis, new.basis, gateway.basis) == (Basis.OWN, Basis.KIND, Basis.ALL)


def test_repairs_make_a_risk_but_take_no_spare() -> None:
    repaired = tuple((at, day, Outcome.REPAIRED) for at, day, _ in WORN)
    risk = assess_risk(campus(), log_of(*repaired))
    assert risk.model_lives[1].failures == 8
    assert {life.basis for life in risk.spare_lives} == {Basis.NOTHING}


def test_a_model_no_longer_sold_keeps_its_room_waiting_longer_than_one_with_a_lead_time() -> None:
    risk = assess_risk(campus(), log_of(*WORN))
    days = dict(zip(risk.ranking.station.tolist(), risk.ranking.days_without.tolist(), strict=True))
    assert days[49] == pytest.approx(20)
    assert 1 < days[0] < GONE_DAYS


def test_days_without_follow_from_the_demand_of_all_units_and_the_wait_for_one_no_longer_sold() -> None:
    # Of forty old stations one has no known age: it uses spares like the mean of the other thirty-nine. Three are on hand.
    snapshot = campus()
    risk = assess_risk(snapshot, log_of(*WORN))
    demand = expected_failures(risk.lives.age_years, snapshot.nodes.model, risk.spare_lives, 1.0)[:40]
    all_forty = np.array([np.nansum(demand) * 40 / 39])
    days = days_without_spare(all_forty, np.array([3]), np.array([GONE_DAYS]))[0]
    assert risk.ranking.days_without[risk.ranking.station == 0][0] == pytest.approx(days, rel=1e-12)


def test_where_nothing_failed_nothing_is_scored() -> None:
    risk = assess_risk(campus(), log_of())
    assert np.isnan(risk.ranking.score).all()
    assert riskiest_rooms(risk.ranking, campus().nodes.room) == ()


def test_a_room_that_fails_again_and_again_stands_out() -> None:
    snapshot = campus()
    again = tuple((30, f"{2013 + at}-07-01", Outcome.REPAIRED) for at in range(9))
    risk = assess_risk(snapshot, log_of(*WORN, *again))
    spots = recurrent_trouble(risk, snapshot.nodes.room, len(snapshot.rooms))
    assert [snapshot.rooms[spot.place].key for spot in spots if spot.stands_out] == ["15"]
    assert spots[0].failures == 9


def test_spares_add_up_over_stores_and_a_room_of_unknown_importance_is_not_known() -> None:
    assert list(spares_on_hand(CATALOGUE)) == [0, 3, 0]
    assert list(importance_by_node(campus())[[0, 2, 6, 50]]) == [-1, 1, 5, -1]


def test_a_snapshot_without_its_day_is_refused() -> None:
    with pytest.raises(NoDay, match="take the snapshot with its day"):
        assess_risk(campus(taken_on=None), log_of())
