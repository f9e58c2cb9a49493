"""The copper of the data pair: how much wire of a line counts for how much of the conductor that a length holds for.

A standard's length holds from a conductor size on. A line with thinner wire in it may be so long that its data pair
resists no more than the standard's at its longest: the sum of metre by mm2 of all its wire, patch leads among it, stays
within the standard's. All wire counts, since a stub may carry as much as the trunk. Many nodes load a CAN line, so
that from some count on its conductors may resist less than its length would allow.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Catalogue, Method, NodeKind, ProtocolRow
from inventory.core.conductors import ConductorError, parse_conductor
from inventory.core.limits import HOT_OHM_MM2_M, MANY, MANY_NODES, SHORTEST_RUN, SORTS_OF, can_conductor_ohm
from inventory.core.snapshot import Snapshot
from planner.core.findings import Finding, Outcome
from planner.core.rules.after import Trials, lead_of
from planner.core.rules.answers import SLACK, asks, say
from planner.core.rules.case import Case
from planner.core.rules.columns import PASSIVE, data_mm2
from planner.core.rules.options import Option
from planner.core.rules.sorts import is_mixed, times_longer
from planner.core.rules.things import cables_in_use, methods, run_words, speaking

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]


def thinnest_mm2(row: ProtocolRow) -> float | None:
    """Return the data conductor from which the lengths of a row hold [mm2].

    None where they hold for any, or differ by the sort of cable, which rule cable looks at; infinite where what the
    row says cannot be read, so that nothing is thick enough.
    """
    if row.data_conductor is None or row.protocol in SORTS_OF:
        return None
    try:
        return parse_conductor(row.data_conductor).area_mm2
    except ConductorError:
        return math.inf


def longest_m(row: ProtocolRow) -> float:
    """Return the least of the lengths that a row sets [m]."""
    lengths = (row.longest_bus_m, row.farthest_pair_m, row.total_wire_m)
    return min((length for length in lengths if length is not None), default=math.inf)


def most_copper(row: ProtocolRow) -> float | None:
    """Return the most metre by mm2 of data conductor that the lengths of a row hold for; None for any, below 0 for none."""
    least = thinnest_mm2(row)
    if least is None:
        return None
    return -1.0 if math.isinf(least) else longest_m(row) / least


def is_bound_by_nodes(row: ProtocolRow) -> bool:
    """Tell whether many nodes bind the copper of a line under a row."""
    return row.protocol in MANY


def most_copper_by_nodes(nodes: int) -> float | None:
    """Return the most metre by mm2 of data conductor for a count of nodes on a line that they bind; None for few."""
    return can_conductor_ohm(nodes) / HOT_OHM_MM2_M if nodes >= MANY_NODES else None


def on_thin_wire(case: Case, row: ProtocolRow, finding: Finding) -> Finding:
    """Return a finding about lengths, or what is not known where wire is thinner than the lengths hold for, or runs too short."""
    if finding.outcome not in (Outcome.PASS, Outcome.CLOSE):
        return finding
    most = most_copper(row)
    if most is not None and not case.copper <= most:
        return _too_thin(case, row, finding)
    by_nodes = most_copper_by_nodes(speaking(case)) if is_bound_by_nodes(row) else None
    if by_nodes is not None and not case.copper <= by_nodes:
        return _too_many(case, row, finding)
    shortest = SHORTEST_RUN.get(row.protocol)
    if shortest is not None and case.shortest_m < shortest.value - SLACK:
        why = f"{finding.why} A run between two nodes is {say(case.shortest_m, 'm')}, {say(shortest.value, 'm')} is the least."
        missing = (f"Whether a run on {case.segment} is really shorter than {say(shortest.value, 'm')}",)
        return asks("length", why, missing, f"{row.source}; {shortest.source}")
    return finding


def _too_thin(case: Case, row: ProtocolRow, finding: Finding) -> Finding:
    holds, least = f"The lengths hold from {row.data_conductor} on", thinnest_mm2(row)
    if least is None or math.isinf(least):
        return asks("length", f"{finding.why} {holds}.", (f"Data conductor of protocol {row.protocol}",), row.source)
    missing = conductors_missing(case)
    if missing:
        return asks("length", f"{finding.why} {holds}, and what is in use is not known.", missing, row.source)
    counted = f"all wire counts for {say(case.copper * least, 'm')} of that, {say(longest_m(row), 'm')} allowed"
    fact = f"Longest line of {row.protocol} on data conductors thinner than {row.data_conductor}"
    return asks("length", f"{finding.why} {holds}: {counted}.", (fact,), f"{row.source}; in proportion to copper")


def _too_many(case: Case, row: ProtocolRow, finding: Finding) -> Finding:
    """Ask about a line with so many nodes that its conductors may resist too much."""
    nodes, source = speaking(case), MANY[row.protocol].source
    most = f"{nodes} nodes allow each data conductor {say(can_conductor_ohm(nodes), 'ohm')}"
    missing = conductors_missing(case)
    if missing:
        return asks("length", f"{finding.why} {most}, and what is in use is not known.", missing, source)
    counted = f"all wire counts for {say(case.copper * HOT_OHM_MM2_M, 'ohm')} while hot"
    fact = f"Longest line of {row.protocol} with {nodes} nodes on the data conductors of {case.segment}"
    return asks("length", f"{finding.why} {most}; {counted}.", (fact,), source)


def conductors_missing(case: Case) -> list[str]:
    """Return what is not known about the data conductors in use, in words."""
    missing = [f"Data conductor of cable {cable.key}" for cable in cables_in_use(case) if data_mm2(cable) is None]
    missing += [f"Cable of {run_words(wire)}" for wire in case.wires if wire.cable is None]
    return missing + [f"Patch cable of {methods(case)}" for one in case.patch if one is None]


def measure_thin(snapshot: Snapshot, trials: Trials, options: Sequence[Option]) -> Floats:
    """Return how much wire of each trial is of the other sort that its protocol's trunk may be of in part, float64[t] [m].

    NaN where a fact is missing; 0 where no such sort is.
    """
    rows = [next((row for row in option.rows if times_longer(row) is not None), None) for option in options]
    at = _wires_of(trials, np.array([row is not None for row in rows], dtype=bool))
    if not len(at):
        return np.zeros(len(trials))
    row = next(row for row in rows if row is not None)
    told = [math.nan if data_mm2(cable) is None else float(is_mixed(row, cable)) for cable in snapshot.catalogue.cables]
    return _weighed(snapshot, trials, options, at, np.array([*told, math.nan]))


def measure_copper(snapshot: Snapshot, trials: Trials, options: Sequence[Option]) -> Floats:
    """Return the copper of each trial, float64[t], metre by mm2 of data conductor; NaN where a fact is missing.

    0 where no limit of the trial's protocol asks for it.
    """
    asked = np.array([any(map(_looks_at_copper, option.rows)) for option in options], dtype=bool)
    at = _wires_of(trials, asked)
    if not len(at):
        return np.zeros(len(trials))
    areas = [data_mm2(cable) for cable in snapshot.catalogue.cables]
    per_mm2 = np.array([*(math.nan if area is None else 1.0 / area for area in areas), math.nan])
    return _weighed(snapshot, trials, options, at, per_mm2)


def _weighed(  # noqa: PLR0917 - one argument a fact
    snapshot: Snapshot, trials: Trials, options: Sequence[Option], at: Longs, weight: Floats
) -> Floats:
    """Return the metres of some wires and their leads by trial, each times the weight of its cable (the last: not known)."""
    run = trials.run[at]
    length = snapshot.runs.length_m[run].astype(np.float64)
    length[~((length >= 0) & (length < np.inf))] = np.nan
    lead = _leads(snapshot.catalogue, options, weight)
    option = trials.option[trials.wire_trial[at]]
    found = length * weight[snapshot.runs.cable[run]]
    for end in (trials.tail[at], trials.head[at]):
        found += lead[option, trials.now[end]]
    return np.bincount(trials.wire_trial[at], weights=found, minlength=len(trials)).astype(np.float64)


def _looks_at_copper(row: ProtocolRow) -> bool:
    return thinnest_mm2(row) is not None or is_bound_by_nodes(row)


def _wires_of(trials: Trials, asked: Flags) -> Longs:
    """Return the wires of the trials of some options."""
    if not asked.any():
        return np.empty(0, dtype=np.int64)
    return np.flatnonzero(asked[trials.option[trials.wire_trial]])


def _leads(catalogue: Catalogue, options: Sequence[Option], per_mm2: Floats) -> Floats:
    """Return the copper of the leads at a run end, by option and model there; of gateways the most of the option's methods."""
    place = {model.key: number for number, model in enumerate(catalogue.models)}
    gateways = [number for number, model in enumerate(catalogue.models) if model.kind is NodeKind.GATEWAY]
    by_key = dict(zip((cable.key for cable in catalogue.cables), per_mm2[:-1].tolist(), strict=True))
    found = np.zeros((max(len(options), 1), len(catalogue.models) + 1))
    for number, option in enumerate(options):
        each = {method.old_model: _lead(method, by_key) for method in option.methods}
        for model, copper in each.items():
            found[number, place[model]] = copper
        if not option.like_for_like and each:
            found[number, gateways] = np.max(list(each.values()))
    return found


def _lead(method: Method, per_mm2: dict[str, float]) -> float:
    return lead_of(method, per_mm2)[1]


def measure_shortest(snapshot: Snapshot, trials: Trials, options: Sequence[Option]) -> Floats:
    """Return the shortest wire between two nodes that speak, of each trial [m]; infinite where nothing bounds it."""
    asked = np.array([option.new_protocol in SHORTEST_RUN for option in options], dtype=bool)
    at = _wires_of(trials, asked)
    found = np.full(len(trials), np.inf)
    if len(at):
        silent = np.array([*(model.kind in PASSIVE for model in snapshot.catalogue.models), False], dtype=bool)
        between = ~silent[trials.now[trials.tail[at]]] & ~silent[trials.now[trials.head[at]]]
        length = np.where(between, np.nan_to_num(trials.length_m[at], nan=np.inf), np.inf)
        np.minimum.at(found, trials.wire_trial[at], length)
    return found
