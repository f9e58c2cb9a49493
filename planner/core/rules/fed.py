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
from planner.core.rules.feeding import contact_limit
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
    """What wires carry at most: of each wire its power pairs (0 not known) and limit a pair [A], of each option the contacts.

    contacts : int64[o], the fewest of the patch leads of the option, 0 where none is known.
    contact_a : float64[o], what one of them may carry [A]. section_a : float64[o], what any section of the line may,
    infinite where nothing bounds it. reached : bool[o], whether the way from the source is bounded.
    """

    pairs: Floats
    limit_a: Floats
    contacts: Longs
    contact_a: Floats
    section_a: Floats
    reached: Flags


def conduct_of(catalogue: Catalogue, cable: NDArray[np.int32], options: list[Option]) -> Conduct:
    """Return what wires carry at most; `cable` : the cable of each wire, -1 not known."""
    pairs, limit = np.zeros(len(catalogue.cables) + 1), np.zeros(len(catalogue.cables) + 1)
    for place, one in enumerate(catalogue.cables):
        area = area_mm2(one)
        if area is not None and one.power_pairs:
            pairs[place], limit[place] = one.power_pairs, area * DENSITY.value
    leads = [[lead.power_pairs for lead in cables_with_leads(catalogue, option) if lead] for option in options]
    contacts = np.array([min([count for count in lead if count], default=0) for lead in leads], dtype=np.int64)
    allowed = [
        contact_limit(option.new_protocol, max(count, 1))[0]
        for option, count in zip(options, contacts.tolist(), strict=True)
    ]
    sections = [SECTION.get(option.new_protocol) for option in options]
    return Conduct(
        pairs=pairs[cable],
        limit_a=limit[cable],
        contacts=contacts,
        contact_a=np.array(allowed),
        section_a=np.array([np.inf if section is None else section.value for section in sections]),
        reached=reaching(options),
    )


def _most_used(trials: Trials, feeds: Feeds, conduct: Conduct) -> tuple[Floats, Floats]:
    """Return current and limit of the conductor or contact of each trial that carries the most of its limit [A]."""
    count = len(trials)
    found, bound = np.full(count, np.nan), np.full(count, np.nan)
    amps = np.abs(np.nan_to_num(feeds.current_a, nan=0.0))
    option = trials.option[trials.wire_trial]
    contacts, contact_a = np.where(trials.leads > 0, conduct.contacts[option], 0), conduct.contact_a[option]
    with np.errstate(divide="ignore", invalid="ignore"):
        wire = np.where(conduct.pairs > 0, amps / conduct.pairs, np.nan)
        by_wire = np.where(conduct.limit_a > 0, wire / conduct.limit_a, np.where(conduct.pairs > 0, np.inf, -1.0))
        lead = np.where(contacts > 0, amps / contacts, np.nan)
        by_lead = np.where(contacts > 0, lead / contact_a, -1.0)
    first = by_wire >= by_lead
    used = np.where(first, by_wire, by_lead)
    carried, allowed = np.where(first, wire, lead), np.where(first, conduct.limit_a, contact_a)
    if np.isfinite(conduct.section_a).any():
        section = conduct.section_a[option]
        by_section = np.where(np.isfinite(section), amps / section, -1.0)
        over = by_section > used
        used = np.where(over, by_section, used)
        carried, allowed = np.where(over, amps, carried), np.where(over, section, allowed)
    filled = np.flatnonzero(np.diff(trials.first_wire) > 0)
    if not len(filled):
        return found, bound
    most = np.full(count, -1.0)
    most[filled] = np.maximum.reduceat(used, trials.first_wire[:-1][filled])
    at = np.flatnonzero((used == most[trials.wire_trial]) & (used >= 0.0))[::-1]  # of equals the first
    found[trials.wire_trial[at]] = carried[at]
    bound[trials.wire_trial[at]] = allowed[at]
    return found, bound
