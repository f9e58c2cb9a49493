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
from planner.core.brief import Brief
from planner.core.grouped import begins_of, spread
from planner.core.rules.columns import ModelColumns, cable_ohm_per_m, figure, merged_ends, model_columns
from planner.core.rules.options import Option
from planner.core.segments import Segments

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Small = NDArray[np.int8]
Flags = NDArray[np.bool_]


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
    columns = model_columns(snapshot.catalogue)
    swaps = _swaps(snapshot.catalogue, options, brief)
    side, trial, first_side = spread(segments.first_side, pairs[:, 0])
    wire, wire_trial, first_wire = spread(segments.first_wire, pairs[:, 0])
    pieces = np.diff(segments.first_piece)[pairs[:, 0]]
    shift = (first_side[:-1] - segments.first_side[pairs[:, 0]])[wire_trial]
    tail, head = segments.tail[wire] + shift, segments.head[wire] + shift
    node = segments.side_node[side]
    segment, option = np.ascontiguousarray(pairs.T)
    now = snapshot.nodes.model[node].astype(np.int64)
    width = swaps.after.shape[1]
    kind = (
        np.where(now < 0, width - 1, now) + (option * width)[trial]
    )  # its place in a table, which is read far faster so
    after = swaps.after.ravel()[kind]
    source = columns.feeds[after]
    old = swaps.old.ravel()[kind]
    load = np.where(source, 0.0, columns.draw_w[after])
    ends = kind[tail], kind[head]
    length, ohm, leads = _wires(snapshot, brief, segments.run[wire], swaps, ends)
    worked = swaps.worked.ravel().astype(np.int8)
    return Trials(
        segment=segment,
        option=option,
        first_side=first_side,
        first_wire=first_wire,
        side=side,
        trial=trial,
        now=now,
        after=after,
        ends=_ends(columns, snapshot.nodes.ends_bus[node], after, (now == after) & ~old),
        old=old,
        piece=segments.piece[side] + (begins_of(pieces)[:-1] - segments.first_piece[pairs[:, 0]])[trial],
        pieces=pieces,
        load_w=load,
        local_w=np.where(old & swaps.local.ravel()[kind], 0.0, load),
        source=source,
        tail=tail,
        head=head,
        run=segments.run[wire],
        wire_trial=wire_trial,
        leads=leads,
        cable_ends=worked[ends[0]] + worked[ends[1]],
        length_m=length,
        loop_ohm=ohm,
    )


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


def _wires(
    snapshot: Snapshot, brief: Brief, run: Longs, swaps: _Swaps, ends: tuple[Longs, Longs]
) -> tuple[Floats, Floats, Small]:
    """Return of each wire its length and loop resistance with leads, and how many leads are on it."""
    length = snapshot.runs.length_m[run]
    length[~((length >= 0) & (length < np.inf))] = np.nan
    per_m = cable_ohm_per_m(snapshot.catalogue, brief.conductor_c)[snapshot.runs.cable[run]]
    has_lead = swaps.has_lead.ravel().astype(np.int8)
    leads_m, leads_ohm = (table[ends[0]] + table[ends[1]] for table in (swaps.lead_m.ravel(), swaps.lead_ohm.ravel()))
    return length + leads_m, length * per_m + leads_ohm, has_lead[ends[0]] + has_lead[ends[1]]


def _ends(columns: ModelColumns, own: Small, after: Longs, stays: Flags) -> Small:
    """Return the end resistor of each side afterwards; what the old unit's row says leaves with the old unit."""
    return np.where(stays, merged_ends(columns.ends[after], own), columns.ends[after])
