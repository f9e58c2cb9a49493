"""Segments after conversion, as arrays: each trial is a copy of one segment with the equipment of one option in it.

The new stations stand in place of the old ones, the new gateway in place of the old one (or the same unit, set
over), and every run end at an old station or at the gateway has the method's patch lead on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Catalogue, Method, NodeKind
from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.beside import both
from planner.core.brief import Brief
from planner.core.compiled import compiled
from planner.core.grouped import begins_of, spread
from planner.core.rules.columns import ENDS_CODE, cable_ohm_per_m, figure, merged_ends, model_columns
from planner.core.rules.options import Option
from planner.core.segments import Segments

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Ints = NDArray[np.int32]
Small = NDArray[np.int8]
Flags = NDArray[np.bool_]
UNSAID = -1  # the end resistor of a node whose row says nothing
OWN_ENDS = np.arange(UNSAID, len(ENDS_CODE), dtype=np.int8)  # what a node's row can say of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """t trials with s sides and w wires in all, sorted by trial.

    segment, option : int64[t]. first_side, first_wire : int64[t + 1]. side, trial, now, after, ends : int64[s], of
    each side its place in Segments, its trial, the model there now and afterwards (-1 not known), and its end
    resistor afterwards (int8, codes of Snapshot). old : bool[s], an old station. piece : int64[s], its wired piece.
    pieces : int64[t], wired pieces, single nodes among them.
    load_w, local_w : float64[s], draw afterwards without and with local supplies [W], NaN not known; 0 where the
    node feeds the bus. source : bool[s]. tail, head, run, wire_trial : int64[w]. leads, cable_ends :
    int8[w], patch leads on the wire, and ends of it that are worked on. length_m, loop_ohm : float64[w], old run and leads together; NaN not known.
    """

    segment: Longs
    option: Longs
    first_side: Longs
    first_wire: Longs
    side: Longs
    trial: Longs
    now: Longs
    after: Longs
    ends: Small
    old: Flags
    piece: Longs
    pieces: Longs
    load_w: Floats
    local_w: Floats
    source: Flags
    tail: Longs
    head: Longs
    run: Longs
    wire_trial: Longs
    leads: Small
    cable_ends: Small
    length_m: Floats
    loop_ohm: Floats

    def __len__(self) -> int:
        return len(self.segment)


def any_of(flags: Flags, trials: Trials) -> Flags:
    """Tell for each trial whether a side of it is marked."""
    found = np.zeros(len(trials), dtype=bool)
    found[trials.trial[np.flatnonzero(flags)]] = True
    return found


def some_of(trials: Trials, some: Longs) -> Trials:
    """Return some trials by themselves, in rising order."""
    side, trial, first_side = spread(trials.first_side, some)
    wire, wire_trial, first_wire = spread(trials.first_wire, some)
    shift = (first_side[:-1] - trials.first_side[some])[wire_trial]
    pieces = trials.pieces[some]
    first_piece = begins_of(trials.pieces)
    return Trials(
        segment=trials.segment[some],
        option=trials.option[some],
        first_side=first_side,
        first_wire=first_wire,
        side=trials.side[side],
        trial=trial,
        now=trials.now[side],
        after=trials.after[side],
        ends=trials.ends[side],
        old=trials.old[side],
        piece=trials.piece[side] + (begins_of(pieces)[:-1] - first_piece[some])[trial],
        pieces=pieces,
        load_w=trials.load_w[side],
        local_w=trials.local_w[side],
        source=trials.source[side],
        tail=trials.tail[wire] + shift,
        head=trials.head[wire] + shift,
        run=trials.run[wire],
        wire_trial=wire_trial,
        leads=trials.leads[wire],
        cable_ends=trials.cable_ends[wire],
        length_m=trials.length_m[wire],
        loop_ohm=trials.loop_ohm[wire],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Swaps:
    """Of each option and model: the model afterwards, whether it is an old station, and the lead at its ends."""

    after: Longs
    old: Flags
    has_lead: Flags
    lead_m: Floats
    lead_ohm: Floats
    local: Flags
    worked: Flags  # whether run ends at it are worked on


def make_trials(
    snapshot: Snapshot,
    segments: Segments,
    brief: Brief,
    tries: Longs | Sequence[tuple[int, int]],
    options: Sequence[Option],
) -> Trials:
    """Return one trial for each pair of `tries`: a position in `segments` and one in `options`; segments may recur."""
    pairs = np.array(tries, dtype=np.int64).reshape(-1, 2)
    segment, option = np.ascontiguousarray(pairs.T)
    swaps = _swaps(snapshot.catalogue, options, brief)
    side, trial, first_side = spread(segments.first_side, segment)
    wire, wire_trial, first_wire = spread(segments.first_wire, segment)
    shift = (first_side[:-1] - segments.first_side[segment])[wire_trial]
    put_in, wired = both(
        lambda: _put_in(trial, option, *_of_sides(snapshot, segments.side_node[side], swaps)),
        lambda: _wired(snapshot, segments, wire, shift),
        len(side),
    )
    now, after, kind, ends, old, source, load, local = put_in
    (tail, head), run, cut = wired
    pieces = np.diff(segments.first_piece)[segment]
    length, ohm, leads, cable_ends = _laid(
        (tail, head),
        kind,
        cut,
        cable_ohm_per_m(snapshot.catalogue, brief.conductor_c),
        (swaps.has_lead.ravel(), swaps.worked.ravel(), swaps.lead_m.ravel(), swaps.lead_ohm.ravel()),
    )
    return Trials(
        segment=segment,
        option=option,
        first_side=first_side,
        first_wire=first_wire,
        side=side,
        trial=trial,
        now=now,
        after=after,
        ends=ends,
        old=old,
        piece=segments.piece[side] + (begins_of(pieces)[:-1] - segments.first_piece[segment])[trial],
        pieces=pieces,
        load_w=load,
        local_w=local,
        source=source,
        tail=tail,
        head=head,
        run=run,
        wire_trial=wire_trial,
        leads=leads,
        cable_ends=cable_ends,
        length_m=length,
        loop_ohm=ohm,
    )


def _of_sides(
    snapshot: Snapshot, node: Longs, swaps: "_Swaps"
) -> tuple[tuple[Ints, Small], tuple[Longs, Flags, Flags], tuple[Flags, Floats, Small, Small]]:
    """Return what the records say of each side, and of each model what becomes of it and what it is."""
    columns = model_columns(snapshot.catalogue)
    merged = merged_ends(columns.ends[:, None], OWN_ENDS)
    return (
        (snapshot.nodes.model[node], snapshot.nodes.ends_bus[node]),
        (swaps.after, swaps.old, swaps.local),
        (columns.feeds, columns.draw_w, columns.ends, merged),
    )


def _wired(
    snapshot: Snapshot, segments: Segments, wire: Longs, shift: Longs
) -> tuple[tuple[Longs, Longs], Longs, tuple[Floats, Ints]]:
    """Return the sides that each wire joins, its run, and length and cable of that."""
    run = segments.run[wire]
    joined = segments.tail[wire] + shift, segments.head[wire] + shift
    return joined, run, (snapshot.runs.length_m[run], snapshot.runs.cable[run])


@compiled
def _put_in(
    trial: Longs,
    option: Longs,
    records: tuple[Ints, Small],
    swaps: tuple[Longs, Flags, Flags],
    models: tuple[Flags, Floats, Small, Small],
) -> tuple[Longs, Longs, Longs, Small, Flags, Flags, Floats, Floats]:
    """Return of each side what stands there now and afterwards, and what that draws.

    Its model now and afterwards, its place among kinds (option, model), its end resistor, whether it is an old station,
    whether it feeds, and its draw without and with local supplies. `records` : model and end resistor of each side.
    `swaps` : by option and model. `models` : whether each feeds, what it draws, its end resistor, and that with what a
    node's own row says: what that says leaves with the old unit.
    """
    (model, own), (swapped, is_old, is_local), (feeds, draw_w, ends_of, merged) = records, swaps, models
    count, width = trial.size, swapped.shape[1]
    now, after, kind = np.empty(count, np.int64), np.empty(count, np.int64), np.empty(count, np.int64)
    ends, old, source = np.empty(count, np.int8), np.empty(count, np.bool_), np.empty(count, np.bool_)
    load, local = np.empty(count), np.empty(count)
    for side in range(count):
        at, here = option[trial[side]], model[side]
        there = swapped[at, here]
        now[side], after[side], kind[side] = here, there, at * width + (here if here >= 0 else width - 1)
        old[side], source[side] = is_old[at, here], feeds[there]
        stays = here == there and not old[side]
        ends[side] = merged[there, own[side] - UNSAID] if stays else ends_of[there]
        load[side] = 0.0 if source[side] else draw_w[there]
        local[side] = 0.0 if old[side] and is_local[at, here] else load[side]
    return now, after, kind, ends, old, source, load, local


@compiled
def _laid(
    joined: tuple[Longs, Longs],
    kind: Longs,
    runs: tuple[Floats, Ints],
    ohm_per_m: Floats,
    leads: tuple[Flags, Flags, Floats, Floats],
) -> tuple[Floats, Floats, Small, Small]:
    """Return of each wire its length and loop resistance with leads, how many leads are on it, and how many ends are worked on.

    `runs` : length and cable of each wire. `leads` : of each kind of end whether it has a lead and is worked on, length and resistance of that.
    """
    (tail, head), (run_m, cable), (has_lead, is_worked, lead_m, lead_ohm) = joined, runs, leads
    count = run_m.size
    length, ohm = np.empty(count), np.empty(count)
    on_it, worked = np.empty(count, np.int8), np.empty(count, np.int8)
    for wire in range(count):
        one, other = kind[tail[wire]], kind[head[wire]]
        metres = run_m[wire] if 0.0 <= run_m[wire] < np.inf else np.nan
        length[wire] = metres + (lead_m[one] + lead_m[other])
        ohm[wire] = metres * ohm_per_m[cable[wire]] + (lead_ohm[one] + lead_ohm[other])
        on_it[wire] = has_lead[one] + has_lead[other]
        worked[wire] = is_worked[one] + is_worked[other]
    return length, ohm, on_it, worked


def _swaps(catalogue: Catalogue, options: Sequence[Option], brief: Brief) -> _Swaps:
    shape = (max(len(options), 1), len(catalogue.models) + 1)
    place = {model.key: number for number, model in enumerate(catalogue.models)}
    gateways = [number for number, model in enumerate(catalogue.models) if model.kind is NodeKind.GATEWAY]
    per_m = cable_ohm_per_m(catalogue, brief.conductor_c).tolist()
    ohms = {cable.key: per_m[number] for number, cable in enumerate(catalogue.cables)}
    swaps = _Swaps(
        after=np.tile(np.append(np.arange(shape[1] - 1, dtype=np.int64), UNKNOWN), (shape[0], 1)),
        old=np.zeros(shape, dtype=bool),
        has_lead=np.zeros(shape, dtype=bool),
        lead_m=np.zeros(shape),
        lead_ohm=np.zeros(shape),
        local=np.zeros(shape, dtype=bool),
        worked=np.zeros(shape, dtype=bool),
    )
    for number, option in enumerate(options):
        for method in option.methods:
            _swap(swaps, (number, place[method.old_model]), method, place, ohms)
        if not option.like_for_like:
            _swap_gateways(swaps, number, gateways, option, place)
    return swaps


def _swap(swaps: _Swaps, at: tuple[int, int], method: Method, place: dict[str, int], ohms: dict[str, float]) -> None:
    number, model = at
    swaps.after[number, model] = place.get(method.new_model, UNKNOWN)
    swaps.old[number, model] = swaps.worked[number, model] = True
    swaps.local[number, model] = "local supply" in method.extras
    length, ohm = lead_of(method, ohms)
    swaps.has_lead[number, model] = length != 0.0
    swaps.lead_m[number, model], swaps.lead_ohm[number, model] = length, ohm


def lead_of(method: Method, ohms: dict[str, float]) -> tuple[float, float]:
    """Return length [m] and loop resistance [ohm] of a method's patch lead; NaN not known, 0 where it uses none."""
    if method.patch_cable is None and method.patch_lead_m is None:
        return 0.0, 0.0
    length = figure(method.patch_lead_m)
    if length == 0.0:
        return 0.0, 0.0
    per_m = ohms.get(method.patch_cable, np.nan) if method.patch_cable is not None else np.nan
    return length, length * per_m


def _swap_gateways(swaps: _Swaps, number: int, gateways: Sequence[int], option: Option, place: dict[str, int]) -> None:
    """Put the new gateway in, and at its end the worst lead of the option's methods (NaN stays NaN)."""
    olds = [place[method.old_model] for method in option.methods]
    for gateway in gateways:
        if option.new_gateway is not None:
            swaps.after[number, gateway] = place.get(option.new_gateway, UNKNOWN)
        swaps.worked[number, gateway] = True
        swaps.has_lead[number, gateway] = swaps.has_lead[number, olds].any()
        swaps.lead_m[number, gateway] = swaps.lead_m[number, olds].max()
        swaps.lead_ohm[number, gateway] = swaps.lead_ohm[number, olds].max()
