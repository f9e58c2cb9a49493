"""What the crew needs for one segment, read for that segment alone: landings, its circuit, what was measured on it."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields

from inventory.core import catalogue as records
from inventory.core import readings as core
from inventory.models import Cable, EquipmentModel, Method, Node, ProtocolRate, Reading, Run
from planner.core.circuits import Circuit, Stretch
from planner.core.findings import SegmentReport
from planner.core.landing import Bridge, LandingRow, bridges, crossed_signals, landing_faults, landing_table
from planner.core.rules.columns import feeds, known
from planner.core.rules.readings import lead_ohm
from planner.models import Segment, SegmentMember
from planner.store.walk import in_lots


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """Where the conductors land by one method, and what is wrong with that in the records."""

    method: Method
    rows: tuple[LandingRow, ...]
    faults: tuple[str, ...]
    bridges: tuple[Bridge, ...]
    crossed: tuple[tuple[str, int, int], ...]  # signal, pin, far pin of a lead made up A to B


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What was read of the database for some segments at once: methods and bit rates, cables by id, and their runs by name."""

    methods: tuple[Method, ...]
    rates: tuple[ProtocolRate, ...]
    cables: Mapping[int, records.Cable]
    runs: Mapping[str, "RunRow"]


RunRow = tuple[str, str, str, float | None, int | None, str]  # name, both ends, length, cable's id, bus


def read_for(reports: Iterable[SegmentReport]) -> Read:
    """Read what sheets about some segments need of the database, as often for many as for one."""
    reports = tuple(reports)
    keys = {method for report in reports for _station, method in report.methods}
    parts = ("old_model", "new_model", "new_protocol", "new_gateway_model", "patch_cable")
    methods = Method.objects.filter(key__in=keys).select_related(*parts).prefetch_related("pins").order_by("key")
    rates = ProtocolRate.objects.filter(protocol__key__in={report.new_protocol for report in reports})
    return Read(
        methods=tuple(methods),
        rates=tuple(rates.select_related("protocol")),
        cables={cable.pk: cable_of(cable) for cable in Cable.objects.all()},
        runs={row[0]: row for row in _runs(reports)},
    )


def methods_of(report: SegmentReport, read: Read) -> tuple[Method, ...]:
    """Return the methods that convert a segment's stations, each once, with their pins."""
    keys = {method for _station, method in report.methods}
    return tuple(method for method in read.methods if method.key in keys)


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


def models_on(segments: Sequence[Segment]) -> dict[int, dict[str, EquipmentModel]]:
    """Return the model of each node of some stored segments, by segment and name; the nodes by themselves are not read."""
    found: dict[int, dict[str, EquipmentModel]] = {segment.pk: {} for segment in segments}
    rows = Node.objects.filter(memberships__segment__in=found).order_by("key")
    placed = list(rows.values_list("memberships__segment", "key", "model"))
    models = EquipmentModel.objects.in_bulk({model for _, _, model in placed})
    for segment, node, model in placed:
        if segment in found:
            found[segment][node] = models[model]
    return found


def circuit_of(
    report: SegmentReport,
    methods: Iterable[Method],
    models: Mapping[str, EquipmentModel],
    conductor_c: float,
    read: Read,
) -> Circuit:
    """Return a segment as it is measured, after the change; `models` by node."""
    methods = tuple(methods)
    wanted = report.new_protocol, report.bit_rate_kbit_s
    row = next((one for one in read.rates if (one.protocol.key, one.bit_rate_kbit_s) == wanted), None)
    sources = _sources(methods, models)
    loads = [(one.node, one.voltage_v, one.current_a) for one in report.voltages]
    lead = known(_lead_ohm(methods, conductor_c))
    certain = len(sources) == 1 and all(volts is not None for _, volts, _ in loads)
    return Circuit(
        stretches=_stretches(report, lead, read),
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


def _stretches(report: SegmentReport, lead: float | None, read: Read) -> tuple[Stretch, ...]:
    """Return the runs as recorded now, with a patch lead of so much resistance on each end that is worked on."""
    worked, cables = _worked(report), read.cables
    runs = (read.runs[key] for key in report.runs if key in read.runs)
    return tuple(
        Stretch(
            key=key,
            ends=(near, far),
            length_m=known(length_m),
            cable=None if cable is None else cables[cable],
            bus=bus,
            lead_ohm=_leads_ohm(lead, (near in worked) + (far in worked)),
        )
        for key, near, far, length_m, cable, bus in sorted(runs)
    )


def _runs(reports: Sequence[SegmentReport]) -> Iterator[RunRow]:
    """Yield the runs of some segments column by column: those on their buses, then any that has come to be on another."""
    wanted = {run for report in reports for run in report.runs}
    columns = ("key", "from_node__key", "to_node__key", "length_m", "cable_id", "bus__key")
    on_buses = Run.objects.filter(bus__key__in={bus for report in reports for bus in report.buses}).order_by("key")
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


def all_readings(segments: Iterable[int]) -> tuple[Reading, ...]:
    """Return all that was ever read on some stored segments, the newest first."""
    nodes = SegmentMember.objects.filter(segment__in=list(segments)).values("node")
    found = Reading.objects.filter(node__in=nodes).select_related("node", "far", "by")
    return tuple(found.order_by("-on", "-entered", "-pk"))


def readings_on(report: SegmentReport, read: Iterable[Reading]) -> tuple[Reading, ...]:
    """Return those of some readings that are of a segment, in their order."""
    nodes = set(report.nodes)
    return tuple(one for one in read if one.node.key in nodes and (one.far is None or one.far.key in nodes))


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
