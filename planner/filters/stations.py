"""Stations by verdict too."""

import django_filters as filters
from django.db.models import OuterRef, QuerySet, Subquery

from inventory.filters import NONE, StationFilter
from inventory.models import Node
from planner.core.findings import Verdict
from planner.models import Assessment, SegmentMember


def judged(nodes: QuerySet[Node]) -> QuerySet[Node]:
    """Add `verdict` and `segment` (its key) of the current assessment, and the risk, to each node; None where there is none."""
    current = Assessment.objects.order_by("-at", "-id").values("pk")[:1]
    mine = SegmentMember.objects.filter(node=OuterRef("pk"), segment__assessment=Subquery(current))
    mine = mine.order_by("pk")  # as they lie by node: by the segment's name, all segments would be looked through
    return nodes.select_related("risk").annotate(
        verdict=Subquery(mine.values("segment__verdict")[:1]), segment=Subquery(mine.values("segment__key")[:1])
    )


class JudgedStationFilter(StationFilter):
    """Stations by place, model, condition, age, support and verdict."""

    verdict = filters.ChoiceFilter(
        label="Verdict",
        empty_label="any",
        choices=[(verdict.value, verdict.value) for verdict in Verdict],
        null_label="not assessed",
        null_value=NONE,
    )
