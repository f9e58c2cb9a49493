"""What arrives at the loads of every trial and what the wires carry, summed up to what the rules about power look at."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Catalogue
from inventory.core.limits import DENSITY, SECTION
from planner.core.brief import Brief
from planner.core.power import PowerState
from planner.core.rules.after import Trials
from planner.core.rules.answers import SLACK
from planner.core.rules.asking import cables_with_leads
from planner.core.rules.columns import ModelColumns, area_mm2
from planner.core.rules.farness import far_from_source_m, reaching
from planner.core.rules.feeding import lead_limits
from planner.core.rules.feeds import Feeds
from planner.core.rules.options import Option

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """Of each trial, float64[t] or bool[t].

    draws, hungry : whether anything, and whether an old station, draws from the bus as far as anyone knows. too_low,
    unreached, near : whether a load gets too little, is not wired to the source, has less than the reserve left.
    unsaid, said : whether the lowest supply of a load is not known, and of one is. source_v : NaN not known. amps,
    limit_a : of what carries the most of its limit, NaN where nothing is known well enough. stands : whether there
    is an operating point. known : whether no fact is missing for the voltage. far_m : way from the source to the
    farthest load where the bus bounds it, else 0.
    """

    sources: Longs
    draws: Flags
    hungry: Flags
    too_low: Flags
    unreached: Flags
    near: Flags
    unsaid: Flags
    said: Flags
    source_v: Floats
    source_a: Floats
    rating_w: Floats
    amps: Floats
    limit_a: Floats
    stands: Flags
    known: Flags
    far_m: Floats


def any_of(flags: Flags, trials: Trials) -> Flags:
    """Tell for each trial whether a side of it is marked."""
    found = np.zeros(len(trials), dtype=bool)
    found[trials.trial[np.flatnonzero(flags)]] = True
    return found


def sum_up(  # noqa: PLR0917 - what is summed, and what by
    trials: Trials, feeds: Feeds, load_w: Floats, columns: ModelColumns, conduct: "Conduct", brief: Brief
) -> Fed:
    """Return what the rules about power look at; `load_w` : float64[s], as `feeds` was measured with."""
    draws = load_w != 0.0
    lowest = columns.lowest_v[trials.after]
    margin = np.where(draws, feeds.voltage_v - lowest, np.nan)
    arrives = np.isfinite(feeds.voltage_v) & (feeds.voltage_v >= 0.0)
    said = draws & ~np.isnan(lowest)
    fed = feeds.source >= 0
    source_v, rating = np.full(len(trials), np.nan), np.full(len(trials), np.nan)
    source_v[fed] = columns.supply_v[trials.after[feeds.source[fed]]]
    rating[fed] = columns.rating_w[trials.after[feeds.source[fed]]]
    amps, limit = _most_used(trials, feeds, conduct)
    return Fed(
        sources=feeds.sources,
        draws=any_of(draws, trials),
        hungry=any_of(draws & trials.old, trials),
        too_low=any_of((margin < -SLACK) & ~np.isnan(load_w), trials),  # what draws nothing needs no voltage
        unreached=any_of(said & ~arrives, trials),
        near=any_of(margin < lowest * brief.reserve_pct / 100 - SLACK, trials),
        unsaid=any_of(draws & np.isnan(lowest), trials),
        said=any_of(said, trials),
        source_v=source_v,
        source_a=feeds.source_a,
        rating_w=rating,
        amps=amps,
        limit_a=limit,
        stands=(feeds.state != PowerState.NO_OPERATING_POINT) & (source_v != 0.0),
        known=feeds.known,
        far_m=far_from_source_m(trials, feeds, load_w, conduct.reached),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Conduct:
    """What carries the current of a wire, and how much that may be.

    wire, lead, section : its power conductors, contacts or conductors of a patch lead on it (by option), the whole of it (by
    option). cable : of each wire, places in `wire`. reached : bool[o], whether the way from the source is bounded.
    """

    cable: NDArray[np.int32]
    wire: "Carriers"
    lead: "Carriers"
    section: "Carriers"
    reached: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class Carriers:
    """Of each kind how many share the current, and what one of them may carry [A]; 0 of them where nothing is known."""

    count: Floats
    limit_a: Floats

    @property
    def share(self) -> Floats:
        """Return how much of its limit one ampere takes up; below zero where nothing is known."""
        with np.errstate(divide="ignore"):
            taken = 1.0 / (self.count * self.limit_a)
        return np.where(self.count > 0, taken, -1.0)

    def loaded(self, place: Longs | NDArray[np.int32], amps: Floats) -> tuple[Floats, Floats]:
        """Return what each of some carriers carries, and what it may [A]."""
        return amps / self.count[place], self.limit_a[place]


def conduct_of(catalogue: Catalogue, cable: NDArray[np.int32], options: list[Option]) -> Conduct:
    """Return what wires carry at most; `cable` : the cable of each wire, -1 not known."""
    pairs, limit = np.zeros(len(catalogue.cables) + 1), np.ones(len(catalogue.cables) + 1)
    for place, one in enumerate(catalogue.cables):
        area = area_mm2(one)
        if area is not None and one.power_pairs:
            pairs[place], limit[place] = one.power_pairs, area * DENSITY.value
    leads = [_narrowest(catalogue, option) for option in options]
    sections = [SECTION.get(option.new_protocol) for option in options]
    return Conduct(
        cable=cable,
        wire=Carriers(count=pairs, limit_a=limit),
        lead=Carriers(count=np.array([count for count, _ in leads]), limit_a=np.array([limit for _, limit in leads])),
        section=Carriers(
            count=np.array([float(section is not None) for section in sections]),
            limit_a=np.array([1.0 if section is None else section.value for section in sections]),
        ),
        reached=reaching(options),
    )


def _narrowest(catalogue: Catalogue, option: Option) -> tuple[float, float]:
    """Return over how many the current of a lead is shared and what one may carry [A], where least is left; 0 of them where nothing is known."""
    found = [
        (float(count), limit)
        for lead in cables_with_leads(catalogue, option)
        for _, count, limit, _ in lead_limits(option.new_protocol, lead)
    ]
    return min(found, key=lambda one: one[0] * one[1], default=(0.0, 1.0))


def _most_used(trials: Trials, feeds: Feeds, conduct: Conduct) -> tuple[Floats, Floats]:
    """Return current and limit of the conductor or contact of each trial that carries the most of its limit [A]."""
    count = len(trials)
    found, bound = np.full(count, np.nan), np.full(count, np.nan)
    filled = np.flatnonzero(np.diff(trials.first_wire) > 0)
    if not len(filled):
        return found, bound
    amps = np.abs(np.nan_to_num(feeds.current_a, nan=0.0))
    share = _shares(trials, conduct, np.arange(len(amps))).max(axis=0)
    with np.errstate(invalid="ignore"):
        used = amps * share
    used[np.isnan(used)] = np.inf  # what may carry nothing carries too much
    used[share < 0] = -1.0
    most = np.full(count, -1.0)
    most[filled] = np.maximum.reduceat(used, trials.first_wire[:-1][filled])
    at = np.flatnonzero((used == most[trials.wire_trial]) & (share >= 0.0))[::-1]
    worst = np.full(count, -1, dtype=np.int64)
    worst[trials.wire_trial[at]] = at  # of equals the first
    at = worst[worst >= 0]
    kind = _shares(trials, conduct, at).argmax(axis=0)
    option = trials.option[trials.wire_trial]
    for number, carriers in enumerate((conduct.wire, conduct.lead, conduct.section)):
        some = at[kind == number]
        place = conduct.cable[some] if carriers is conduct.wire else option[some]
        trial = trials.wire_trial[some]
        found[trial], bound[trial] = carriers.loaded(place, amps[some])
    return found, bound


def _shares(trials: Trials, conduct: Conduct, wires: Longs) -> Floats:
    """Return how much of its limit one ampere takes up in each of some wires, float64[3, w]: conductor, lead, section."""
    option = trials.option[trials.wire_trial[wires]]
    led = np.where(trials.leads[wires] > 0, conduct.lead.share[option], -1.0)
    return np.stack([conduct.wire.share[conduct.cable[wires]], led, conduct.section.share[option]])
