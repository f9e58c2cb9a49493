"""What lists can be narrowed by."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import django_filters as filters
from django import forms
from django.db.models import Exists, OuterRef, QuerySet

from inventory.core.ageing import years_before
from inventory.core.catalogue import NodeKind
from inventory.core.saying import NOT_KNOWN
from inventory.models import Building, EquipmentModel, Node, Room
from inventory.tables import today

MOST_YEARS = 200
NONE = "none"  # what addresses say for not known
CONDITIONS = [(1, "1, good"), (2, "2"), (3, "3"), (4, "4"), (5, "5, failed")]


MOST_CHOICES = 200  # of a list to choose from; of more the name is typed


class ByName(filters.ModelChoiceFilter):  # type: ignore[misc]  # the library has no types
    """Choose a record by its name: from a list or, where that would be endless, by typing it."""

    @property
    def field(self) -> forms.Field:
        """Return the field of the form."""
        known = hasattr(self, "_field")
        field: forms.ModelChoiceField[Any] = super().field
        if not known and field.queryset is not None and field.queryset.count() > MOST_CHOICES:
            field.widget = forms.TextInput()
            field.error_messages["invalid_choice"] = "Nothing on file has this name. Write it as on its own page."
        elif not known:
            field.error_messages["invalid_choice"] = "Nothing on file has this name. Choose one of the list."
        return field


def stations() -> QuerySet[Node]:
    """Return every station with what lists show of it; rows come one by one in the order that is asked for."""
    kinds = EquipmentModel.objects.filter(pk=OuterRef("model"), kind=NodeKind.STATION)
    return Node.objects.filter(Exists(kinds)).select_related("building", "room", "model")


def stations_to_count() -> QuerySet[Node]:
    """Return every station in a way that is quick to count, model by model."""
    return Node.objects.filter(model__kind=NodeKind.STATION)


def _floors() -> list[tuple[str, str]]:
    floors = Room.objects.exclude(floor=None).order_by("floor").values_list("floor", flat=True).distinct()
    return [(floor, floor) for floor in floors if floor]


class StationFilter(filters.FilterSet):  # type: ignore[misc]
    """Stations by place, model, condition, age and support."""

    building = ByName(queryset=Building.objects.all(), to_field_name="key", label="Building", empty_label="all")
    floor = filters.ChoiceFilter(field_name="room__floor", label="Floor", empty_label="all", choices=_floors)
    model = filters.ModelChoiceFilter(
        queryset=EquipmentModel.objects.filter(kind=NodeKind.STATION),
        to_field_name="key",
        label="Model",
        empty_label="all",
    )
    condition = filters.ChoiceFilter(
        label="Condition", empty_label="all", choices=CONDITIONS, null_label=NOT_KNOWN, null_value=NONE
    )
    age_from = filters.NumberFilter(label="Age from (years)", method="by_age_from", min_value=0, max_value=MOST_YEARS)
    age_below = filters.NumberFilter(
        label="Age below (years)", method="by_age_below", min_value=0, max_value=MOST_YEARS
    )
    installed = filters.ChoiceFilter(
        label="Installed", empty_label="any", choices=[("known", "day known"), (NONE, NOT_KNOWN)], method="by_installed"
    )
    support = filters.ChoiceFilter(
        label="Support",
        empty_label="any",
        choices=[("ended", "ended"), ("running", "running"), (NONE, NOT_KNOWN)],
        method="by_support",
    )

    class Meta:
        """Nothing but what is declared."""

        model = Node
        fields: list[str] = []

    def by_age_from(self, found: QuerySet[Node], _name: str, years: Decimal) -> QuerySet[Node]:
        """Keep those at least so old."""
        return found.filter(installed__lte=years_before(today(), int(years)))

    def by_age_below(self, found: QuerySet[Node], _name: str, years: Decimal) -> QuerySet[Node]:
        """Keep those younger than that."""
        return found.filter(installed__gt=years_before(today(), int(years)))

    def by_installed(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep those whose day of installation is known, or is not."""
        return found.filter(installed__isnull=value == NONE)

    def by_support(self, found: QuerySet[Node], _name: str, value: str) -> QuerySet[Node]:
        """Keep those whose support has ended, is running, or nobody knows."""
        return found.filter(**SUPPORT[value](today()))


SUPPORT: dict[str, Callable[[date], dict[str, object]]] = {
    "ended": lambda day: {"model__supported_until__lt": day},
    "running": lambda day: {"model__supported_until__gte": day},
    NONE: lambda _day: {"model__supported_until__isnull": True},
}
