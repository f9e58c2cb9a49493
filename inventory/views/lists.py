"""Every list works alike: narrow, sort, choose columns, page, export what is shown; the address says it all."""

from copy import copy
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_filters import FilterSet
from django_tables2 import RequestConfig

from inventory.tables import ListTable
from inventory.views.downloads import CSV, XLSX, download
from inventory.views.paging import TwoEnded
from inventory.workbook.lists import as_csv, as_xlsx

ROWS_A_PAGE = 50


def show_list(  # noqa: PLR0917 - in the order in which a list comes about
    request: HttpRequest,
    template: str,
    table_class: type[ListTable],
    filter_class: type[FilterSet],
    rows: QuerySet[Any],
    context: dict[str, Any] | None = None,
    counted: QuerySet[Any] | None = None,
) -> HttpResponse:
    """Answer with a page of the list, or with all of it as a file where the address says `as=csv` or `as=xlsx`.

    Where part of what narrows it cannot be, nothing is listed: a file of everything would pass for what was asked.

    `counted` are the same rows, asked for in a way that is quick to count.
    """
    narrowed = filter_class(request.GET, queryset=rows)
    narrowed.form.label_suffix = ""
    table = table_class(narrowed.qs if narrowed.is_valid() else rows.none(), chosen=request.GET.getlist("column"))
    pages = {"per_page": ROWS_A_PAGE, "silent": True, "paginator_class": TwoEnded}
    if counted is not None and narrowed.is_valid():
        pages["counted"] = _narrowed_alike(narrowed, counted)
    RequestConfig(_with_known_order(request, table), paginate=pages).configure(table)
    if request.GET.get("as") in FILES:
        return as_file(table, request.GET["as"])
    shown = {"table": table, "narrowed": narrowed, **(context or {})}
    return render(request, template, shown)


def _with_known_order(request: HttpRequest, table: ListTable) -> HttpRequest:
    """Return a request that sorts by columns of the table alone, whatever its address says."""
    known, narrowing = copy(request), request.GET.copy()
    asked = request.GET.getlist(table.prefixed_order_by_field)
    if asked:
        names = [name for one in asked for name in one.split(",") if name.removeprefix("-") in table.columns.names()]
        narrowing.setlist(table.prefixed_order_by_field, names)
    known.GET = narrowing  # type: ignore[assignment]  # which may be written to, and is not
    return known


def _narrowed_alike(narrowed: FilterSet, rows: QuerySet[Any]) -> QuerySet[Any]:
    """Return rows narrowed by what another filter was asked for; its form is read once."""
    again = type(narrowed)(narrowed.data, queryset=rows)
    again._form = narrowed.form  # noqa: SLF001 - where the library keeps it
    found: QuerySet[Any] = again.qs
    return found


def as_file(table: ListTable, kind: str) -> HttpResponse:
    """Answer with the whole list as a file to keep."""
    content_type, write = FILES[kind]
    return download(write(table), f"{table.caption.lower()}.{kind}", content_type)


def _csv(table: ListTable) -> bytes:
    return as_csv(table.headings(), table.file_rows())


def _xlsx(table: ListTable) -> bytes:
    return as_xlsx(table.caption, table.headings(), table.file_rows())


FILES = {"csv": (CSV, _csv), "xlsx": (XLSX, _xlsx)}
