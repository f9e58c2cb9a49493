"""Lists of records, one a sheet of the workbook: its columns are those of the sheet."""

from collections.abc import Callable
from functools import cache
from typing import Any

from django.db import models
from django.urls import reverse
from django.utils.html import format_html

from inventory.services.editing import Register
from inventory.store.targets import key_path
from inventory.tables import Cell, ListTable
from inventory.templatetags.saying import day, money, quantity, yes_no
from inventory.workbook.columns import Column, Kind
from inventory.workbook.lists import Value
from inventory.workbook.typed import written
from planner.services.records import REGISTERS

NUMBERS = frozenset({Kind.NUMBER, Kind.WHOLE, Kind.DECIMAL, Kind.MONEY})
SHOWS: dict[Kind, Callable[[Any], object]] = {
    Kind.DATE: day,
    Kind.MOMENT: lambda value: written(value, Kind.MOMENT) or None,
    Kind.YES_NO: yes_no,
    **dict.fromkeys(NUMBERS, quantity),
}
FIRST_SHOWN = 8  # columns of a list before anyone chooses


def slug(code: str) -> str:
    """Return the part of an address that names a sheet."""
    return code.replace("_", "-")


def address(code: str, page: str, *args: object) -> str:
    """Return the address of a page about the records of a sheet."""
    return reverse(f"{slug(code)}-{page}", args=args)


def fact(row: models.Model, column: Column) -> Any:
    """Return one fact of a record; of a record that it names, the name."""
    value: Any = getattr(row, column.name)
    return value.key if isinstance(value, models.Model) else value  # type: ignore[attr-defined]  # what has a name


def said_fact(row: models.Model, column: Column) -> object:
    """Show one fact of a record."""
    value = fact(row, column)
    if column.kind is Kind.MONEY and value is not None:
        return money(value, getattr(row, "currency", "")) if hasattr(row, "currency") else quantity(value)
    return SHOWS.get(column.kind, _as_it_is)(value)


def _as_it_is(value: object) -> object:
    return value


def _cell(column: Column) -> Cell:
    def value(row: models.Model) -> Value:
        found: Value = fact(row, column)
        return found

    return Cell(
        column.heading,
        value,
        lambda row: said_fact(row, column),
        numeric=column.kind in NUMBERS,
        sort=key_path(column),
    )


def _first(register: Register) -> Cell:
    code = register.sheet.code

    def shown(row: models.Model) -> object:
        return format_html('<a class="key" href="{}">{}</a>', address(code, "record", row.pk), str(row))

    sort = tuple(key_path(register.sheet.column(name)) for name in register.sheet.key)
    return Cell(register.what.capitalize(), str, shown, sort=sort)


@cache
def table_of(code: str) -> type[ListTable]:
    """Return the list of the records of a sheet."""
    register = REGISTERS[code]
    first = _first(register)  # columns stand in the order in which they are made
    columns = [column for column in register.sheet.columns if column.kind is not Kind.KEY]
    cells = {column.name: _cell(column) for column in columns}
    facts = {"caption": register.sheet.title, "tie_break": "pk", "seldom": tuple(cells)[FIRST_SHOWN:]}
    return type(
        f"{register.sheet.title.title().replace(' ', '')}Table",
        (ListTable,),
        {"record": first, **cells, **facts},
    )
