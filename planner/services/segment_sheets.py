"""What a sheet about one segment is made of: its report, nodes, methods, circuit, figures to measure, and drawings."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.models import Method, Node, Reading
from planner.core.circuits import Circuit
from planner.core.comparing import Compared, compare
from planner.core.findings import SegmentReport
from planner.core.measuring import Measure, figures_to_measure
from planner.handover.drawings import MOST_NODES, draw_sheets
from planner.handover.sketch import Sketch, after, before
from planner.models import Segment
from planner.services.words import report_on
from planner.store.briefs import load_brief
from planner.store.drawn import sketch_of, with_changes
from planner.store.measured import circuit_of, methods_of, newest_of, readings_on


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentSheet:
    """What sheets about one segment show of it."""

    row: Segment
    report: SegmentReport
    nodes: tuple[Node, ...]
    methods: tuple[Method, ...]
    circuit: Circuit
    measures: tuple[Measure, ...]

    @property
    def sketch(self) -> Sketch:
        """Return what is drawn of it."""
        return sketch_of(self.report, self.nodes, self.methods, self.circuit)

    @property
    def drawings(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Return the sheets before and after the change; none after where it does not convert, none of a very large one."""
        sketch = self.sketch
        if len(self.nodes) > MOST_NODES:
            return (), ()
        return draw_sheets(before(sketch)), draw_sheets(after(sketch)) if sketch.converts else ()

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Return all that was ever read on it, the newest first."""
        return readings_on(self.report)

    def compared(self, readings: Iterable[Reading]) -> dict[str, Compared]:
        """Return how the newest reading of each figure compares with what is expected, by the figure's code."""
        volts = {one.node: one.voltage_v for one in self.report.voltages}
        found = compare(self.circuit, volts, newest_of(readings), self.report.segment)
        places = {(one.reading.quantity, frozenset((one.reading.node, one.reading.far))): one for one in found}
        asked = {one.code: places.get((one.quantity, frozenset((one.node, one.far)))) for one in self.measures}
        return {code: one for code, one in asked.items() if one is not None}


def measure_of(assessment: int, segments: Iterable[str], code: str) -> Measure | None:
    """Return the figure of this code that some segments ask for, None where none does."""
    asked = (one for sheet in sheets_of(assessment, segments) for one in sheet.measures)
    return next((one for one in asked if one.code == code), None)


def sheet_of(row: Segment) -> SegmentSheet:
    """Return the sheet of a stored segment."""
    report = report_on(row)
    nodes = tuple(Node.objects.filter(key__in=report.nodes).select_related("model", "room", "building").order_by("key"))
    methods = methods_of(report)
    circuit = circuit_of(report, methods, nodes, load_brief().conductor_c)
    measures = figures_to_measure(report, with_changes(report.changes, circuit))
    return SegmentSheet(row=row, report=report, nodes=nodes, methods=methods, circuit=circuit, measures=measures)


def sheets_of(assessment: int, segments: Iterable[str]) -> tuple[SegmentSheet, ...]:
    """Return the sheets of some segments of an assessment, sorted by name; those that are gone are passed over."""
    rows = Segment.objects.filter(assessment=assessment, key__in=list(segments)).select_related("building")
    return tuple(sheet_of(row) for row in rows.order_by("key"))
