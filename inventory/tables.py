"""Lists as pages show them. django-tables2 orders and pages; each column here says what a cell shows and what it exports."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

import django_tables2 as tables
from django.db.models import (
    DateTimeField,
    DurationField,
    Expression,
    ExpressionWrapper,
    F,
    IntegerField,
    OrderBy,
    QuerySet,
)
from django.db.models.functions import Cast
from django.urls import reverse
from django.utils import timezone
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString
from django_tables2.data import TableQuerysetData

from inventory.core.ageing import DAYS_PER_YEAR, age_years, life_left_years
from inventory.core.saying import number_words
from inventory.templatetags.saying import MISSING, day
from inventory.workbook.lists import Value


class Cell(tables.Column):  # type: ignore[misc]
    """A column by two functions of the record: `value` for files and, where pages say it otherwise, `show`.

    `sort` is what the database sorts by: fields, `-` in front turns one round, or expressions.
    """

    def __init__(
        self,
        heading: str,
        value: Callable[[Any], Value],
        show: Callable[[Any], object] | None = None,
        *,
        numeric: bool = False,
        sort: str | Expression | tuple[str | Expression, ...] = (),
    ) -> None:
        super().__init__(verbose_name=heading, orderable=bool(sort), empty_values=())
        self.sort = sort if isinstance(sort, tuple) else (sort,)
        self.value_of = value
        self.show_of = show or value
        self.numeric = numeric

    def shown(self, record: Any) -> object:
        """Return what the page shows; what is not known is said in words."""
        shown = self.show_of(record)
        return MISSING if shown is None or shown == "" else shown


class SortedRows(TableQuerysetData):  # type: ignore[misc]
    """Rows of a query, always in a definite order: what is not known comes last, `tie_break` decides between equals."""

    data: QuerySet[Any]

    def __init__(self, data: QuerySet[Any], tie_break: str) -> None:
        ordered = data if data.query.order_by else data.order_by(*data.model._meta.ordering)  # noqa: SLF001 - its documented name
        super().__init__(ordered.order_by(*ordered.query.order_by, tie_break))
        self.tie_break = tie_break

    def order_by(self, aliases: Any) -> None:
        """Order by columns; a minus sign turns the order round."""
        terms = [
            _sorted(term, turned=alias.startswith("-"))
            for alias in aliases
            for term in self.table.columns[alias.lstrip("-")].column.sort
        ]
        self.data = self.data.order_by(*terms, self.tie_break)


def _sorted(term: str | Expression, *, turned: bool) -> OrderBy:
    if isinstance(term, str):
        return OrderBy(F(term.lstrip("-")), descending=turned != term.startswith("-"), nulls_last=True)
    return OrderBy(term, descending=turned, nulls_last=True)


class ListTable(tables.Table):  # type: ignore[misc]
    """A list with our template; `chosen` names the columns to show, none means all."""

    tie_break = "key"
    caption = ""
    seldom: tuple[str, ...] = ()  # columns that are shown only to those who choose them

    def __init__(self, data: QuerySet[Any], *, chosen: list[str] | None = None, **options: Any) -> None:
        names = list(self.base_columns)[1:]
        chosen = [name for name in names if name in (chosen or ())] or [
            name for name in names if name not in self.seldom
        ]
        super().__init__(
            SortedRows(data, self.tie_break),
            exclude=[name for name in names if name not in chosen],
            template_name="parts/schedule.html",
            order_by_field="sort",
            **options,
        )

    def shown_rows(self) -> SafeString:
        """Return the rows of this page as they stand in the table; by a template, cell by cell, they cost as much again."""
        opened = [(bound.column, _opening(bound.column)) for bound in self.columns]
        return SafeString("\n".join(_row(record, opened) for record in self.paginated_rows.data))  # noqa: S308 - escaped in _row

    def headings(self) -> list[str]:
        """Return the headings of the columns shown."""
        return [str(bound.header) for bound in self.columns]

    def file_rows(self) -> Iterator[list[Value]]:
        """Yield every row, not only this page's, as values for a file."""
        cells = [bound.column for bound in self.columns]
        for record in self.data.data.iterator(chunk_size=2000):
            yield [cell.value_of(record) for cell in cells]

    def column_choices(self) -> list[tuple[str, str, bool]]:
        """Return each column that can be left out: name, heading, whether it is shown."""
        shown = {bound.name for bound in self.columns}
        named = list(self.base_columns.items())[1:]
        return [(name, str(column.verbose_name), name in shown) for name, column in named]


def _row(record: Any, cells: list[tuple[Cell, str]]) -> str:
    """Return one row: the first cell names it, numbers stand in columns; `cells` come with how a cell of theirs opens."""
    (first, _), *others = cells
    named = f'<th scope="row" class="pin">{_escaped(first.shown(record))}</th>'
    rest = [f"{opening}{_escaped(cell.shown(record))}</td>" for cell, opening in others]
    return f"<tr>{named}{''.join(rest)}</tr>"


def _opening(cell: Cell) -> str:
    """Return how a cell of a column opens: on a phone, where a row is a card, its heading stands beside it."""
    return format_html('<td{} data-label="{}">', NUMBERS if cell.numeric else "", cell.verbose_name)


def _escaped(shown: object) -> str:
    return conditional_escape(shown if isinstance(shown, str) else str(shown))


NUMBERS = SafeString(' class="n"')


def today() -> date:
    """Return the day that ages on pages are counted to."""
    return timezone.localdate()


def _years(value: float | None) -> str | None:
    return None if value is None else number_words(value)


def _left(node: Any) -> float | None:
    return life_left_years(node.installed, node.model.service_life_years, today())


def _left_shown(node: Any) -> object:
    left = _left(node)
    if left is None or left >= 0:
        return _years(left)
    return format_html("past it by {}", _years(-left))


def _building(node: Any) -> str:
    return f"{node.building.key} {node.building.name or ''}".strip()


def _building_shown(node: Any) -> object:
    return format_html('<a href="{}">{}</a>', reverse("building", args=[node.building_id]), _building(node))


def _room_shown(node: Any) -> object:
    if node.room is None:
        return None
    return format_html('<a href="{}">{}</a>', reverse("room", args=[node.room_id]), node.room.key)


def _support_shown(node: Any) -> object:
    until = node.model.supported_until
    if until is None or until >= today():
        return until and day(until)
    return format_html("ended {}", day(until))


def _station_shown(node: Any) -> object:
    return format_html('<a class="key" href="{}">{}</a>', reverse("station", args=[node.pk]), node.key)


LIFE_DAYS = Cast(F("model__service_life_years") * DAYS_PER_YEAR, IntegerField())
LIFE = ExpressionWrapper(LIFE_DAYS * timedelta(days=1), DurationField())  # whole days: SQLite adds no fractions
LIFE_ENDS = ExpressionWrapper(F("installed") + LIFE, DateTimeField())


class StationTable(ListTable):
    """Stations: where, what, how old, how long still."""

    station = Cell("Station", lambda node: node.key, _station_shown, sort="key")
    building = Cell("Building", _building, _building_shown, sort="building__key")
    room = Cell("Room", lambda node: node.room and node.room.key, _room_shown, sort=("building__key", "room__key"))
    model = Cell("Model", lambda node: node.model.key, sort="model__key")
    installed = Cell("Installed", lambda node: node.installed, lambda node: day(node.installed), sort="installed")
    age = Cell(
        "Age (years)",
        lambda node: age_years(node.installed, today()),
        lambda node: _years(age_years(node.installed, today())),
        numeric=True,
        sort="-installed",
    )
    life_left = Cell("Service life left (years)", _left, _left_shown, numeric=True, sort=LIFE_ENDS)
    supported_until = Cell(
        "Supported until", lambda node: node.model.supported_until, _support_shown, sort="model__supported_until"
    )
    condition = Cell("Condition", lambda node: node.condition, numeric=True, sort="condition")

    caption = "Stations"
