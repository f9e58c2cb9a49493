"""From arrays to cases: each trial with its figures, as the rules see it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Cable, Model, NodeKind
from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.power import PowerState
from planner.core.rules.after import Trials, make_trials
from planner.core.rules.case import Case, Feed, Member, Wire
from planner.core.rules.columns import area_mm2, model_columns
from planner.core.rules.copper import measure_copper, measure_shortest, measure_thin
from planner.core.rules.doubts import Open
from planner.core.rules.farness import far_from_source_m, reaching
from planner.core.rules.feeds import Feeds, measure_feeds
from planner.core.rules.lengths import Lengths, measure_lengths
from planner.core.rules.options import Option
from planner.core.segments import Segments

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """All trials with everything that is measured on them by array work."""

    trials: Trials
    lengths: Lengths
    feeds: Feeds
    local: Feeds


def measure(
    snapshot: Snapshot,
    segments: Segments,
    brief: Brief,
    tries: Longs | Sequence[tuple[int, int]],
    options: Sequence[Option],
) -> Measured:
    """Return the trials (segment, option) with lengths, voltages and currents: the array part of an assessment."""
    trials = make_trials(snapshot, segments, brief, tries, options)
    columns = model_columns(snapshot.catalogue)
    whole = trials.pieces == 1
    feeds = measure_feeds(trials, columns, trials.load_w, whole)
    same = np.array_equal(trials.local_w, trials.load_w, equal_nan=True)
    return Measured(
        trials=trials,
        lengths=measure_lengths(trials, segments.loops[trials.segment]),
        feeds=feeds,
        local=feeds if same else measure_feeds(trials, columns, trials.local_w, whole),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What a case needs beside its own figures: protocol of each segment, open points, lost nodes nearby."""

    protocols: dict[int, str | None]
    open_points: dict[int, Open]
    lost: dict[int, tuple[str, ...]]


class CaseMaker:
    """Makes cases out of measured trials; holds the columns as lists, which are faster to read one by one."""

    def __init__(  # noqa: PLR0917 - each is one stage's result
        self,
        snapshot: Snapshot,
        segments: Segments,
        brief: Brief,
        options: Sequence[Option],
        measured: Measured,
        around: Surroundings,
    ) -> None:
        self._snapshot, self._segments, self._brief, self._options = snapshot, segments, brief, options
        self._measured, self._around = measured, around
        self._cables = [
            *((one, area_mm2(one), one.power_pairs) for one in snapshot.catalogue.cables),
            (None, None, None),
        ]
        self._by_key = {cable.key: cable for cable in snapshot.catalogue.cables}
        self._models: list[Model | None] = [*snapshot.catalogue.models, None]
        self._sides = _side_columns(snapshot, segments, measured)
        self._wires_of = _wire_columns(snapshot, measured)
        self._nothing = Open()
        self._copper = measure_copper(snapshot, measured.trials, options)
        self._thin_m = measure_thin(snapshot, measured.trials, options)
        self._shortest_m = measure_shortest(snapshot, measured.trials, options)
        reached = reaching(options)
        self._far_m = {
            id(feeds): far_from_source_m(measured.trials, feeds, load_w, reached)
            for feeds, load_w in (
                (measured.feeds, measured.trials.load_w),
                (measured.local, measured.trials.local_w),
            )
        }

    def case(self, trial: int) -> Case:
        """Return one trial as a case; which segments its gateway serves beside it is not looked at here."""
        trials, lengths = self._measured.trials, self._measured.lengths
        label = int(trials.segment[trial])
        option = self._options[trials.option[trial]]
        first = int(trials.first_side[trial])
        open_points = self._around.open_points.get(label, self._nothing)
        members = tuple(self._members(trial, option))
        ends = [int(end) - first if end >= 0 else -1 for end in lengths.end[trial]]
        return Case(
            segment=self._segments.key[label],
            brief=self._brief,
            option=option,
            row=option.rows[0] if option.rows else None,
            protocol=self._around.protocols.get(label),
            members=members,
            old=tuple(one for one in members if one.method is not None),
            gateways=tuple(one for one in members if one.kind is NodeKind.GATEWAY),
            sources=tuple(one for one in members if one.feeds),
            wires=tuple(self._wires(trial)),
            doubts=tuple(open_points.facts),
            doubtful=open_points.doubtful,
            silent=tuple(open_points.silent),
            lost=self._around.lost.get(label, ()),
            loops=int(self._segments.loops[label]),
            pieces=int(self._segments.pieces[label]),
            trunk_m=float(lengths.trunk_m[trial]),
            total_m=float(lengths.total_m[trial]),
            longest_stub_m=float(lengths.longest_stub_m[trial]),
            all_stubs_m=float(lengths.all_stubs_m[trial]),
            trunk_ends=(ends[0], ends[1]),
            branched=bool(lengths.branched[trial]),
            lengths_known=bool(lengths.known[trial]),
            bounded=bool(lengths.bounded[trial]),
            taps=int(lengths.taps[trial]),
            copper=float(self._copper[trial]),
            thin_m=float(self._thin_m[trial]),
            shortest_m=float(self._shortest_m[trial]),
            feed=self._feed(self._measured.feeds, trial),
            local=self._feed(self._measured.local, trial),
            patch=tuple(patch_cables(option, self._by_key)),
        )

    def _feed(self, feeds: Feeds, trial: int) -> Feed:
        source = int(feeds.source[trial])
        volts = None
        if source >= 0:
            model = self._models[int(self._measured.trials.after[source])]
            volts = _number(model.supply_v if model is not None else None)
        return Feed(
            source_v=volts,
            source_a=float(feeds.source_a[trial]),
            loss_w=float(feeds.loss_w[trial]),
            load_w=float(feeds.load_w[trial]),
            state=PowerState(int(feeds.state[trial])),
            known=bool(feeds.known[trial]),
            far_m=float(self._far_m[id(feeds)][trial]),
        )

    def _members(self, trial: int, option: Option) -> Iterator[Member]:
        trials, names = self._measured.trials, self._snapshot.nodes.key
        for columns in self._sides[trials.first_side[trial] : trials.first_side[trial + 1]]:
            node, now, after, ends, feeds, volts, local, old, gangs, zones, scenes, zone_rows, scene_rows = columns
            model = self._models[now]
            yield Member(
                key=names[node],
                now=model,
                model=self._models[after],
                method=option.method_for(model.key) if old and model is not None else None,
                ends=ends,
                feeds=feeds,
                volts=_number(volts),
                volts_local=_number(local),
                box_gangs=_count(gangs),
                zones_used=_count(zones),
                scenes_used=_count(scenes),
                zone_rows=zone_rows,
                scene_rows=scene_rows,
            )

    def _wires(self, trial: int) -> Iterator[Wire]:
        trials, snapshot = self._measured.trials, self._snapshot
        for columns in self._wires_of[trials.first_wire[trial] : trials.first_wire[trial + 1]]:
            run, leads, cable_ends, amps, local, bus, cable, length = columns
            kind, area, pairs = self._cables[cable]
            yield Wire(
                key=snapshot.runs.key[run],
                bus=snapshot.buses[bus].key if bus >= 0 else None,
                cable=kind,
                area_mm2=area,
                power_pairs=pairs,
                length_m=_number(length),
                leads=leads,
                cable_ends=cable_ends,
                amps=amps,
                amps_local=local,
            )


def patch_cables(option: Option, by_key: Mapping[str, Cable]) -> Iterator[Cable | None]:
    """Yield the cables of the patch leads of an option, None for one that is not in the catalogue."""
    for method in option.methods:
        used = method.patch_cable is not None or method.patch_lead_m is not None
        if used and method.patch_lead_m != 0:
            yield by_key.get(method.patch_cable or "")


def _number(value: float | None) -> float | None:
    return value if value is not None and 0 <= value < float("inf") else None


def _count(value: int) -> int | None:
    return value if value >= 0 else None


def _side_columns(snapshot: Snapshot, segments: Segments, measured: Measured) -> list[tuple[Any, ...]]:
    """Return what a case says of each side, as rows."""
    nodes, trials = snapshot.nodes, measured.trials
    node = segments.side_node[trials.side]
    columns = (
        node,
        trials.now,
        trials.after,
        trials.ends,
        trials.source,
        measured.feeds.voltage_v,
        measured.local.voltage_v,
        trials.old,
        nodes.box_gangs[node],
        nodes.zones_used[node],
        nodes.scenes_used[node],
        rows_by_node([zone.node for zone in snapshot.zones], node),
        rows_by_node([scene.node for scene in snapshot.scenes], node),
    )
    return list(zip(*(column.tolist() for column in columns), strict=True))


def _wire_columns(snapshot: Snapshot, measured: Measured) -> list[tuple[Any, ...]]:
    """Return what a case says of each wire, as rows."""
    runs, trials = snapshot.runs, measured.trials
    columns = (
        trials.run,
        trials.leads,
        trials.cable_ends,
        measured.feeds.current_a,
        measured.local.current_a,
        runs.bus[trials.run],
        runs.cable[trials.run],
        runs.length_m[trials.run],
    )
    return list(zip(*(column.tolist() for column in columns), strict=True))


def rows_by_node(rows: list[int], node: Longs) -> Longs:
    """Return how many of `rows` (each the node it is about) there are for each node wanted."""
    if not rows:
        return np.zeros(len(node), dtype=np.int64)
    counts = np.bincount(np.array(rows, dtype=np.int64), minlength=int(node.max(initial=0)) + 1)
    return np.asarray(counts[node], dtype=np.int64)
