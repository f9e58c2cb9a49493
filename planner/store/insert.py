"""Very many rows into one table at once: by COPY where the database has it, else many to a statement."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice
from typing import Any

from django.db import connection, models

MOST_VALUES = 1000  # in one statement: SQLite pays for each statement, and for the length of one


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
    one = f"({', '.join(['%s'] * len(names))})"
    with connection.cursor() as cursor:
        for lot in _lots(chain(some, begun), max(MOST_VALUES // len(names), 1)):
            sql = f"INSERT INTO {into} VALUES {', '.join([one] * len(lot))}"  # noqa: S608 - names of the model
            values: Any = list(chain.from_iterable(lot))
            cursor.execute(sql, values)


def _lots(rows: Iterator[Sequence[object]], size: int) -> Iterator[list[Sequence[object]]]:
    while lot := list(islice(rows, size)):
        yield lot


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
    known: dict[object, object] = {}
    return [_prepared(field, value, known) for value in values]


def _prepared(field: Any, value: Any, known: dict[object, object]) -> object:
    """Return one value, worked out once for all that are the same."""
    if isinstance(value, list | dict):
        return field.get_db_prep_save(value, connection)
    if value not in known:
        known[value] = field.get_db_prep_save(value, connection)
    return known[value]
