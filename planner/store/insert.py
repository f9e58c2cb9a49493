"""Very many rows into one table at once: by COPY where the database has it, else by one statement for all of them."""

from collections.abc import Iterable, Sequence
from itertools import chain, islice
from typing import Any

from django.db import connection, models


def insert(model: type[models.Model], names: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Put rows into the table of a model; `names` are its columns, and values are as the database takes them.

    The model's `save`, its signals and its history are passed by: for tables that hold what can be worked out again.
    """
    begun = iter(rows)
    some = list(islice(begun, 1))
    if not some:
        return
    quote = connection.ops.quote_name
    into = f"{quote(model._meta.db_table)} ({', '.join(map(quote, names))})"  # noqa: SLF001 - its documented name
    if connection.vendor == "postgresql":
        _copy(into, chain(some, begun))
        return
    marks = ", ".join(["%s"] * len(names))
    every: Any = chain(some, begun)
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {into} VALUES ({marks})", every)  # noqa: S608 - names of the model


def update(model: type[models.Model], names: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write columns of rows that are there; each row gives the values of `names`, as the database takes them, and its id."""
    quote = connection.ops.quote_name
    sets = ", ".join(f"{quote(name)} = %s" for name in names)
    every: Any = list(rows)
    if every:
        with connection.cursor() as cursor:
            cursor.executemany(f"UPDATE {quote(model._meta.db_table)} SET {sets} WHERE id = %s", every)  # noqa: S608, SLF001


def _copy(into: str, rows: Iterable[Sequence[object]]) -> None:
    with connection.cursor() as cursor, cursor.copy(f"COPY {into} FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def prepared(model: type[models.Model], name: str, values: Iterable[Any]) -> list[object]:
    """Return the values of one column as the database takes them."""
    field: Any = model._meta.get_field(name)  # noqa: SLF001 - its documented name
    return [field.get_db_prep_save(value, connection) for value in values]
