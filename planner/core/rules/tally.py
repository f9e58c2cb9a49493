"""Every trial as one row of what the rules look at: counted, summed up, or looked up by kind."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Model
from inventory.core.snapshot import ENDS_SWITCH, ENDS_YES, UNKNOWN, Snapshot
from planner.core.brief import Brief
from planner.core.rules.after import Trials, any_of
from planner.core.rules.asking import PASS, Station, ask_box, ask_functions, ask_member
from planner.core.rules.cases import rows_by_node
from planner.core.rules.columns import ModelColumns
from planner.core.rules.copper import measure_copper, measure_shortest, measure_thin
from planner.core.rules.lengths import Lengths
from planner.core.rules.options import Option
from planner.core.segments import Segments

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]
Codes = NDArray[np.int8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Of each trial.

    alone, gateway, records, fed_too, box, box_adapted, functions : int8[t], the worst answer about a member (of the
    gateway where there is one), as codes of `asking`. gateway_side : int64[t], a side at a gateway, -1 for none.
    gateways, stations, speaking, built_in, silent_ends : counts; built_in : end resistors that are in for good.
    able : whether any end resistor is there or may be; at_ends, bare : how many built-in ones stand at an end of the
    trunk, and whether an end of it has none. at_far, far_bare, inside : built-in ones at an end of the trunk that is not
    the gateway's, whether no such end has one or may have, and whether the gateway is at no end. unit_loads : sum of those known; unit_unsaid : whether one is not.
    loops, silent, doubtful, open, lost : of its segment: whether a loop is closed, wiring is missing from the records,
    membership is doubtful, anything is open, a node nearby may be on it. cables : bool[t, c + 1], kinds in use, the
    last for not known. copper, thin_m, shortest_m : as `copper` measures them.
    """

    segment: Longs
    option: Longs
    alone: Codes
    gateway: Codes
    gateway_side: Longs
    records: Codes
    fed_too: Codes
    box: Codes
    box_adapted: Codes
    functions: Codes
    gateways: Longs
    stations: Longs
    speaking: Longs
    built_in: Longs
    silent_ends: Longs
    able: Flags
    at_ends: Longs
    bare: Flags
    all_bare: Flags
    at_far: Longs
    far_bare: Flags
    inside: Flags
    unit_loads: Floats
    unit_unsaid: Flags
    loops: Flags
    silent: Flags
    doubtful: Flags
    open: Flags
    lost: Flags
    cables: Flags
    lengths: Lengths
    copper: Floats
    thin_m: Floats
    shortest_m: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class OfSegments:
    """What is open about each segment, bool[k]; `lost` : segments near which a node may be on them that names no bus."""

    silent: Flags
    doubtful: Flags
    open: Flags
    lost: Flags


def tally(  # noqa: PLR0917 - each is one stage's result
    snapshot: Snapshot,
    segments: Segments,
    brief: Brief,
    options: Sequence[Option],
    protocols: Sequence[str | None],
    trials: Trials,
    lengths: Lengths,
    columns: ModelColumns,
    of: OfSegments,
) -> Tally:
    """Return the trials as rows; `protocols` are those of the segments."""
    members = _members(snapshot, brief, options, protocols, trials)
    stations = _stations(snapshot, segments, brief, options, trials)
    gate = columns.gateway[trials.now]
    gateway_side = np.full(len(trials), UNKNOWN, dtype=np.int64)
    gateway_side[trials.trial[gate]] = np.flatnonzero(gate)
    units = columns.unit_loads[trials.after]
    ends = trials.ends
    pair = lengths.end
    at_end = np.where(pair >= 0, ends[pair], ENDS_SWITCH)
    far = (pair >= 0) & ~gate[pair]
    several = (pair[:, 0] != pair[:, 1]) & (pair[:, 1] >= 0)
    return Tally(
        segment=trials.segment,
        option=trials.option,
        alone=members["alone"],
        gateway=members["gateway"],
        gateway_side=gateway_side,
        records=members["records"],
        fed_too=members["one_source"],
        box=stations["box"],
        box_adapted=stations["box_adapted"],
        functions=stations["functions"],
        gateways=_count(gate, trials),
        stations=_count(trials.old, trials),
        speaking=_count(~columns.passive[trials.now], trials),
        built_in=_count(ends == ENDS_YES, trials),
        silent_ends=_count(ends == UNKNOWN, trials),
        able=any_of(ends != 0, trials),
        at_ends=(at_end[:, 0] == ENDS_YES).astype(np.int64) + (several & (at_end[:, 1] == ENDS_YES)),
        bare=((at_end == 0) & (pair >= 0)).any(axis=1),
        all_bare=(pair >= 0).any(axis=1) & ((at_end == 0) | (pair < 0)).all(axis=1),
        at_far=np.count_nonzero(far & (at_end == ENDS_YES), axis=1)
        - (far[:, 1] & ~several & (at_end[:, 1] == ENDS_YES)),
        far_bare=(pair >= 0).any(axis=1) & ~(far & (at_end != 0)).any(axis=1),
        inside=any_of(gate, trials) & (pair >= 0).any(axis=1) & (far | (pair < 0)).all(axis=1),
        unit_loads=np.round(np.bincount(trials.trial, weights=np.nan_to_num(units, nan=0.0), minlength=len(trials)), 6),
        unit_unsaid=any_of(np.isnan(units), trials),
        loops=segments.loops[trials.segment] > 0,
        silent=of.silent[trials.segment],
        doubtful=of.doubtful[trials.segment],
        open=of.open[trials.segment],
        lost=of.lost[trials.segment],
        cables=_cables(snapshot, trials),
        lengths=lengths,
        copper=measure_copper(snapshot, trials, options),
        thin_m=measure_thin(snapshot, trials, options),
        shortest_m=measure_shortest(snapshot, trials, options),
    )


def _count(flags: Flags, trials: Trials) -> Longs:
    return np.bincount(trials.trial[np.flatnonzero(flags)], minlength=len(trials)).astype(np.int64)


def _cables(snapshot: Snapshot, trials: Trials) -> Flags:
    """Tell which kinds of cable the runs of each trial are of; the last column stands for not known."""
    kinds = len(snapshot.catalogue.cables) + 1
    found = np.zeros(len(trials) * kinds, dtype=bool)
    found[trials.wire_trial * kinds + snapshot.runs.cable[trials.run] % kinds] = True
    return found.reshape(-1, kinds)


def _worst(codes: Codes, trials: Trials) -> Codes:
    """Return the greatest code of each trial; sides of code 0 are not looked at."""
    found = np.full(len(trials), PASS, dtype=np.int8)
    at = np.flatnonzero(codes > PASS)
    for level in range(1, int(codes.max(initial=PASS)) + 1):
        found[trials.trial[at[codes[at] == level]]] = level
    return found


def _members(
    snapshot: Snapshot, brief: Brief, options: Sequence[Option], protocols: Sequence[str | None], trials: Trials
) -> Mapping[str, Codes]:
    """Return the worst answer about the members of each trial, asked once for each option and model."""
    models = [*snapshot.catalogue.models, None]
    width = len(models)
    kind = trials.option[trials.trial] * width + trials.now % width
    found = np.zeros((4, max(len(options), 1) * width), dtype=np.int8)
    one_of = np.full(found.shape[1], UNKNOWN, dtype=np.int64)
    one_of[kind] = np.arange(len(kind))
    for place in np.flatnonzero(one_of >= 0).tolist():
        side = int(one_of[place])
        option, now = options[place // width], models[place % width]
        method = option.method_for(now.key) if trials.old[side] and now is not None else None
        one = Station(now=now, after=models[int(trials.after[side])], method=method)
        said = ask_member(brief, option, protocols[int(trials.segment[trials.trial[side]])], one)
        found[:, place] = said.alone, said.gateway, said.records, said.one_source
    names = ("alone", "gateway", "records", "one_source")
    return {name: _worst(found[row][kind], trials) for row, name in enumerate(names)}


def _stations(
    snapshot: Snapshot, segments: Segments, brief: Brief, options: Sequence[Option], trials: Trials
) -> Mapping[str, Codes]:
    """Return the worst answer about the old stations of each trial, asked once for each kind that occurs."""
    nodes, models = snapshot.nodes, [*snapshot.catalogue.models, None]
    at = np.flatnonzero(trials.old)
    node = segments.side_node[trials.side[at]]
    option, now = trials.option[trials.trial[at]], trials.now[at]
    zones = nodes.zones_used[node], rows_by_node([zone.node for zone in snapshot.zones], node)
    scenes = nodes.scenes_used[node], rows_by_node([scene.node for scene in snapshot.scenes], node)

    def asked(facts: Sequence[Longs | Ints], ask: Callable[[Option, Station, list[int]], Sequence[int]]) -> Codes:
        first, kind = _kinds([column.astype(np.int64) for column in (option, now, *facts)])
        found = []
        for place in first.tolist():
            of = options[option[place]]
            one = _station(models, of, int(now[place]), int(trials.after[at[place]]))
            found.append(ask(of, one, [int(column[place]) for column in facts]))
        return np.array(found, dtype=np.int8).reshape(len(first), -1)[kind].T

    fits = asked((nodes.box_gangs[node],), lambda of, one, facts: ask_box(brief, of, _in_box(one, *facts)))
    # zones while no scene is in use, scenes while no zone is: of the two answers the worse one holds
    of_zones = asked(zones, lambda of, one, facts: (ask_functions(brief, of, _with_zones(one, *facts)),))
    of_scenes = asked(scenes, lambda of, one, facts: (ask_functions(brief, of, _with_scenes(one, *facts)),))
    worst = {}
    for name, said in zip(("box", "box_adapted", "functions"), (*fits, np.maximum(*of_zones, *of_scenes)), strict=True):
        codes = np.zeros(len(trials.side), dtype=np.int8)
        codes[at] = said
        worst[name] = _worst(codes, trials)
    return worst


def _station(models: Sequence[Model | None], option: Option, now: int, after: int) -> Station:
    """Return an old station of which nothing is known but its models, by their places."""
    old = models[now]
    return Station(now=old, after=models[after], method=option.method_for(old.key) if old is not None else None)


def _in_box(one: Station, gangs: int) -> Station:
    return replace(one, box_gangs=gangs if gangs >= 0 else None)


def _with_zones(one: Station, used: int, rows: int) -> Station:
    return replace(one, zones_used=used if used >= 0 else None, zone_rows=rows, scenes_used=0)


def _with_scenes(one: Station, used: int, rows: int) -> Station:
    return replace(one, scenes_used=used if used >= 0 else None, scene_rows=rows, zones_used=0)


def _kinds(facts: Sequence[Longs]) -> tuple[Longs, Longs]:
    """Return the first row of each different set of facts, and the number of its set for each row."""
    number = np.zeros(len(facts[0]), dtype=np.int64)
    for column in facts:
        low = int(column.min(initial=0))
        size = int(column.max(initial=0)) - low + 1
        number = number * size + (column - low)
        if size > 1 and len(number) and int(number.max()) > np.iinfo(np.int32).max:
            number = np.unique(number, return_inverse=True)[1].astype(np.int64)
    _, first, kind = np.unique(number, return_index=True, return_inverse=True)
    return first.astype(np.int64), kind.astype(np.int64)
