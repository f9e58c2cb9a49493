# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""Whole tables into arrays, lot by lot: a million rows as rows of Python would cost more than judging them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np
from django.db import connection, models
from numpy.typing import DTypeLike, NDArray

from inventory.core.snapshot import UNKNOWN, Ints

NO_ID = 0  # ids count from 1
NO_DAY = -(2**31)  # days before 1970 that no date reaches
LOT = 10_000  # rows read at a time: their objects stay in the processor's cache
DAYS = {  # a date as days since 1970, by the database
    "sqlite": "CAST(julianday({0}) - 2440587.5 AS INTEGER)",
    "postgresql": "({0} - DATE '1970-01-01')",
}


@dataclass(frozen=True, slots=True)
class Positions:
    """From database ids to positions in a sorted sequence."""

    ids: NDArray[np.int64]  # sorted
    positions: NDArray[np.int32]

    @classmethod
    def of(cls, ids: Sequence[int] | NDArray[np.int64]) -> "Positions":
        """Return the positions of rows whose ids stand in the order of the sequence."""
        array = np.asarray(ids, dtype=np.int64)
        order = np.argsort(array)
        return cls(array[order], order.astype(np.int32))

    @property
    def by_position(self) -> NDArray[np.int64]:
        """Return the id at each position."""
        found = np.empty_like(self.ids)
        found[self.positions] = self.ids
        return found

    def __call__(self, ids: Sequence[int] | NDArray[np.int64]) -> Ints:
        """Return the position of each id; UNKNOWN for NO_ID."""
        wanted = np.asarray(ids, dtype=np.int64)
        if not len(self.ids):
            return np.full(len(wanted), UNKNOWN, dtype=np.int32)
        at = np.minimum(np.searchsorted(self.ids, wanted), len(self.ids) - 1)
        return np.where(self.ids[at] == wanted, self.positions[at], UNKNOWN).astype(np.int32)

    def one(self, pk: int | None) -> int:
        """Return the position of one id; UNKNOWN for None."""
        return int(self([pk or NO_ID])[0])


@dataclass(frozen=True, slots=True)
class Wanted:
    """One column to read: what to select, and the type of its array; None: a list of texts."""

    sql: str
    dtype: DTypeLike | None = None


def id_of(name: str) -> Wanted:
    """Return the column of a reference, NO_ID where there is none."""
    return Wanted(f"coalesce({name}_id, {NO_ID})", np.int64)


def count_of(name: str) -> Wanted:
    """Return a column of counts, UNKNOWN where one is not known."""
    return Wanted(f"coalesce({name}, {UNKNOWN})", np.int32)


def day_of(name: str) -> Wanted:
    """Return a column of dates as days since 1970, NO_DAY where one is not known."""
    return Wanted(f"coalesce({DAYS[connection.vendor].format(name)}, {NO_DAY})", np.int64)


def read_columns(
    model: type[models.Model], *wanted: Wanted, of: frozenset[int] | None = None, by: str = "id"
) -> list[Any]:
    """Return columns of a table, all read by one statement; with `of`, only rows whose `by` is one of these ids."""
    table = connection.ops.quote_name(model._meta.db_table)
    some = ", ".join(map(str, sorted(of or {NO_ID})))  # PostgreSQL takes no empty list; NO_ID is nobody's
    where = "" if of is None else f" WHERE {by} IN ({some})"
    found: list[list[Any]] = [[] for _ in wanted]
    for lot in _lots(f"SELECT {', '.join(one.sql for one in wanted)} FROM {table}{where}"):
        for parts, values, one in zip(found, zip(*lot, strict=True), wanted, strict=True):
            if one.dtype is None:
                parts.extend(values)
            else:
                parts.append(np.fromiter(values, dtype=one.dtype, count=len(lot)))
    return [parts if one.dtype is None else _joined(parts, one) for parts, one in zip(found, wanted, strict=True)]


def _joined(parts: list[NDArray[Any]], wanted: Wanted) -> NDArray[Any]:
    return np.concatenate(parts) if parts else np.empty(0, dtype=wanted.dtype)


def _lots(sql: str) -> Iterator[list[tuple[Any, ...]]]:
    with connection.cursor() as cursor:
        cursor.execute(sql)
        while lot := cursor.fetchmany(LOT):
            yield lot


def order_of(keys: Sequence[str]) -> NDArray[np.int64] | None:
    """Return the order of keys by code point (databases sort text by their own lights); None where they stand in it."""
    if all(map(str.__lt__, keys, islice(keys, 1, None))):
        return None
    return np.array(sorted(range(len(keys)), key=keys.__getitem__), dtype=np.int64)
