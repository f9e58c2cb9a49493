"""Every list works alike: narrow, sort, choose columns, page, export what is shown; the address says it all."""

from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_filters import FilterSet
from django_tables2 import RequestConfig

from inventory.tables import ListTable
from inventory.views.downloads import CSV, XLSX, download
from inventory.workbook.lists import as_csv, as_xlsx

ROWS_A_PAGE = 50


def show_list(  # noqa: PLR0917 - in the order in which a list comes about
    request: HttpRequest,
    template: str,
    table_class: type[ListTable],
    filter_class: type[FilterSet],
    rows: QuerySet[Any],
    context: dict[str, Any] | None = None,
) -> HttpResponse:
    """Answer with a page of the list, or with all of it as a file where the address says `as=csv` or `as=xlsx`."""
    narrowed = filter_class(request.GET, queryset=rows)
    narrowed.form.label_suffix = ""
    table = table_class(narrowed.qs, chosen=request.GET.getlist("column"))
    config = RequestConfig(request, paginate={"per_page": ROWS_A_PAGE, "silent": True})
    config.configure(table)
    if request.GET.get("as") in FILES:
        return as_file(table, request.GET["as"])
    shown = {"table": table, "narrowed": narrowed, **(context or {})}
    return render(request, template, shown)


def as_file(table: ListTable, kind: str) -> HttpResponse:
    """Answer with the whole list as a file to keep."""
    content_type, write = FILES[kind]
    return download(write(table), f"{table.caption.lower()}.{kind}", content_type)


def _csv(table: ListTable) -> bytes:
    return as_csv(table.headings(), table.file_rows())


def _xlsx(table: ListTable) -> bytes:
    return as_xlsx(table.caption, table.headings(), table.file_rows())


FILES = {"csv": (CSV, _csv), "xlsx": (XLSX, _xlsx)}
