"""Which figures to measure at a segment once it is converted: at its power pair, its data lines, its stations."""

from dataclasses import dataclass

import networkx as nx

from planner.core.figures import Figure, data_lines_figure, loop_figure, voltage_figure
from planner.core.findings import CONVERTIBLE, SegmentReport
from planner.core.rules.table import LOCAL

WALL_C = 20.0  # at which a loop is measured in a finished building (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """One run: the nodes at its ends, and its loop resistance [ohm], None where it is not known."""

    ends: tuple[str, str]
    loop_ohm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One figure with the place where it is taken."""

    where: str
    figure: Figure


def figures_to_measure(
    report: SegmentReport, wires: tuple[Wire, ...], *, ends: int | None, end_ohm: float | None, source_v: float | None
) -> tuple[Measure, ...]:
    """Return what to measure at a segment that can be converted, in the order in which it is measured.

    Parameters
    ----------
    report : SegmentReport
        The segment as judged; one that cannot be converted has nothing to measure.
    wires : tuple of Wire
        Its runs.
    ends : int or None
        End resistors that the new protocol wants; None where that is not known.
    end_ohm : float or None
        Resistance of each [ohm].
    source_v : float or None
        Voltage of the one source that feeds the new bus [V].

    Examples
    --------
    >>> from planner.core.findings import LoadVoltage, Verdict
    >>> report = SegmentReport(
    ...     segment="L1", building=None, buses=("L1",), verdict=Verdict.IN_PLACE, why="", decided_by=None,
    ...     old_stations=("S1",), gateways=("G1",), others=(), nodes=("G1", "S1"), runs=("R1",),
    ...     voltages=(LoadVoltage(node="S1", voltage_v=23.4, current_a=0.07),),
    ... )
    >>> found = figures_to_measure(report, (Wire(ends=("G1", "S1"), loop_ohm=2.0),), ends=2, end_ohm=120.0, source_v=24.0)
    >>> [(one.where, one.figure.expected) for one in found]
    [('G1 to S1', 2.0), ('G1', 60.0), ('S1', 23.4)]

    """
    if report.verdict not in CONVERTIBLE or len(report.gateways) != 1:
        return ()
    gateway = report.gateways[0]
    found = [*_loops(report, gateway, wires)]
    data = data_lines_figure(ends, end_ohm) if ends is not None and end_ohm is not None else None
    found += [Measure(where=gateway, figure=data)] if data else []
    return tuple(found + _voltages(report, source_v))


def _loops(report: SegmentReport, gateway: str, wires: tuple[Wire, ...]) -> list[Measure]:
    """Return the loop from the gateway to each station at the end of a line; none on a ring, where it has two ways."""
    graph: nx.Graph[str] = nx.Graph()
    for wire in wires:
        graph.add_edge(*wire.ends, loop_ohm=wire.loop_ohm)
    if gateway not in graph or graph.number_of_edges() != len(wires) or not nx.is_forest(graph):
        return []
    far = [node for node in report.old_stations if node in graph and graph.degree(node) == 1]
    ways = [(node, nx.shortest_path(graph, gateway, node)) for node in far if nx.has_path(graph, gateway, node)]
    loops = [(node, [graph.edges[pair]["loop_ohm"] for pair in nx.utils.pairwise(way)]) for node, way in ways]
    return [
        Measure(where=f"{gateway} to {node}", figure=loop_figure(sum(ohms)))
        for node, ohms in loops
        if all(ohm is not None for ohm in ohms)
    ]


def _voltages(report: SegmentReport, source_v: float | None) -> list[Measure]:
    if source_v is None or LOCAL in report.extras:
        return []
    old = set(report.old_stations)
    return [
        Measure(where=load.node, figure=voltage_figure(load.voltage_v, source_v))
        for load in report.voltages
        if load.node in old and load.voltage_v is not None
    ]
