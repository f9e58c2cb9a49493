"""What is drawn of one segment, read for that segment alone: a page must not load the campus."""

from inventory.models import Node, Run
from planner.core.findings import SegmentReport
from planner.handover.drawings import node_of, run_of, volts_of
from planner.handover.layout import DrawnSegment


def load_drawn(report: SegmentReport) -> DrawnSegment:
    """Return a segment's nodes and runs as stored now, with the voltages of the report."""
    volts, old = volts_of(report), set(report.old_stations)
    nodes = Node.objects.filter(key__in=report.nodes).select_related("model", "room")
    runs = Run.objects.filter(key__in=report.runs).select_related("from_node", "to_node", "cable")
    return DrawnSegment(
        segment=report.segment,
        verdict=report.verdict.value,
        nodes=tuple(
            node_of(
                key=node.key,
                kind=node.model.kind,
                model=node.model.key,
                room=node.room.key if node.room else None,
                volts=volts.get(node.key),
                ends=(node.ends_bus or node.model.ends_bus) == "yes",
                is_old=node.key in old,
            )
            for node in sorted(nodes, key=lambda node: node.key)
        ),
        runs=tuple(
            run_of(
                key=run.key,
                ends=(run.from_node.key, run.to_node.key),
                length_m=run.length_m,
                cable=run.cable.key if run.cable else None,
            )
            for run in sorted(runs, key=lambda run: run.key)
        ),
        root=report.gateways[0] if report.gateways else None,
    )
