"""Stations by verdict too."""

from datetime import date

import django_filters as filters
from django.db.models import Exists, OuterRef, QuerySet, Subquery
from django.http import HttpRequest

from inventory.filters import NONE, StationFilter
from inventory.models import Node
from inventory.views.numbers import row_number
from planner.core.findings import Verdict
from planner.filters.records import DayFilter
from planner.models import Assessment, Plan, SegmentMember
from planner.services.converted import stations_dated, stations_of_order
from planner.services.standing import current_plan, stations_asking
from planner.store.verdicts import current_assessment


def judged(nodes: QuerySet[Node]) -> QuerySet[Node]:
    """Add `verdict` and `segment` (its key) of the current assessment, and the risk, to each node; None where there is none."""
    mine = _memberships().order_by("pk")  # as they lie by node: by the segment's name, all would be looked through
    return nodes.select_related("risk").annotate(
        verdict=Subquery(mine.values("segment__verdict")[:1]), segment=Subquery(mine.values("segment__key")[:1])
    )


def _memberships() -> QuerySet[SegmentMember]:
    """Return where a node stands in the current assessment, to be asked of each node; of what is no gateway it is one segment."""
    current = Assessment.objects.order_by("-at", "-id").values("pk")[:1]
    return SegmentMember.objects.filter(node=OuterRef("pk"), segment__assessment=Subquery(current))


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
        method="by_verdict",
    )
    work = filters.ChoiceFilter(
        label="In the plan",
        empty_label="any",
        choices=[(PLANNED, "dated"), (CONVERTED, "converted")],
        method="by_work",
    )
    until = DayFilter(label="By the night of", method="by_until")
    order = filters.CharFilter(label="Order", method="by_order")
    asks = filters.CharFilter(label="Waits for the answer to", method="by_question")

    def __init__(self, data: object, queryset: QuerySet[Node], request: HttpRequest | None = None) -> None:
        super().__init__(data, queryset=queryset, request=request)
        for name in ("until", "order", "asks"):  # which other pages lead to; nobody types them here
            if not (self.data or {}).get(name):
                del self.filters[name]

    def by_verdict(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep those on a segment of this verdict, or on none.

        Asked as `is there one`, which PostgreSQL can begin from either end; of what it would first look up for each
        node it cannot tell how rare it is.
        """
        if value == NONE:
            return found.filter(~Exists(_memberships()))
        return found.filter(Exists(_memberships().filter(segment__verdict=value)))

    def by_work(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep those that the plan in force has dated, or that it has converted; up to a night where one is named."""
        dated, until = stations_dated(current_plan()), self.form.cleaned_data.get("until")
        nights = dated.planned if value == PLANNED else dated.done
        return found.filter(key__in=[key for key, night in nights.items() if until is None or night <= until])

    def by_until(self, found: QuerySet[Node], _name: str, _value: date) -> QuerySet[Node]:
        """Leave it to what the plan does with them; by itself it keeps those dated up to that night."""
        return found if self.form.cleaned_data.get("work") else self.by_work(found, "work", PLANNED)

    def by_order(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep those that one order converts, of the plan that is named or else the one in force."""
        named = str((self.data or {}).get("plan", ""))
        plan = Plan.objects.filter(pk=row_number(named) or 0).first() if named else current_plan()
        return found.filter(key__in=stations_of_order(plan, value))

    def by_question(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep the old stations that wait for an answer."""
        return found.filter(key__in=stations_asking(current_assessment(), value))
