"""Pages of long lists: near either end they cost the same, and a count of very many rows is asked for once a minute."""

from hashlib import sha256
from typing import TYPE_CHECKING, Any

from django.core.cache import cache
from django.core.exceptions import EmptyResultSet
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.utils.functional import cached_property
from django_tables2.rows import BoundRows

if TYPE_CHECKING:
    AnyPaginator = Paginator[Any]
    AnyPage = Page[Any]
else:
    AnyPaginator = Paginator
    AnyPage = Page

MANY = 10_000  # rows; a count above it may be a minute old
COUNTS_KEPT_S = 60


class TwoEnded(AnyPaginator):
    """Pages of a table of a query: rows behind the middle are read from the end, and by their ids before all they show.

    `counted` is a query of the same rows that is quick to count.
    """

    def __init__(self, rows: BoundRows, per_page: int, counted: QuerySet[Any] | None = None, **options: Any) -> None:
        super().__init__(rows, per_page, **options)
        self.table = rows.table
        self.query: QuerySet[Any] = rows.data.data
        self.counted = self.query if counted is None else counted

    @cached_property
    def count(self) -> int:
        """Return how many rows there are."""
        return count_of(self.counted)

    def page(self, number: int | str) -> AnyPage:
        """Return one page."""
        at: int = self.validate_number(number)
        bottom = (at - 1) * self.per_page
        top = min(bottom + self.per_page, self.count)
        shown = BoundRows(data=rows_between(self.query, bottom, top, self.count), table=self.table)
        return Page(shown, at, self)


def count_of(rows: QuerySet[Any]) -> int:
    """Return how many rows a query has; of very many, how many it had within the last minute."""
    try:
        sql, params = rows.order_by().query.sql_with_params()
    except EmptyResultSet:
        return 0
    key = f"rows-{sha256(repr((rows.db, sql, params)).encode()).hexdigest()}"
    known = cache.get(key)
    if isinstance(known, int):
        return known
    count = rows.order_by().count()
    if count > MANY:
        cache.set(key, count, COUNTS_KEPT_S)
    return count


def rows_between(rows: QuerySet[Any], bottom: int, top: int, count: int) -> list[Any]:
    """Return the rows from `bottom` up to `top` of `count` in the order of the query."""
    if top <= bottom:
        return []
    turned = bottom > count - top
    ids = (rows.reverse() if turned else rows).values_list("pk", flat=True)
    wanted = list(ids[count - top : count - bottom] if turned else ids[bottom:top])
    found = rows.order_by().in_bulk(wanted)
    return [found[pk] for pk in (reversed(wanted) if turned else wanted) if pk in found]
