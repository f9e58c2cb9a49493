"""A campus and its log of failures into lives, the list by risk, and places with trouble: the whole sentence of ageing.

snapshot, log -> sound log -> days of installation -> lives -> lives of models -> days without a spare -> ranking
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from inventory.core.catalogue import Catalogue, NodeKind
from inventory.core.former import units_of
from inventory.core.lives import (
    EVERY_FAILURE,
    TAKES_A_SPARE,
    BadLog,
    Days,
    FailureLog,
    Flags,
    Lives,
    LogProblem,
    first_failures,
    lives_of,
    log_problems,
    sound_log,
)
from inventory.core.model_lives import ModelLife, expected_by_spell, expected_failures, fit_models
from inventory.core.recurrence import TroubleSpot, sum_by_place, trouble_spots
from inventory.core.risk import GONE_DAYS, Ranking, days_without_spare, estimate_installed, rank_stations
from inventory.core.snapshot import UNKNOWN, Floats, Ints, Snapshot


class NoDay(BadLog):
    """The snapshot does not say on which day it was taken, so nothing has an age."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CampusRisk:
    """What the records of a campus say of its ageing.

    lives : by every failure; its spells are of units (see `inventory.core.former`), its ages of the n nodes. unit_node,
    unit_model : of each unit, positions. model_lives, spare_lives : of each model of the catalogue, by every failure and by
    those that take a spare. ranking : the stations. estimated : bool[n], nodes whose day of installation is an estimate;
    installed : datetime64[D][n], with these estimates. problems : rows of the log that were left out, by unit.
    """

    lives: Lives
    unit_node: Ints
    unit_model: Ints
    model_lives: tuple[ModelLife, ...]
    spare_lives: tuple[ModelLife, ...]
    ranking: Ranking
    estimated: Flags
    installed: Days
    problems: tuple[LogProblem, ...]


def assess_risk(snapshot: Snapshot, log: FailureLog, *, estimate_unknown: bool = False) -> CampusRisk:
    """Return what the records of a campus say of its ageing.

    Parameters
    ----------
    snapshot : Snapshot
        With the day to which ages are counted.
    log : FailureLog
        Failures of the snapshot's nodes. Rows that contradict the records are left out and told of.
    estimate_unknown : bool
        Whether unknown days of installation are estimated from neighbours of the same model and building.

    Returns
    -------
    CampusRisk

    Raises
    ------
    NoDay
        If the snapshot has no day.

    """
    if snapshot.taken_on is None:
        raise NoDay("the day to which ages are counted is not known: take the snapshot with its day")
    nodes, count = snapshot.nodes, len(snapshot.nodes)
    units = units_of(snapshot, log, snapshot.taken_on)
    problems = log_problems(units.names, units.installed, units.log, snapshot.taken_on)
    sound = sound_log(units.log, problems)
    installed, estimated = units.installed, np.zeros(units.node.size, dtype=np.bool_)
    if estimate_unknown:
        first = first_failures(sound, units.node.size)
        installed, estimated = estimate_installed(installed, units.model, units.building, first)
    every, spending = (
        lives_of(units.names, installed, sound, snapshot.taken_on, counting=counting, until=units.until)
        for counting in (EVERY_FAILURE, TAKES_A_SPARE)
    )
    models = [(model.key, model.kind.value) for model in snapshot.catalogue.models]
    found, spare_lives = (fit_models(one, units.model, models) for one in (every, spending))
    lives = replace(every, age_years=every.age_years[:count], on_wall=every.on_wall[:count])
    ranking = rank_stations(
        stations=_stations(snapshot, lives),
        age_years=lives.age_years,
        model=nodes.model,
        found=found,
        importance=importance_by_node(snapshot),
        days_without=_days_without(snapshot, lives, spare_lives),
        estimated=estimated[:count],
    )
    return CampusRisk(
        lives=lives,
        unit_node=units.node,
        unit_model=units.model,
        model_lives=found,
        spare_lives=spare_lives,
        ranking=ranking,
        estimated=estimated[:count],
        installed=installed[:count],
        problems=problems,
    )


def _stations(snapshot: Snapshot, lives: Lives) -> Ints:
    kinds = np.array([model.kind is NodeKind.STATION for model in snapshot.catalogue.models] + [False])
    return np.flatnonzero(kinds[snapshot.nodes.model] & lives.on_wall).astype(np.int32)


def importance_by_node(snapshot: Snapshot) -> Ints:
    """Return the importance of each node's room, -1 not known."""
    by_room = [UNKNOWN if room.importance is None else room.importance for room in snapshot.rooms]
    return np.array([*by_room, UNKNOWN], dtype=np.int32)[snapshot.nodes.room]


def spares_on_hand(catalogue: Catalogue) -> Ints:
    """Return the spares of each model over all stores."""
    found: dict[str, int] = defaultdict(int)
    for spare in catalogue.spares:
        found[spare.model] += spare.on_hand
    return np.array([found[model.key] for model in catalogue.models], dtype=np.int32)


def _days_without(snapshot: Snapshot, lives: Lives, found: Sequence[ModelLife]) -> Floats:
    """Return the days without a working one by model; units of unknown age count like the mean of the known ones."""
    mean = expected_failures(lives.age_years, snapshot.nodes.model, found, 1.0)
    count, model = len(snapshot.catalogue.models), snapshot.nodes.model
    named = lives.on_wall & (model >= 0)
    known = named & np.isfinite(mean)
    sums = np.bincount(model[known], weights=mean[known], minlength=count)
    told, there = (np.bincount(model[rows], minlength=count) for rows in (known, named))
    by_model = np.divide(sums * there, told, out=np.full(count, np.nan), where=told > 0)
    return days_without_spare(by_model, spares_on_hand(snapshot.catalogue), _wait_days(snapshot))


def _wait_days(snapshot: Snapshot) -> Floats:
    """Return the days until a new unit of each model comes: its lead time, GONE_DAYS if no longer sold, NaN not known."""
    leads = {part.key: part.lead_time_days for part in snapshot.catalogue.parts}
    today = snapshot.taken_on
    found = []
    for model in snapshot.catalogue.models:
        gone = model.last_sold is not None and today is not None and model.last_sold < today
        lead = leads.get(model.part or "")
        found.append(GONE_DAYS if gone else np.nan if lead is None else float(lead))
    return np.array(found, dtype=np.float64)


def recurrent_trouble(risk: CampusRisk, place: Ints, places: int, *, level: float = 0.05) -> tuple[TroubleSpot, ...]:
    """Return the places whose failures stand out against what lives like those of their equipment give.

    Parameters
    ----------
    risk : CampusRisk
        Of the campus.
    place : int32[n]
        By node: its room, bus or segment (-1 not known: left out).
    places : int
        How many places there are.
    level : float
        Chance of naming any ordinary place that is borne.

    """
    expected = expected_by_spell(risk.lives, risk.unit_model, risk.model_lives)
    told = np.isfinite(expected)
    unit, where = risk.lives.node[told], place[risk.unit_node]
    failures = sum_by_place(where, unit, risk.lives.failed[told].astype(np.float64), places)
    return trouble_spots(failures.astype(np.int32), sum_by_place(where, unit, expected[told], places), level=level)
