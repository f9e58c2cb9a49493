"""What the list of segments can be narrowed by."""

import django_filters as filters
from django.db.models import QuerySet
from django.http import HttpRequest

from inventory.filters import ByName
from inventory.models import Building
from planner.core.findings import Verdict
from planner.core.rules.table import RULES
from planner.models import Assessment, Segment
from planner.services.standing import segments_asking
from planner.store.verdicts import current_assessment


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

    asks = filters.CharFilter(label="Waits for the answer to", method="by_question")

    class Meta:
        model = Segment
        fields: list[str] = []

    def __init__(self, data: object, queryset: QuerySet[Segment], request: HttpRequest | None = None) -> None:
        super().__init__(data, queryset=queryset, request=request)
        if not (self.data or {}).get("asks"):  # which other pages lead to; nobody types it here
            del self.filters["asks"]

    def by_question(self, found: QuerySet[Segment], _name: str, value: str) -> QuerySet[Segment]:
        """Keep those that wait for an answer."""
        return found.filter(pk__in=segments_asking(current_assessment(), value))


def segments_of(assessment: Assessment | None) -> QuerySet[Segment]:
    """Return the segments of an assessment with what the list shows of them, without the long reports."""
    return Segment.objects.filter(assessment=assessment).select_related("building").defer("report")
