"""What the crew needs for one segment, read for that segment alone: landings, its circuit, what was measured on it."""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields

from inventory.core import catalogue as records
from inventory.core import readings as core
from inventory.models import Cable, EquipmentModel, Method, Node, ProtocolRate, Reading, Run
from planner.core.circuits import Circuit, Stretch
from planner.core.findings import SegmentReport
from planner.core.landing import Bridge, LandingRow, bridges, crossed_signals, landing_faults, landing_table
from planner.core.rules.columns import feeds, known
from planner.core.rules.readings import lead_ohm
from planner.models import Segment
from planner.store.walk import in_lots


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
    rows_of = tuple((method, _record(method)) for method in methods)
    return tuple(
        Landing(
            method=method,
            rows=rows,
            faults=faults,
            bridges=bridges(rows),
            crossed=crossed_signals(rows),
        )
        for (method, record), faults in zip(rows_of, landing_faults(one for _, one in rows_of), strict=True)
        for rows in (landing_table(record),)
    )


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


def models_on(segment: Segment) -> dict[str, EquipmentModel]:
    """Return the model of each node of a stored segment, by name; the nodes by themselves are not read."""
    rows = Node.objects.filter(memberships__segment=segment).order_by("key").values_list("key", "model")
    placed = list(rows)
    models = EquipmentModel.objects.in_bulk({model for _, model in placed})
    return {node: models[model] for node, model in placed}


def circuit_of(
    report: SegmentReport, methods: Iterable[Method], models: Mapping[str, EquipmentModel], conductor_c: float
) -> Circuit:
    """Return a segment as it is measured, after the change; `models` by node."""
    methods = tuple(methods)
    row = ProtocolRate.objects.filter(protocol__key=report.new_protocol, bit_rate_kbit_s=report.bit_rate_kbit_s).first()
    sources = _sources(methods, models)
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
    worked, cables = _worked(report), {cable.pk: cable_of(cable) for cable in Cable.objects.all()}
    return tuple(
        Stretch(
            key=key,
            ends=(near, far),
            length_m=known(length_m),
            cable=None if cable is None else cables[cable],
            bus=bus,
            lead_ohm=_leads_ohm(lead, (near in worked) + (far in worked)),
        )
        for key, near, far, length_m, cable, bus in sorted(_runs(report))
    )


def _runs(report: SegmentReport) -> Iterator[tuple[str, str, str, float | None, int | None, str]]:
    """Yield the runs of a segment column by column: those on its buses, then any that has come to be on another."""
    wanted = set(report.runs)
    columns = ("key", "from_node__key", "to_node__key", "length_m", "cable_id", "bus__key")
    on_buses = Run.objects.filter(bus__key__in=report.buses).order_by("key")
    for row in on_buses.values_list(*columns).iterator():
        if row[0] in wanted:
            wanted.discard(row[0])
            yield row
    for some in in_lots(wanted):
        yield from Run.objects.filter(key__in=some).order_by("key").values_list(*columns)


def _leads_ohm(lead: float | None, count: int) -> float | None:
    if count == 0:
        return 0.0
    return None if lead is None else lead * count


def cable_of(cable: Cable) -> records.Cable:
    """Return a cable of the database as a record."""
    return records.Cable(**{one.name: getattr(cable, one.name) for one in fields(records.Cable) if one.name != "part"})


def _sources(methods: Iterable[Method], models: Mapping[str, EquipmentModel]) -> Mapping[str, float | None]:
    """Return what feeds the segment after the change, with its voltage."""
    new = next((method.new_gateway_model for method in methods if method.new_gateway_model), None)
    by_key = {model.key: model for model in models.values()}
    after = {key: new if new and model.kind == "gateway" else model for key, model in by_key.items()}
    feeding = {key for key, model in after.items() if feeds(_model(model))}
    return {node: known(after[model.key].supply_v) for node, model in models.items() if model.key in feeding}


def _model(model: EquipmentModel) -> records.Model:
    return records.Model(
        key=model.key,
        kind=records.NodeKind(model.kind),
        supply_v=model.supply_v,
        supply_rating_w=model.supply_rating_w,
    )


def readings_on(segment: Segment, report: SegmentReport) -> tuple[Reading, ...]:
    """Return all that was ever read on a stored segment, the newest first."""
    found = Reading.objects.filter(node__memberships__segment=segment).select_related("node", "far", "by")
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
