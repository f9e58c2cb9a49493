"""What the crew needs for one segment, read for that segment alone: landings, its circuit, what was measured on it."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields

from inventory.core import catalogue as records
from inventory.core import readings as core
from inventory.models import Cable, EquipmentModel, Method, Node, ProtocolRate, Reading, Run
from planner.core.circuits import Circuit, Stretch
from planner.core.findings import SegmentReport
from planner.core.landing import Bridge, LandingRow, bridges, check_landing, crossed_signals, landing_table
from planner.core.rules.columns import feeds, known
from planner.core.rules.readings import lead_ohm

Rows = tuple[LandingRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """Where the conductors land by one method, and what is wrong with that in the records."""

    method: Method
    rows: tuple[LandingRow, ...]
    faults: tuple[str, ...]
    bridges: tuple[Bridge, ...]
    crossed: tuple[tuple[str, int, int], ...]  # signal, pin, far pin of a lead made up A to B


def methods_of(report: SegmentReport) -> tuple[Method, ...]:
    """Return the methods that convert a segment's stations, each once, with their pins."""
    keys = {method for _station, method in report.methods}
    parts = ("old_model", "new_model", "new_protocol", "new_gateway_model", "patch_cable")
    return tuple(Method.objects.filter(key__in=keys).select_related(*parts).prefetch_related("pins").order_by("key"))


def landings_of(methods: Iterable[Method]) -> tuple[Landing, ...]:
    """Return the landing table of each method; those of one segment must land alike, since one line joins them."""
    tables = [(method, landing_table(_record(method))) for method in methods]
    return tuple(
        Landing(
            method=method,
            rows=rows,
            faults=check_landing(rows) + _against_first(tables[0], (method, rows)),
            bridges=bridges(rows),
            crossed=crossed_signals(rows),
        )
        for method, rows in tables
    )


def _against_first(first: tuple[Method, Rows], other: tuple[Method, Rows]) -> tuple[str, ...]:
    """Return how a method lands otherwise than the first one of the segment does."""
    own = {*check_landing(first[1]), *check_landing(other[1])}
    differ = [one for one in check_landing(first[1], other[1]) if one not in own]
    return tuple(f"Methods {first[0].key} and {other[0].key} do not land alike: {one}" for one in differ)


def _record(method: Method) -> records.Method:
    names = [one.name for one in fields(records.MethodPin)]
    return records.Method(
        key=method.key,
        old_model=method.old_model.key,
        new_model=method.new_model.key,
        new_protocol=method.new_protocol.key,
        patch_cable=method.patch_cable.key if method.patch_cable else None,
        patch_lead_m=method.patch_lead_m,
        pins=tuple(records.MethodPin(**{name: getattr(pin, name) for name in names}) for pin in method.pins.all()),
    )


def circuit_of(report: SegmentReport, methods: Iterable[Method], nodes: Iterable[Node], conductor_c: float) -> Circuit:
    """Return a segment as it is measured, after the change."""
    methods = tuple(methods)
    row = ProtocolRate.objects.filter(protocol__key=report.new_protocol, bit_rate_kbit_s=report.bit_rate_kbit_s).first()
    sources = _sources(methods, nodes)
    loads = [(one.node, one.voltage_v, one.current_a) for one in report.voltages]
    lead = known(_lead_ohm(methods, conductor_c))
    certain = len(sources) == 1 and all(volts is not None for _, volts, _ in loads)
    return Circuit(
        stretches=_stretches(report, lead),
        source=next(iter(sources)) if certain else None,
        source_v=next(iter(sources.values())) if len(sources) == 1 else None,
        loads=tuple((node, volts * amps) for node, volts, amps in loads if volts is not None and amps is not None),
        ends=row.ends if row else None,
        end_ohm=row.end_ohm if row else None,
        conductor_c=conductor_c,
        leads=tuple((node, lead) for node in sorted(_worked(report))),
    )


def _worked(report: SegmentReport) -> frozenset[str]:
    """Return the nodes at whose cable ends patch leads go on."""
    return frozenset({*report.old_stations, *report.gateways})


def _lead_ohm(methods: Iterable[Method], conductor_c: float) -> float:
    """Return the most that the patch lead of any of the methods resists [ohm], NaN where one is not known."""
    methods = tuple(methods)
    cables = {one.patch_cable.key: cable_of(one.patch_cable) for one in methods if one.patch_cable}
    ohms = [lead_ohm(_record(one), cables, conductor_c) for one in methods]
    return math.nan if any(map(math.isnan, ohms)) else max(ohms, default=0.0)


def _stretches(report: SegmentReport, lead: float | None) -> tuple[Stretch, ...]:
    """Return the runs as recorded now, with a patch lead of so much resistance on each end that is worked on."""
    runs = Run.objects.filter(key__in=report.runs).select_related("from_node", "to_node", "cable", "bus")
    worked = _worked(report)
    return tuple(
        Stretch(
            key=run.key,
            ends=(run.from_node.key, run.to_node.key),
            length_m=known(run.length_m),
            cable=cable_of(run.cable) if run.cable else None,
            bus=run.bus.key if run.bus else None,
            lead_ohm=_leads_ohm(lead, sum(node.key in worked for node in (run.from_node, run.to_node))),
        )
        for run in sorted(runs, key=lambda run: run.key)
    )


def _leads_ohm(lead: float | None, count: int) -> float | None:
    if count == 0:
        return 0.0
    return None if lead is None else lead * count


def cable_of(cable: Cable) -> records.Cable:
    """Return a cable of the database as a record."""
    return records.Cable(**{one.name: getattr(cable, one.name) for one in fields(records.Cable) if one.name != "part"})


def _sources(methods: Iterable[Method], nodes: Iterable[Node]) -> Mapping[str, float | None]:
    """Return what feeds the segment after the change, with its voltage."""
    new = next((method.new_gateway_model for method in methods if method.new_gateway_model), None)
    after = {node.key: new if new and node.model.kind == "gateway" else node.model for node in nodes}
    return {key: known(model.supply_v) for key, model in after.items() if feeds(_model(model))}


def _model(model: EquipmentModel) -> records.Model:
    return records.Model(
        key=model.key,
        kind=records.NodeKind(model.kind),
        supply_v=model.supply_v,
        supply_rating_w=model.supply_rating_w,
    )


def readings_on(report: SegmentReport) -> tuple[Reading, ...]:
    """Return all that was ever read on a segment, the newest first."""
    found = Reading.objects.filter(node__key__in=report.nodes).select_related("node", "far", "by")
    nodes = set(report.nodes)
    newest = found.order_by("-on", "-entered", "-pk")
    return tuple(one for one in newest if one.far is None or one.far.key in nodes)


def newest_of(readings: Iterable[Reading]) -> tuple[core.Reading, ...]:
    """Return the reading that counts of each quantity and place; `readings` come newest first."""
    found: dict[tuple[str, ...], core.Reading] = {}
    for one in readings:
        far = one.far.key if one.far else None
        place = (one.quantity, *sorted((one.node.key, far or "")))
        found.setdefault(
            place,
            core.Reading(quantity=core.Quantity(one.quantity), node=one.node.key, far=far, value=one.value, on=one.on),
        )
    return tuple(found[place] for place in sorted(found))
