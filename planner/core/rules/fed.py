"""What arrives at the loads of every trial and what the wires carry, summed up to what the rules about power look at."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Catalogue
from inventory.core.limits import DENSITY
from planner.core.brief import Brief
from planner.core.compiled import compiled
from planner.core.power import PowerState
from planner.core.rules.after import Trials
from planner.core.rules.answers import SLACK
from planner.core.rules.asking import cables_with_leads
from planner.core.rules.columns import ModelColumns, area_mm2
from planner.core.rules.farness import far_from_source_m, reaching
from planner.core.rules.feeding import lead_limits, section_limit
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


DRAWS, HUNGRY, TOO_LOW, UNREACHED, NEAR, UNSAID, SAID = range(7)  # flags of a trial, by what is so of one of its sides


def sum_up(  # noqa: PLR0917 - what is summed, and what by
    trials: Trials, feeds: Feeds, load_w: Floats, columns: ModelColumns, conduct: "Conduct", brief: Brief
) -> Fed:
    """Return what the rules about power look at; `load_w` : float64[s], as `feeds` was measured with."""
    flags = np.zeros((7, len(trials)), dtype=np.bool_)
    bounds = brief.reserve_pct / 100, SLACK
    _flag(trials.trial, trials.old, load_w, feeds.voltage_v, columns.lowest_v[trials.after], bounds, flags)
    fed = feeds.source >= 0
    source_v, rating = np.full(len(trials), np.nan), np.full(len(trials), np.nan)
    source_v[fed] = columns.supply_v[trials.after[feeds.source[fed]]]
    rating[fed] = columns.rating_w[trials.after[feeds.source[fed]]]
    amps, limit = _most_used(trials, feeds, conduct)
    return Fed(
        sources=feeds.sources,
        draws=flags[DRAWS],
        hungry=flags[HUNGRY],
        too_low=flags[TOO_LOW],
        unreached=flags[UNREACHED],
        near=flags[NEAR],
        unsaid=flags[UNSAID],
        said=flags[SAID],
        source_v=source_v,
        source_a=feeds.source_a,
        rating_w=rating,
        amps=amps,
        limit_a=limit,
        stands=(feeds.state != PowerState.NO_OPERATING_POINT) & (source_v != 0.0),
        known=feeds.known,
        far_m=far_from_source_m(trials, feeds, load_w, conduct.reached),
    )


@compiled
def _flag(  # noqa: PLR0917 - columns
    trial: Longs, old: Flags, load_w: Floats, volts: Floats, lowest: Floats, bounds: tuple[float, float], flags: Flags
) -> None:
    """Mark of each trial what is so of a side that draws, or may; `bounds` : reserve and slack."""
    reserve, slack = bounds
    for side in range(trial.size):
        if load_w[side] == 0.0:
            continue
        at, need, margin = trial[side], lowest[side], volts[side] - lowest[side]
        flags[DRAWS, at] = True
        flags[HUNGRY, at] |= old[side]
        flags[TOO_LOW, at] |= margin < -slack and not np.isnan(load_w[side])  # what draws nothing needs no voltage
        flags[NEAR, at] |= margin < need * reserve - slack
        flags[UNSAID, at] |= np.isnan(need)
        flags[SAID, at] |= not np.isnan(need)
        flags[UNREACHED, at] |= not np.isnan(need) and not (0.0 <= volts[side] < np.inf)


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
    sections = [
        section_limit(option.new_protocol, has_leads=bool(cables_with_leads(catalogue, option))) for option in options
    ]
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
    shares = conduct.wire.share, conduct.lead.share, conduct.section.share
    places = conduct.cable, trials.leads, trials.option
    worst, kind = _most_loaded(trials.first_wire, feeds.current_a, places, shares)
    trial = np.flatnonzero(worst >= 0)
    for number, carriers in enumerate((conduct.wire, conduct.lead, conduct.section)):
        some = trial[kind[trial] == number]
        place = conduct.cable[worst[some]] if carriers is conduct.wire else trials.option[some]
        amps = np.abs(np.nan_to_num(feeds.current_a[worst[some]], nan=0.0))
        found[some], bound[some] = carriers.loaded(place, amps)
    return found, bound


@compiled
def _most_loaded(
    first: Longs,
    current: Floats,
    places: tuple[NDArray[np.int32], NDArray[np.int8], Longs],
    shares: tuple[Floats, Floats, Floats],
) -> tuple[Longs, Longs]:
    """Return for each trial the wire with a carrier that takes up the most of its limit, and the kind of that carrier.

    -1 where nothing is known of any; of equals the first. `shares` : how much of its limit one ampere takes up in a
    conductor, by cable, in a contact or conductor of a lead, and in the whole of a wire, by option; below 0 not known.
    """
    cable, leads, option = places
    of_wire, of_lead, of_section = shares
    worst, kind = np.full(option.size, -1), np.zeros(option.size, np.int64)
    for trial in range(option.size):
        most = -1.0
        lead, section = of_lead[option[trial]], of_section[option[trial]]
        for wire in range(first[trial], first[trial + 1]):
            share, which = of_wire[cable[wire]], 0
            if leads[wire] > 0 and lead > share:
                share, which = lead, 1
            if section > share:
                share, which = section, 2
            if share < 0.0:
                continue
            amps = 0.0 if np.isnan(current[wire]) else abs(current[wire])
            used = amps * share
            if np.isnan(used):  # what may carry nothing carries too much
                used = np.inf
            if used > most:
                most, worst[trial], kind[trial] = used, wire, which
    return worst, kind
