"""What the orders of a plan can be narrowed by."""

import django_filters as filters
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from planner.core.plans import OrderState
from planner.core.reasons import ReasonCode
from planner.models import Order, Plan
from planner.services.standing import are_overdue
from planner.store.lineage import as_it_stands

DATED, LEFT_OUT, OVERDUE, TO_DO = "dated", "left out", "overdue", "still to do"


class OrderFilter(filters.FilterSet):  # type: ignore[misc]  # the library has no types
    """Orders by what became of them."""

    key = filters.CharFilter(label="Order contains", lookup_expr="icontains")
    building = filters.ChoiceFilter(label="Building", empty_label="all", field_name="building__key")
    show = filters.ChoiceFilter(
        label="Show",
        empty_label="all",
        choices=[(one, one) for one in (DATED, LEFT_OUT, OVERDUE, TO_DO)],
        method="by_dating",
    )
    phase = filters.ChoiceFilter(label="Phase", empty_label="all")
    crew = filters.ChoiceFilter(label="Crew", empty_label="all")
    reason = filters.ChoiceFilter(
        label="Why not dated",
        empty_label="any",
        field_name="reason_code",
        choices=[(c.value, c.value) for c in ReasonCode],
    )
    state = filters.ChoiceFilter(
        label="State", empty_label="any", field_name="stands", choices=[(s.value, s.value) for s in OrderState]
    )

    class Meta:
        model = Order
        fields: list[str] = []

    def __init__(self, data: object, queryset: QuerySet[Order], request: HttpRequest | None = None) -> None:
        super().__init__(data, queryset=queryset, request=request)
        for name in ("building", "phase", "crew"):
            path = self.filters[name].field_name
            values = queryset.order_by(path).values_list(path, flat=True).distinct()
            self.filters[name].extra["choices"] = [(value, value) for value in values if value]

    def by_dating(self, found: QuerySet[Order], _name: str, value: str) -> QuerySet[Order]:
        """Keep what is dated, what is left out, what is overdue, or what is booked or begun and not ended."""
        if value == TO_DO:
            return found.filter(state__in=(OrderState.BOOKED, OrderState.UNDER_WAY))
        if value == OVERDUE:
            return found.filter(are_overdue(timezone.now()))
        return found.filter(start__isnull=value == LEFT_OUT)


def orders_of(plan: Plan) -> QuerySet[Order]:
    """Return the orders of a plan with what the list shows of them."""
    return as_it_stands(plan.orders.select_related("building").defer("data"))
