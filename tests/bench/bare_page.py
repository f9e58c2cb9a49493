"""The floor of a list: a page of the same site that is nothing but a loop over the same rows, fetched by their ids."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.urls import path

from planner.site.urls import urlpatterns as site_urls

LOOP = "<table>{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}</table>"
SHOWN: dict[str, Any] = {}  # the rows as a query, the ids of those shown, and the columns


def show(table: Any) -> None:
    """Let the bare page show the rows that a page of a table shows."""
    SHOWN["rows"] = table.data.data.order_by().filter(pk__in=[row.pk for row in table.paginated_rows.data])
    SHOWN["cells"] = [bound.column for bound in table.columns]


def bare(_request: HttpRequest) -> HttpResponse:
    """Answer with the loop."""
    rows = [[cell.shown(row) for cell in SHOWN["cells"]] for row in SHOWN["rows"].all()]
    return HttpResponse(engines["django"].from_string(LOOP).render({"rows": rows}))


urlpatterns = [path("bare/", bare), *site_urls]
