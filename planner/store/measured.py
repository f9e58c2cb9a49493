"""What the crew needs for one segment, read for that segment alone: landings and figures to measure."""

from collections.abc import Iterable
from dataclasses import dataclass, fields

from inventory.core import catalogue as records
from inventory.core.conductors import loop_ohm
from inventory.models import Cable, Method, Node, ProtocolRate, Run
from planner.core.findings import SegmentReport
from planner.core.landing import LandingRow, check_landing, landing_table
from planner.core.measuring import WALL_C, Measure, Wire, figures_to_measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """Where the conductors land by one method, and what is wrong with that in the records."""

    method: Method
    rows: tuple[LandingRow, ...]
    faults: tuple[str, ...]


def methods_of(report: SegmentReport) -> tuple[Method, ...]:
    """Return the methods that convert a segment's stations, each once, with their pins."""
    keys = {method for _station, method in report.methods}
    models = ("old_model", "new_model", "new_protocol", "new_gateway_model")
    return tuple(Method.objects.filter(key__in=keys).select_related(*models).prefetch_related("pins").order_by("key"))


def landings_of(methods: Iterable[Method]) -> tuple[Landing, ...]:
    """Return the landing table of each method."""
    found = []
    for method in methods:
        rows = landing_table(_record(method))
        found.append(Landing(method=method, rows=rows, faults=check_landing(rows)))
    return tuple(found)


def _record(method: Method) -> records.Method:
    names = [one.name for one in fields(records.MethodPin)]
    return records.Method(
        key=method.key,
        old_model=method.old_model.key,
        new_model=method.new_model.key,
        new_protocol=method.new_protocol.key,
        pins=tuple(records.MethodPin(**{name: getattr(pin, name) for name in names}) for pin in method.pins.all()),
    )


def measures_of(report: SegmentReport, methods: Iterable[Method], nodes: Iterable[Node]) -> tuple[Measure, ...]:
    """Return the figures to measure at a segment once it is converted."""
    runs = Run.objects.filter(key__in=report.runs).select_related("from_node", "to_node", "cable").order_by("key")
    rate = ProtocolRate.objects.filter(
        protocol__key=report.new_protocol, bit_rate_kbit_s=report.bit_rate_kbit_s
    ).first()
    return figures_to_measure(
        report,
        tuple(_wire(run) for run in runs),
        ends=rate.ends if rate else None,
        end_ohm=rate.end_ohm if rate else None,
        source_v=_source_v(methods, nodes),
    )


def _wire(run: Run) -> Wire:
    cable = _cable(run.cable) if run.cable else None
    return Wire(ends=(run.from_node.key, run.to_node.key), loop_ohm=loop_ohm(run.length_m, cable, WALL_C))


def _cable(cable: Cable) -> records.Cable:
    return records.Cable(**{one.name: getattr(cable, one.name) for one in fields(records.Cable)})


def _source_v(methods: Iterable[Method], nodes: Iterable[Node]) -> float | None:
    """Return the voltage of the one source after the change; None where none or several could feed."""
    new = next((method.new_gateway_model for method in methods if method.new_gateway_model), None)
    models = [new if new and node.model.kind == "gateway" else node.model for node in nodes]
    volts = [model.supply_v for model in models if model.supply_v is not None]
    return volts[0] if len(volts) == 1 else None
