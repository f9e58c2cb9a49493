"""Which stations to replace first: chance to fail soon x importance of the room x days without a spare.

The product is the expected number of days, within the span looked at, that the station's room waits for a working station,
weighted by the room's importance. Unknown is never nought: a station whose age, or whose model's life, is not known has no
score and stands at the end of the list, marked.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import poisson

from inventory.core.lives import Days, Flags
from inventory.core.model_lives import ModelLife, expected_failures
from inventory.core.snapshot import Floats, Ints

MIDDLE_IMPORTANCE = 3  # of a room whose importance is not known
SWAP_DAYS = 1.0  # with a spare on the shelf; common practice
WAIT_DAYS = 30.0  # for one that is still sold, where its lead time is not known; common practice
GONE_DAYS = (
    180.0  # for one that is no longer sold: until a conversion can be designed, ordered and done; common practice
)
RANKED_YEARS = 1.0


class BadRisk(ValueError):  # noqa: N818 - says what is the matter
    """Figures for a ranking that cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """Stations, r rows, the riskiest first and those not known last.

    station : int32[r], positions. chance : to fail within the span. importance : 1 to 5. days_without : expected days until
    a working one hangs there, if it fails. score : their product. age_years : NaN not known. estimated : whether the age
    rests on an estimated day of installation.
    """

    station: Ints
    chance: Floats
    importance: Ints
    days_without: Floats
    score: Floats
    age_years: Floats
    estimated: Flags

    def __len__(self) -> int:
        return int(self.station.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRisk:
    """A room with the sum of its stations' scores, and how many of them have none."""

    room: int
    score: float
    stations: int
    not_known: int


def estimate_installed(
    installed: Days, model: Ints, building: Ints, first_failed: Days | None = None
) -> tuple[Days, Flags]:
    """Return days of installation with the unknown ones estimated, and which are.

    The estimate is the median day of the nodes of the same model in the same building (the earlier of two middle ones, so
    that the node is rather too old than too young); where there is none, the day stays not known.

    Parameters
    ----------
    installed : datetime64[D], shape (n,)
        NaT not known.
    model, building : int32, shape (n,)
        Positions; -1 not known: such a node has no neighbours.
    first_failed : datetime64[D], shape (n,), optional
        Day of each node's first failure, NaT none: it was there by then, so the estimate is never later.

    Returns
    -------
    installed : datetime64[D], shape (n,)
    estimated : bool, shape (n,)

    Examples
    --------
    >>> days = np.array(["2001-01-01", "2003-01-01", "NaT", "NaT"], "datetime64[D]")
    >>> estimate_installed(days, np.array([0, 0, 0, 1]), np.zeros(4, int))
    (array(['2001-01-01', '2003-01-01', '2001-01-01',        'NaT'],
          dtype='datetime64[D]'), array([False, False,  True, False]))

    """
    group = _group(model, building)
    known = ~np.isnat(installed) & (group >= 0)
    rows = np.flatnonzero(known)
    rows = rows[np.lexsort((installed[rows], group[rows]))]
    start = np.searchsorted(group[rows], group, side="left")
    count = np.searchsorted(group[rows], group, side="right") - start
    estimated = np.isnat(installed) & (group >= 0) & (count > 0)
    filled = installed.copy()
    filled[estimated] = installed[rows[(start + (count - 1) // 2)[estimated]]]
    if first_failed is not None:
        capped = estimated & (first_failed < filled)  # a comparison with NaT is false
        filled[capped] = first_failed[capped]
    return filled, estimated


def _group(model: Ints, building: Ints) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    wide = int(building.max(initial=0)) + 1
    return np.where((model >= 0) & (building >= 0), model.astype(np.int64) * wide + building, -1)


def shortage_share(mean: Floats, on_hand: Ints) -> Floats:
    """Return the share of failures that meet an empty shelf, failures coming by Poisson with a mean, spares not refilled.

    References
    ----------
    E[(D - s)+] / E[D] for D Poisson, s on hand = P(D >= s) - s P(D >= s + 1) / mean.

    Examples
    --------
    >>> shortage_share(np.array([2.0, 2.0]), np.array([0, 4])).round(4)
    array([1.    , 0.0376])

    """
    if (mean < 0).any() or (on_hand < 0).any():
        raise BadRisk("expected failures and spares on hand cannot be below 0")
    some = mean > 0
    safe = np.where(some, mean, 1.0)
    short = poisson.sf(on_hand - 1, safe) - on_hand * poisson.sf(on_hand, safe) / safe
    return np.where(some, np.clip(short, 0.0, 1.0), np.where(on_hand > 0, 0.0, 1.0))


def days_without_spare(mean: Floats, on_hand: Ints, wait_days: Floats) -> Floats:
    """Return for each model the expected days [d] from a failure to a working station.

    Parameters
    ----------
    mean : float64[k]
        Expected failures of the model within the span that the spares must last; NaN not known: taken as if each failure
        met an empty shelf.
    on_hand : int[k]
        Spares on the shelf.
    wait_days : float64[k]
        Days until one comes when the shelf is empty; NaN not known: WAIT_DAYS. Give GONE_DAYS for one no longer sold.

    """
    known = np.isfinite(mean)
    share = np.where(known, shortage_share(np.where(known, mean, 0.0), on_hand), 1.0)
    wait = np.where(np.isfinite(wait_days), wait_days, WAIT_DAYS)
    return share * np.maximum(wait, SWAP_DAYS) + (1 - share) * SWAP_DAYS


def rank_stations(
    *,
    stations: Ints,
    age_years: Floats,
    model: Ints,
    found: Sequence[ModelLife],
    importance: Ints,
    days_without: Floats,
    estimated: Flags,
    years: float = RANKED_YEARS,
) -> Ranking:
    """Return stations by the weight of what their failing would mean.

    Parameters
    ----------
    stations : int32[r]
        Positions of the nodes to rank.
    age_years, model, importance, estimated : shape (n,)
        By node: age [a], position in `found`, importance of the room (-1 not known: the middle), whether the age is estimated.
    found : sequence of ModelLife
        Lives of the models.
    days_without : float64[k]
        Days without a working station by model, see `days_without_spare`.
    years : float
        Span [a] within which failures count.

    Returns
    -------
    Ranking
        Equal scores by position; no score last.

    Raises
    ------
    BadRisk
        If the span is not above 0 or an importance is outside 1 to 5.

    """
    if not years > 0:
        raise BadRisk(f"the span looked at is {years} years; it must be above 0")
    weight = np.where(importance == -1, MIDDLE_IMPORTANCE, importance)[stations]
    if stations.size and not 1 <= int(weight.min()) <= int(weight.max()) <= 5:  # noqa: PLR2004 - the scale of importance
        raise BadRisk("importance must lie between 1 and 5")
    mine, age = model[stations], age_years[stations]
    chance = -np.expm1(-expected_failures(age, mine, found, years))
    days = np.concatenate((days_without, [np.nan]))[mine]
    score = chance * weight * days
    order = np.lexsort((stations, -np.where(np.isfinite(score), score, -1.0)))
    return Ranking(
        station=stations[order],
        chance=chance[order],
        importance=weight[order].astype(np.int32),
        days_without=days[order],
        score=score[order],
        age_years=age[order],
        estimated=estimated[stations][order],
    )


def riskiest_rooms(ranking: Ranking, room: Ints, count: int = 10) -> tuple[RoomRisk, ...]:
    """Return the rooms with the greatest sum of scores; `room` is the position of each node's room, -1 not known."""
    where = room[ranking.station]
    there = where >= 0
    known = there & np.isfinite(ranking.score)
    places = int(where.max(initial=-1)) + 1
    sums = np.bincount(where[known], weights=ranking.score[known], minlength=places)
    scored, all_there = (np.bincount(where[rows], minlength=places) for rows in (known, there))
    best = np.lexsort((np.arange(places), -sums))
    return tuple(
        RoomRisk(
            room=int(at), score=float(sums[at]), stations=int(all_there[at]), not_known=int(all_there[at] - scored[at])
        )
        for at in best[:count]
        if scored[at]
    )
