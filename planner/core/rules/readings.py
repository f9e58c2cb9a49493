"""What was measured on a segment, held against its case: a reading that contradicts the records puts them in doubt."""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from inventory.core.catalogue import Cable, Method
from inventory.core.conductors import cautious_loop_ohm_per_m
from inventory.core.readings import Reading
from inventory.core.snapshot import Snapshot
from planner.core.circuits import Circuit, Stretch
from planner.core.comparing import compare
from planner.core.rules.case import Case
from planner.core.rules.columns import known
from planner.core.segments import Segments


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """The readings of a campus by segment, with what it takes to compare them."""

    snapshot: Snapshot
    segments: Segments
    by_label: Mapping[int, tuple[Reading, ...]]

    def against(self, label: int, case: Case) -> Case:
        """Return a case with what its readings put in doubt; the same case where they agree or there are none."""
        readings = self.by_label.get(label)
        if not readings:
            return case
        volts = {member.key: member.volts for member in case.members}
        found = compare(self._circuit(label, case), volts, readings, case.segment)
        wrong = [one for one in found if one.doubts]
        return replace(
            case,
            doubtful=case.doubtful or bool(wrong),  # the wire may be another than the records say
            contradicted=tuple(one.said for one in wrong),
            doubts=(*case.doubts, *(fact for one in wrong for fact in one.doubts)),
        )

    def _circuit(self, label: int, case: Case) -> Circuit:
        loads = [(member.key, case.loads(member)) for member in case.members]
        certain = len(case.sources) == 1 and all(watt is not None for _, watt in loads)
        return Circuit(
            stretches=tuple(self._stretches(label, case)),
            source=case.sources[0].key if certain else None,
            source_v=case.feed.source_v,
            loads=tuple((key, watt) for key, watt in loads if watt),
            ends=case.row.ends if case.row is not None else None,
            end_ohm=case.row.end_ohm if case.row is not None else None,
            conductor_c=case.brief.conductor_c,
        )

    def _stretches(self, label: int, case: Case) -> Iterator[Stretch]:
        segments, names = self.segments, self.snapshot.nodes.key
        cables = {cable.key: cable for cable in self.snapshot.catalogue.cables}
        lead = max((lead_ohm(method, cables, case.brief.conductor_c) for method in case.option.methods), default=0.0)
        ends_of = {
            self.snapshot.runs.key[int(segments.run[wire])]: (
                names[int(segments.side_node[segments.tail[wire]])],
                names[int(segments.side_node[segments.head[wire]])],
            )
            for wire in range(int(segments.first_wire[label]), int(segments.first_wire[label + 1]))
        }
        for wire in case.wires:
            leads = wire.leads * lead if wire.leads else 0.0
            yield Stretch(
                key=wire.key,
                ends=ends_of[wire.key],
                length_m=wire.length_m,
                cable=wire.cable,
                bus=wire.bus,
                lead_ohm=known(leads),
            )


def lead_ohm(method: Method, cables: Mapping[str, Cable], conductor_c: float) -> float:
    """Return the loop resistance of a method's patch lead [ohm]; NaN not known, 0 where it uses none."""
    if (method.patch_cable is None and method.patch_lead_m is None) or method.patch_lead_m == 0.0:
        return 0.0
    cable = cables.get(method.patch_cable or "")
    per_m = None if cable is None else cautious_loop_ohm_per_m(cable, conductor_c)
    length_m = known(method.patch_lead_m)
    return math.nan if per_m is None or length_m is None else length_m * per_m


def readings_of(snapshot: Snapshot, segments: Segments) -> Readings:
    """Return the readings of a campus by the segment that they were taken on; those of nodes that are gone are left out."""
    labels = _labels(snapshot, segments) if snapshot.readings else {}
    found: dict[int, list[Reading]] = defaultdict(list)
    for reading in snapshot.readings:
        on = labels.get(reading.node, frozenset())
        if reading.far is not None:
            on &= labels.get(reading.far, frozenset())
        if len(on) == 1:
            found[min(on)].append(reading)
    return Readings(
        snapshot=snapshot, segments=segments, by_label={label: tuple(some) for label, some in found.items()}
    )


def _labels(snapshot: Snapshot, segments: Segments) -> dict[str, frozenset[int]]:
    """Return the segments of each node at which something was read."""
    wanted = {name for reading in snapshot.readings for name in (reading.node, reading.far) if name is not None}
    places = [place for place, key in enumerate(snapshot.nodes.key) if key in wanted]
    found: dict[str, set[int]] = defaultdict(set)
    for side in np.flatnonzero(np.isin(segments.side_node, places)).tolist():
        found[snapshot.nodes.key[int(segments.side_node[side])]].add(int(segments.label[side]))
    return {key: frozenset(some) for key, some in found.items()}
