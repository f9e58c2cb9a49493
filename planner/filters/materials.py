"""The take-off by phase, supplier and lateness."""

from collections.abc import Callable
from datetime import date

import django_filters as filters
from django.db.models import QuerySet
from django.http import HttpRequest

from inventory.core.saying import NOT_KNOWN
from inventory.filters import NONE
from inventory.tables import today
from planner.models import TakeoffLine


class TakeoffFilter(filters.FilterSet):  # type: ignore[misc]
    """Lines of a take-off."""

    phase = filters.ChoiceFilter(label="Phase", empty_label="all")
    supplier = filters.ChoiceFilter(label="Supplier", empty_label="all", null_label=NOT_KNOWN, null_value=NONE)
    part = filters.CharFilter(label="Part contains", lookup_expr="icontains")
    show = filters.ChoiceFilter(
        label="Show",
        empty_label="all lines",
        choices=[
            ("buy", "what is to be bought"),
            ("late", "what is late"),
            ("undated", "no order-by date"),
            ("unpriced", "no price"),
        ],
        method="by_state",
    )

    class Meta:
        """Nothing but what is declared."""

        model = TakeoffLine
        fields: list[str] = []

    def __init__(self, data: object, queryset: QuerySet[TakeoffLine], request: HttpRequest | None = None) -> None:
        super().__init__(data, queryset=queryset, request=request)
        for name in ("phase", "supplier"):
            values = queryset.order_by(name).values_list(name, flat=True).distinct()
            self.filters[name].extra["choices"] = [(value, value) for value in values if value]

    def by_state(self, found: QuerySet[TakeoffLine], _name: str, value: str) -> QuerySet[TakeoffLine]:
        """Keep what is to be bought, what is late, or what has no date or no price."""
        return found.filter(net__gt=0, **STATES[value](today()))


STATES: dict[str, Callable[[date], dict[str, object]]] = {
    "buy": lambda _day: {},
    "late": lambda day: {"order_by__lt": day},
    "undated": lambda _day: {"order_by__isnull": True},
    "unpriced": lambda _day: {"cost__isnull": True},
}
