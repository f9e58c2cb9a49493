"""Which figures to measure at a segment, where, and what they should read: its power pair, data lines, stations."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from operator import itemgetter

from inventory.core.readings import Quantity
from planner.core.circuits import WALL_C, Circuit, between_ohm, data_pair_ohm
from planner.core.edges import distances
from planner.core.figures import Figure, data_lines_figure, loop_figure, no_load_figure, voltage_figure
from planner.core.findings import CONVERTIBLE, SegmentReport, Verdict
from planner.core.rules.table import LOCAL

MOST_PLACES = 60  # at which one figure is measured on a segment: of more the farthest, and those that get the least


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One figure to measure at a node, of a line towards the node `far`; `figure` is None where nothing is predicted."""

    quantity: Quantity
    node: str
    far: str | None = None
    figure: Figure | None

    @property
    def code(self) -> str:
        """Return what tells it from all other figures, however many are asked for."""
        return "|".join((self.quantity.value, self.node, self.far or ""))

    @property
    def where(self) -> str:
        """Return the place in words."""
        return self.node if self.far is None else f"{self.node} to {self.far}"


def figures_to_measure(report: SegmentReport, circuit: Circuit) -> tuple[Measure, ...]:
    """Return what to measure at a segment, in the order in which it is measured.

    Parameters
    ----------
    report : SegmentReport
        The segment as judged. The loop can be measured on any with one gateway and an old station, the rest only where
        the segment converts, or would but for a doubt about its records.
    circuit : Circuit
        Its runs, source and end resistors as recorded; `planner.core.circuits`.

    Examples
    --------
    >>> from inventory.core.catalogue import Cable
    >>> from planner.core.circuits import Stretch
    >>> from planner.core.findings import LoadVoltage
    >>> report = SegmentReport(
    ...     segment="L1", building=None, buses=("L1",), verdict=Verdict.IN_PLACE, why="", decided_by=None,
    ...     old_stations=("S1",), gateways=("G1",), others=(), nodes=("G1", "S1"), runs=("R1",),
    ...     voltages=(LoadVoltage(node="S1", voltage_v=23.4, current_a=0.07),),
    ... )
    >>> cable = Cable(key="A", category="6", power_pairs=2)
    >>> run = Stretch(key="R1", ends=("G1", "S1"), length_m=50.0, cable=cable)
    >>> circuit = Circuit(stretches=(run,), source="G1", source_v=24.0, ends=2, end_ohm=120.0)
    >>> [(one.where, one.quantity.value, round(one.figure.expected, 2)) for one in figures_to_measure(report, circuit)]
    ... # doctest: +NORMALIZE_WHITESPACE
    [('G1 to S1', 'loop resistance', 4.69), ('G1 to S1', 'resistance between the data lines', 60.0),
    ('S1', 'voltage without load', 24.0), ('S1', 'voltage at the station', 23.4)]

    """
    if report.verdict is Verdict.LEAVE or len(report.gateways) != 1 or not report.old_stations:
        return ()
    gateway, ends = report.gateways[0], _line_ends(report, circuit)
    found = [*_loops(gateway, ends, circuit)]
    if report.verdict in CONVERTIBLE or report.decided_by == "records":
        found += [*_data_lines(gateway, ends, circuit), *_no_load(report, ends, circuit), *_voltages(report, circuit)]
    return tuple(found)


def meanings(measures: tuple[Measure, ...]) -> tuple[Figure, ...]:
    """Return one figure a quantity: when it is measured, and what readings beyond its span mean."""
    found: dict[Quantity, Figure] = {}
    for one in measures:
        if one.figure is not None:
            found.setdefault(one.quantity, one.figure)
    return tuple(found[quantity] for quantity in Quantity if quantity in found)


def _line_ends(report: SegmentReport, circuit: Circuit) -> tuple[str, ...]:
    """Return the old stations at the ends of lines; on a ring the one that is farthest; else all that there are."""
    gateway = report.gateways[0]
    degree = Counter(end for stretch in circuit.stretches for end in stretch.ends)
    ends = [node for node in report.old_stations if degree[node] == 1]
    if 0 < len(ends) <= MOST_PLACES:
        return tuple(ends)
    far = _far_ohm(gateway, circuit)
    by_distance = sorted(ends or report.old_stations, key=lambda node: (-far.get(node, 0.0), node))
    return tuple(sorted(by_distance[: MOST_PLACES if ends else 1]))


def _far_ohm(gateway: str, circuit: Circuit) -> dict[str, float]:
    """Return how far the nodes that a gateway reaches are, by the nearest way [ohm]; in runs where not all are known."""
    ohms = [one.loop_ohm(WALL_C) for one in circuit.stretches]
    known = [ohm for ohm in ohms if ohm is not None]
    steps = known if len(known) == len(ohms) else [1.0] * len(ohms)
    return distances([one.ends for one in circuit.stretches], steps, gateway)


def _loops(gateway: str, ends: tuple[str, ...], circuit: Circuit) -> Iterator[Measure]:
    ways = circuit.ways(gateway, ends)
    for node in ends:
        ohm = between_ohm(ways[node], gateway, node)
        figure = None if ohm is None else loop_figure(ohm)
        yield Measure(quantity=Quantity.LOOP, node=gateway, far=node, figure=figure)


def _data_lines(gateway: str, ends: tuple[str, ...], circuit: Circuit) -> Iterator[Measure]:
    if circuit.ends is None or not circuit.end_ohm:
        return
    figure = data_lines_figure(circuit.ends, circuit.end_ohm, data_pair_ohm(circuit))
    if figure is not None:
        yield Measure(quantity=Quantity.DATA_LINES, node=gateway, far=ends[0], figure=figure)


def _is_fed_from_afar(report: SegmentReport, circuit: Circuit) -> bool:
    return circuit.source_v is not None and LOCAL not in report.extras


def _no_load(report: SegmentReport, ends: tuple[str, ...], circuit: Circuit) -> Iterator[Measure]:
    if circuit.source_v is None or not _is_fed_from_afar(report, circuit):
        return
    figure = no_load_figure(circuit.source_v)
    for node in ends:
        yield Measure(quantity=Quantity.NO_LOAD, node=node, figure=figure)


def _voltages(report: SegmentReport, circuit: Circuit) -> Iterator[Measure]:
    if circuit.source_v is None or not _is_fed_from_afar(report, circuit):
        return
    old = set(report.old_stations)
    loads = [(one.voltage_v, one.node) for one in report.voltages if one.node in old and one.voltage_v is not None]
    for voltage_v, node in sorted(sorted(loads)[:MOST_PLACES], key=itemgetter(1)):
        yield Measure(quantity=Quantity.LOADED, node=node, figure=voltage_figure(voltage_v, circuit.source_v))
