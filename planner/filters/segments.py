"""What the list of segments can be narrowed by."""

import django_filters as filters
from django.db.models import QuerySet

from inventory.filters import ByName
from inventory.models import Building
from planner.core.findings import Verdict
from planner.core.rules.table import RULES
from planner.models import Assessment, Segment


class SegmentFilter(filters.FilterSet):  # type: ignore[misc]  # the library has no types
    """Segments by building, verdict and what decided."""

    key = filters.CharFilter(label="Segment", lookup_expr="icontains")
    building = ByName(queryset=Building.objects.all(), to_field_name="key", label="Building", empty_label="all")
    verdict = filters.ChoiceFilter(
        label="Verdict", empty_label="any", choices=[(verdict.value, verdict.value) for verdict in Verdict]
    )
    decided_by = filters.ChoiceFilter(
        label="Decided by", empty_label="any", choices=[(rule.code, rule.code) for rule in RULES]
    )
    stations_from = filters.NumberFilter(
        label="Old stations from", field_name="station_count", lookup_expr="gte", min_value=0
    )

    class Meta:
        model = Segment
        fields: list[str] = []


def segments_of(assessment: Assessment | None) -> QuerySet[Segment]:
    """Return the segments of an assessment with what the list shows of them, without the long reports."""
    return Segment.objects.filter(assessment=assessment).select_related("building").defer("report")
