"""The list of segments."""

from typing import Any

from django.urls import reverse
from django.utils.html import format_html

from inventory.tables import Cell, ListTable
from inventory.templatetags.saying import day, marked
from planner.models import Segment


def _segment_shown(segment: Any) -> object:
    return format_html('<a class="key" href="{}">{}</a>', reverse("segment", args=[segment.key]), segment.key)


def _building(segment: Segment) -> str | None:
    return segment.building.key if segment.building else None


class SegmentTable(ListTable):
    """Segments: where, what must be done, why."""

    segment = Cell("Segment", lambda segment: segment.key, _segment_shown, sort="key")
    building = Cell("Building", _building, sort="building__key")
    verdict = Cell("Verdict", lambda segment: segment.verdict, lambda segment: marked(segment.verdict), sort="verdict")
    why = Cell("Why", lambda segment: segment.why or "reasons are being written")
    stations = Cell("Old stations", lambda segment: segment.station_count, numeric=True, sort="station_count")
    nodes = Cell("Nodes", lambda segment: segment.node_count, numeric=True, sort="node_count")
    oldest = Cell(
        "Oldest installed", lambda segment: segment.oldest, lambda segment: day(segment.oldest), sort="oldest"
    )

    caption = "Segments"
