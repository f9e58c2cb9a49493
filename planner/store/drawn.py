"""What is drawn of one segment, read for that segment alone: a page must not load the campus."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from inventory.core.catalogue import EndsBus
from inventory.models import EquipmentModel, Method, Node
from planner.core.changes import EXTRAS, NEW_LINE, PULL
from planner.core.circuits import Circuit, voltages
from planner.core.ends import end_resistors, merged
from planner.core.findings import CONVERTIBLE, Change, SegmentReport
from planner.core.rewired import gone, rewired
from planner.core.rules.table import END
from planner.handover.sketch import Sketch, SketchNode, volts_of
from planner.store.measured import Read, circuit_of


def sketch_of(
    report: SegmentReport, nodes: Iterable[Node], methods: Iterable[Method], circuit: Circuit, read: Read
) -> Sketch:
    """Return a segment with its change as stored now; `nodes` with their models and rooms."""
    nodes, methods = tuple(nodes), tuple(methods)
    after = _after(report, nodes, methods)
    root = report.gateways[0] if report.gateways else None
    changes, old = changes_of(report), frozenset(report.old_stations)
    then = _as_it_would_be(report, changes)
    models = {node.key: node.model for node in nodes}
    own = circuit if then is report else circuit_of(then, methods, models, circuit.conductor_c, read)
    after_them = with_changes(changes, own, read)
    new_gateway = any(method.new_gateway_model for method in methods)
    leaving = gone(changes)
    extras = tuple(sorted({*report.extras, *(one.what for one in changes if one.what in EXTRAS)}))
    ends = {node.key: _end(node, after.get(node.key)) if node.key not in leaving else EndsBus.NO for node in nodes}
    return Sketch(
        segment=report.segment,
        verdict=report.verdict,
        nodes=tuple(
            _node(node, after.get(node.key), is_old=node.key in old)
            for node in sorted(nodes, key=lambda node: node.key)
        ),
        runs=circuit.stretches,
        line=after_them.stretches if any(one.what == NEW_LINE for one in changes) else (),
        root=root,
        set_over=_bus(report) if methods and not new_gateway else None,
        ends=end_resistors(ends, after_them.stretches, circuit.ends, root, put_in=END in extras),
        volts=tuple(one for one in volts_of(then, voltages(after_them)) if one[0] not in leaving),
        worked=frozenset({*report.old_stations, *report.gateways}) if methods else frozenset(),
        extras=extras,
        changes=tuple((one.about, one.what, one.words) for one in changes),
        feeds=circuit.source,
        leads=any(method.patch_lead_m != 0 and (method.patch_cable_id or method.patch_lead_m) for method in methods),
    )


def with_changes(changes: Iterable[Change], circuit: Circuit, read: Read) -> Circuit:
    """Return the circuit of a segment, its loads as they are then, with the changes of a way out done."""
    done = tuple(changes)
    if not done:
        return circuit
    names = {one.to for one in done if one.what in (PULL, NEW_LINE) and one.to is not None}
    cables = {cable.key: cable for cable in read.cables.values() if cable.key in names}
    return rewired(circuit, done, cables)


def _as_it_would_be(report: SegmentReport, changes: Iterable[Change]) -> SegmentReport:
    """Return a report with what arrives at its loads once a way out that is only proposed is done."""
    way = report.way_out
    return replace(report, voltages=way.voltages) if changes and not report.changes and way is not None else report


def _bus(report: SegmentReport) -> str:
    rate = "" if report.bit_rate_kbit_s is None else f" at {report.bit_rate_kbit_s:g} kbit/s"
    return f"{report.new_protocol}{rate}"


def _after(report: SegmentReport, nodes: Iterable[Node], methods: Iterable[Method]) -> Mapping[str, EquipmentModel]:
    """Return the model that is put in at each node where one is."""
    by_key = {method.key: method for method in methods}
    found = {station: by_key[key].new_model for station, key in report.methods if key in by_key}
    new = next((method.new_gateway_model for method in by_key.values() if method.new_gateway_model), None)
    return found | ({node.key: new for node in nodes if node.model.kind == "gateway"} if new is not None else {})


def _node(node: Node, after: EquipmentModel | None, *, is_old: bool) -> SketchNode:
    wider = after is not None and (after.box_gangs or 0) > (node.box_gangs or 0)
    return SketchNode(
        key=node.key,
        kind=node.model.kind,
        model=node.model.key,
        after=after.key if after is not None else None,
        room=node.room.key if node.room else None,
        has_end=(node.ends_bus or node.model.ends_bus) == EndsBus.YES,
        is_old=is_old,
        adapter=wider,
    )


def _end(node: Node, after: EquipmentModel | None) -> EndsBus | None:
    if after is not None:
        return EndsBus(after.ends_bus) if after.ends_bus else None
    own = EndsBus(node.ends_bus) if node.ends_bus else None
    return merged(EndsBus(node.model.ends_bus) if node.model.ends_bus else None, own)


def changes_of(report: SegmentReport) -> tuple[Change, ...]:
    """Return what makes a segment convertible beside its method; nothing where it is.

    A new line that was found before its runs were kept cannot be drawn: nothing then either.
    """
    way = report.way_out
    found = report.changes or (way.changes if way is not None and way.passes else ())
    is_drawn = all(one.line for one in found if one.what == NEW_LINE)
    return tuple(found) if is_drawn and (report.changes or report.verdict not in CONVERTIBLE) else ()
