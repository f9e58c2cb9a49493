"""What many tests begin with is made once; later its rows are put in as they were, which takes a tenth of the time."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.apps import apps
from django.db import connection, models
from django.db.models.sql import InsertQuery
from django.utils import timezone

Table = type[models.Model]
Rows = dict[Table, dict[Any, tuple[Any, ...]]]  # by their keys
AS_MIGRATED = {"auth.Permission", "contenttypes.ContentType"}  # many rows, and nothing that tests make
FRESH = timedelta(minutes=1)  # older rows are made anew, so that what was made now stays of now


@dataclass(frozen=True, slots=True)
class Kept:
    """The statements that put rows in, and the rows that stood there before."""

    before: Rows
    statements: list[tuple[str, Any]]
    at: datetime


_KEPT: dict[Callable[[], object], Kept] = {}


def begin_with(make: Callable[[], object]) -> None:
    """Have the tables hold what this function makes; it is called where other rows stand, or it was called long ago.

    A test that commits (in a browser) has it made: nothing puts its tables back to the same numbers.
    """
    if not connection.in_atomic_block:
        make()
        return
    before, kept, now = rows_of_all_tables(), _KEPT.get(make), timezone.now()
    if kept is not None and kept.before == before and now - kept.at < FRESH:
        with connection.cursor() as cursor:
            for sql, parameters in kept.statements:
                cursor.execute(sql, parameters)
        return
    make()
    after = rows_of_all_tables()
    if all(rows.items() <= after.get(table, {}).items() for table, rows in before.items()):
        _KEPT[make] = Kept(before, list(_statements(before, after)), now)


def forget() -> None:
    """Have everything made anew."""
    _KEPT.clear()


def rows_of_all_tables() -> Rows:
    """Return all rows of the tables that have any."""
    tables = {
        one._meta.db_table: one
        for one in apps.get_models(include_auto_created=True)
        if one._meta.label not in AS_MIGRATED and one._meta.managed and not one._meta.proxy
    }
    asked = " UNION ALL ".join(f"SELECT '{name}' WHERE EXISTS (SELECT 1 FROM {name})" for name in tables)  # noqa: S608 - our own names
    with connection.cursor() as cursor:
        filled = [tables[name] for (name,) in cursor.execute(asked).fetchall()]
    return {one: {row[0]: row for row in one._base_manager.values_list("pk", *_names(one))} for one in filled}


def _names(table: Table) -> list[str]:
    return [field.attname for field in table._meta.concrete_fields]


def _statements(before: Rows, after: Rows) -> Iterator[tuple[str, Any]]:
    """Yield the statements that put in what came after, as the database takes it."""
    for table, rows in after.items():
        fields = list(table._meta.concrete_fields)
        new = [
            table(**dict(zip(_names(table), row[1:], strict=True)))
            for key, row in rows.items()
            if key not in before.get(table, {})
        ]
        most = connection.ops.bulk_batch_size(fields, new) or 1
        for at in range(0, len(new), most):
            query = InsertQuery(table)
            query.insert_values(fields, new[at : at + most], raw=True)
            yield from query.get_compiler(connection=connection).as_sql()
