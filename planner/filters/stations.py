"""Stations by verdict too."""

import django_filters as filters
from django.db.models import OuterRef, QuerySet, Subquery
from django.http import HttpRequest

from inventory.filters import NONE, StationFilter
from inventory.models import Node
from planner.core.findings import Verdict
from planner.models import Assessment, SegmentMember
from planner.services.converted import stations_dated, stations_of_order
from planner.services.standing import current_plan, stations_asking
from planner.store.verdicts import current_assessment


def judged(nodes: QuerySet[Node]) -> QuerySet[Node]:
    """Add `verdict` and `segment` (its key) of the current assessment, and the risk, to each node; None where there is none."""
    current = Assessment.objects.order_by("-at", "-id").values("pk")[:1]
    mine = SegmentMember.objects.filter(node=OuterRef("pk"), segment__assessment=Subquery(current))
    mine = mine.order_by("pk")  # as they lie by node: by the segment's name, all segments would be looked through
    return nodes.select_related("risk").annotate(
        verdict=Subquery(mine.values("segment__verdict")[:1]), segment=Subquery(mine.values("segment__key")[:1])
    )


PLANNED, CONVERTED = "planned", "converted"


class JudgedStationFilter(StationFilter):
    """Stations by place, model, condition, age, support, verdict and what the plan does with them."""

    room = filters.CharFilter(label="Room", field_name="room__key", lookup_expr="iexact")

    verdict = filters.ChoiceFilter(
        label="Verdict",
        empty_label="any",
        choices=[(verdict.value, verdict.value) for verdict in Verdict],
        null_label="not assessed",
        null_value=NONE,
    )
    work = filters.ChoiceFilter(
        label="In the plan",
        empty_label="any",
        choices=[(PLANNED, "dated"), (CONVERTED, "converted")],
        method="by_work",
    )
    order = filters.CharFilter(label="Order", method="by_order")
    asks = filters.CharFilter(label="Waits for the answer to", method="by_question")

    def __init__(self, data: object, queryset: QuerySet[Node], request: HttpRequest | None = None) -> None:
        super().__init__(data, queryset=queryset, request=request)
        for name in ("order", "asks"):  # which other pages lead to; nobody types them here
            if not (self.data or {}).get(name):
                del self.filters[name]

    def by_work(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep those that the plan in force has dated, or that it has converted."""
        dated = stations_dated(current_plan())
        return found.filter(key__in=dated.planned if value == PLANNED else dated.done)

    def by_order(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep those that one order of the plan in force converts."""
        return found.filter(key__in=stations_of_order(current_plan(), value))

    def by_question(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep the old stations that wait for an answer."""
        return found.filter(key__in=stations_asking(current_assessment(), value))
