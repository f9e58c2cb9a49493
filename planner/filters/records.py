"""What a list of records can be narrowed by: one filter a column of the sheet."""

from functools import cache
from typing import Any

import django_filters as filters

from inventory.core.saying import NOT_KNOWN
from inventory.filters import NONE, ByName
from inventory.forms import DayField
from inventory.store.known_of import MANY
from inventory.store.targets import field_of, key_path
from inventory.workbook.columns import Column, Kind
from planner.services.records import REGISTERS

TEXTS = frozenset({Kind.KEY, Kind.TEXT})
YES_NO: list[tuple[Any, str]] = [(True, "yes"), (False, "no")]


class DayFilter(filters.DateFilter):  # type: ignore[misc]  # the library has no types
    """Narrow by a day."""

    field_class = DayField


def _filter(code: str, column: Column) -> filters.Filter:
    heading = column.heading
    if column.kind in TEXTS:
        return filters.CharFilter(label=f"{heading} contains", field_name=column.name, lookup_expr="icontains")
    if column.kind is Kind.REFERENCE:
        return _reference(code, column)
    choices = _choices(column)
    if choices:
        return filters.ChoiceFilter(
            label=heading,
            field_name=column.name,
            empty_label="any",
            choices=choices,
            null_label=NOT_KNOWN,
            null_value=NONE,
        )
    return filters.ChoiceFilter(
        label=heading,
        field_name=f"{column.name}__isnull",
        empty_label="any",
        choices=[(False, "known"), (True, NOT_KNOWN)],
    )


def _span(column: Column) -> list[tuple[str, filters.Filter]]:
    """Return what narrows a day to a span: from a day, to a day, both among them."""
    return [
        (
            f"{column.name}_{end}",
            DayFilter(label=f"{column.heading}, {end}", field_name=column.name, lookup_expr=lookup),
        )
        for end, lookup in (("from", "gte"), ("to", "lte"))
    ]


def _choices(column: Column) -> list[tuple[Any, str]]:
    if column.kind is Kind.YES_NO:
        return YES_NO
    return [(one, one) for one in column.choices]


def _reference(code: str, column: Column) -> filters.Filter:
    model: Any = field_of(REGISTERS[code].target.model, column.name).related_model
    if column.refers_to in MANY:
        return filters.CharFilter(label=column.heading, field_name=key_path(column), lookup_expr="iexact")
    return ByName(
        label=column.heading,
        queryset=lambda _request: model.objects.order_by("key"),
        field_name=column.name,
        to_field_name="key",
        empty_label="any",
        null_label=NOT_KNOWN if not column.required else None,
        null_value=NONE,
    )


@cache
def filter_of(code: str) -> type[filters.FilterSet]:
    """Return what the list of the records of a sheet can be narrowed by."""
    register = REGISTERS[code]
    own = {column.name: _filter(code, column) for column in register.sheet.columns}
    own |= {name: one for column in register.sheet.columns if column.kind is Kind.DATE for name, one in _span(column)}
    meta = type("Meta", (), {"model": register.target.model, "fields": []})
    return type(f"{code.title().replace('_', '')}Filter", (filters.FilterSet,), {**own, "Meta": meta})
