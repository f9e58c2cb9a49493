"""What converting a station is worth.

Benefit of an order is the sum over its stations of importance x risk, with importance of the room 1 to 5 (not known
counts as 3, the middle). Risk is, where the failures on record tell it, what inventory.core.risk reckons: the chance to
fail within twelve months at the age reached x the days until a working station hangs there. Where they do not, a rule of
thumb (common practice for ranking replacements, no measured rate): age / service life + 0.5 if support has ended + 0.25 for
each failure on record; an age or a life that is not known counts as a life just used up (1.0).

The two are of different size: reckoned risks are scaled so that their sum over the stations that have both is that of the
rule of thumb. So a campus of which nothing is told is ranked by the rule alone, and one station that is told of cannot
outweigh a building that is not.
"""

from datetime import date

import numpy as np

from inventory.core.campus_risk import CampusRisk, assess_risk
from inventory.core.catalogue import Model
from inventory.core.lives import FailureLog
from inventory.core.snapshot import Floats, Snapshot
from planner.core.campus_index import Campus

MIDDLE_IMPORTANCE = 3
SUPPORT_ENDED_RISK = 0.5
FAILURE_RISK = 0.25
USED_UP = 1.0
DAYS_A_YEAR = 365.25


def risk_of_campus(snapshot: Snapshot, log: FailureLog | None) -> CampusRisk | None:
    """Return what the failures on record say of a campus; None where there are none, or no day to count ages to."""
    if log is None or snapshot.taken_on is None or not len(log.node):
        return None
    return assess_risk(snapshot, log)


def risk_of_stations(snapshot: Snapshot, risk: CampusRisk | None) -> Floats | None:
    """Return importance x reckoned risk of each node [weighted days], NaN not told; None where nothing is told at all."""
    if risk is None:
        return None
    ranking = risk.ranking
    risks = np.full(len(snapshot.nodes), np.nan)
    risks[ranking.station] = ranking.score
    return risks if np.isfinite(risks).any() else None


def benefits(campus: Campus, stations: tuple[str, ...], risks: Floats | None) -> dict[str, float]:
    """Return importance x risk of stations by name, all that a plan is about at once."""
    thumb = np.array([_by_thumb(campus, campus.node[station]) for station in stations], dtype=np.float64)
    if risks is None or not stations:
        return dict(zip(stations, thumb.tolist(), strict=True))
    told = risks[[campus.node[station] for station in stations]]
    known = np.isfinite(told)
    total = float(told[known].sum())
    scale = float(thumb[known].sum()) / total if total > 0 else 0.0
    worth = np.where(known & (scale > 0), told * scale, thumb)
    return dict(zip(stations, worth.tolist(), strict=True))


def _by_thumb(campus: Campus, node: int) -> float:
    room = campus.room(node)
    importance = None if room is None else campus.snapshot.rooms[room].importance
    return (MIDDLE_IMPORTANCE if importance is None else importance) * _risk(campus, node)


def _risk(campus: Campus, node: int) -> float:
    model, today = campus.model(node), campus.snapshot.taken_on
    supported = None if model is None else model.supported_until
    ended = supported is not None and today is not None and supported < today
    failures = max(0, int(campus.snapshot.nodes.failures[node]))
    return _life_used(campus, node, model) + SUPPORT_ENDED_RISK * ended + FAILURE_RISK * failures


def _life_used(campus: Campus, node: int, model: Model | None) -> float:
    installed, today = campus.installed(node), campus.snapshot.taken_on
    life = None if model is None else model.service_life_years
    if installed is None or today is None or not life:
        return USED_UP
    return max(0, (today - installed).days) / DAYS_A_YEAR / life


def oldest_of(campus: Campus, stations: tuple[str, ...]) -> date | None:
    """Return the day the oldest of some stations was installed, None if none is known."""
    days = (campus.installed(campus.node[station]) for station in stations)
    return min((day for day in days if day is not None), default=None)
