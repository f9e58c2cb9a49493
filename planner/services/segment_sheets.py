"""What a sheet about one segment is made of: its report, nodes, methods, circuit, figures to measure, and drawings."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice

from django.db.models import QuerySet

from inventory.models import EquipmentModel, Method, Node, Reading
from planner.core.circuits import Circuit, Stretch
from planner.core.comparing import Compared, compare
from planner.core.findings import CONVERTIBLE, SegmentReport
from planner.core.measuring import Measure, figures_to_measure
from planner.handover.drawings import MOST_NODES, draw_sheets
from planner.handover.reading import Outline, steps_of
from planner.handover.sketch import BEFORE, Sketch, SketchRow, after, before, rows_along
from planner.models import Segment, SegmentMember
from planner.services.words import report_on
from planner.store.briefs import load_brief
from planner.store.drawn import changes_of, sketch_of, with_changes
from planner.store.measured import (
    Read,
    all_readings,
    circuit_of,
    methods_of,
    models_on,
    newest_of,
    read_for,
    readings_on,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentSheet:
    """What sheets about one segment show of it."""

    row: Segment
    report: SegmentReport
    models: Mapping[str, EquipmentModel]  # by node
    methods: tuple[Method, ...]
    circuit: Circuit
    measures: tuple[Measure, ...]
    read: Read
    along: "_Along"  # the segments that it is read with

    @property
    def is_large(self) -> bool:
        """Tell whether it has more nodes than are drawn one by one."""
        return len(self.models) > MOST_NODES

    @property
    def converts(self) -> bool:
        """Tell whether there is an after to draw."""
        return self.report.verdict in CONVERTIBLE or bool(changes_of(self.report))

    @property
    def nodes(self) -> tuple[Node, ...]:
        """Return its nodes with all that is drawn of them."""
        return self.along.nodes[self.row.pk]

    @property
    def sketch(self) -> Sketch:
        """Return what is drawn of it."""
        return sketch_of(self.report, self.nodes, self.methods, self.circuit, self.read)

    @property
    def outline(self) -> Outline[Stretch]:
        """Return it as recorded, before anything is drawn."""
        return Outline(
            segment=self.report.segment,
            verdict=self.report.verdict.value,
            when=BEFORE,
            kinds={node: model.kind for node, model in self.models.items()},
            runs=self.circuit.stretches,
            root=next(iter(self.report.gateways), None),
            old=frozenset(self.report.old_stations),
        )

    def first_rows(self, outline: Outline[Stretch], most: int) -> tuple[tuple[SketchRow, Node], ...]:
        """Return the first rows of the table behind the drawing of one that does not convert, each with its node."""
        steps = tuple(islice(steps_of(outline.kinds, outline.runs, outline.root), most))
        nodes = {node.key: node for node in _in_full(Node.objects.filter(key__in=[step.node for step in steps]))}
        shown = replace(self.circuit, stretches=tuple(step.run for step in steps if step.run is not None))
        sketch = sketch_of(self.report, nodes.values(), self.methods, shown, self.read)
        return tuple((row, nodes[row.node]) for row in rows_along(sketch, steps))

    @property
    def drawings(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Return the sheets before and after the change; none after where it does not convert, none of a very large one."""
        if self.is_large:
            return (), ()
        sketch = self.sketch
        return draw_sheets(before(sketch)), draw_sheets(after(sketch)) if sketch.converts else ()

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Return all that was ever read on it, the newest first."""
        return readings_on(self.report, self.along.readings)

    def compared(self, readings: Iterable[Reading]) -> dict[str, Compared]:
        """Return how the newest reading of each figure compares with what is expected, by the figure's code."""
        volts = {one.node: one.voltage_v for one in self.report.voltages}
        found = compare(self.circuit, volts, newest_of(readings), self.report.segment)
        places = {(one.reading.quantity, frozenset((one.reading.node, one.reading.far))): one for one in found}
        asked = {one.code: places.get((one.quantity, frozenset((one.node, one.far)))) for one in self.measures}
        return {code: one for code, one in asked.items() if one is not None}


@dataclass(frozen=True)
class _Along:
    """Some segments; what sheets may not need is read of all of them when the first asks."""

    segments: tuple[int, ...]

    @cached_property
    def nodes(self) -> dict[int, tuple[Node, ...]]:
        """Return the nodes of each segment with all that is drawn of them."""
        members = SegmentMember.objects.filter(segment__in=self.segments).values_list("segment", "node")
        rows = {
            node.pk: node for node in _in_full(Node.objects.filter(memberships__segment__in=self.segments).distinct())
        }
        own: dict[int, set[int]] = {segment: set() for segment in self.segments}
        for segment, node in members:
            own[segment].add(node)
        return {segment: tuple(node for pk, node in rows.items() if pk in keys) for segment, keys in own.items()}

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """Return all that was ever read on them, the newest first."""
        return all_readings(self.segments)


def measure_of(assessment: int, segments: Iterable[str], code: str) -> Measure | None:
    """Return the figure of this code that some segments ask for, None where none does."""
    asked = (one for sheet in sheets_of(assessment, segments) for one in sheet.measures)
    return next((one for one in asked if one.code == code), None)


def sheet_of(row: Segment) -> SegmentSheet:
    """Return the sheet of a stored segment."""
    return _sheets([row])[0]


def _sheets(rows: Sequence[Segment]) -> tuple[SegmentSheet, ...]:
    """Return the sheets of some stored segments, read as often as for one."""
    reports = [report_on(row) for row in rows]
    read, models = read_for(reports), models_on(rows)
    conductor_c, along = load_brief().conductor_c, _Along(tuple(row.pk for row in rows))
    found = []
    for row, report in zip(rows, reports, strict=True):
        methods = methods_of(report, read)
        circuit = circuit_of(report, methods, models[row.pk], conductor_c, read)
        sheet = SegmentSheet(
            row=row,
            report=report,
            models=models[row.pk],
            methods=methods,
            circuit=circuit,
            measures=figures_to_measure(report, with_changes(report.changes, circuit, read)),
            read=read,
            along=along,
        )
        found.append(sheet)
    return tuple(found)


def _in_full(nodes: QuerySet[Node]) -> QuerySet[Node]:
    return nodes.select_related("model", "room", "building").order_by("key")


def sheets_of(assessment: int, segments: Iterable[str]) -> tuple[SegmentSheet, ...]:
    """Return the sheets of some segments of an assessment, sorted by name; those that are gone are passed over."""
    rows = Segment.objects.filter(assessment=assessment, key__in=list(segments)).select_related("building")
    return _sheets(list(rows.order_by("key")))
