# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""Whole tables into arrays, lot by lot: a million rows as rows of Python would cost more than judging them."""

import json
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
LOT = 20_000  # ids read at a time: what they bring stays in the processor's cache
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

    @property
    def is_fraction(self) -> bool:
        """Tell whether the values are not whole numbers."""
        return self.dtype is not None and np.issubdtype(self.dtype, np.floating)


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
    """Return columns of a table in the order of its ids; with `of`, only rows whose `by` is one of these ids."""
    found: list[list[Any]] = [[] for _ in wanted]
    for where in _spans(model, of, by):
        for parts, values in zip(found, READ[connection.vendor](model, wanted, where), strict=False):  # none of no rows
            if isinstance(values, list):
                parts.extend(values)
            else:
                parts.append(values)
    return [parts if one.dtype is None else _joined(parts, one) for parts, one in zip(found, wanted, strict=True)]


def _joined(parts: list[NDArray[Any]], wanted: Wanted) -> NDArray[Any]:
    return np.concatenate(parts) if parts else np.empty(0, dtype=wanted.dtype)


def _spans(model: type[models.Model], of: frozenset[int] | None, by: str) -> Iterator[str]:
    """Yield conditions that take a table apart into lots, in the order of ids."""
    if of is not None:
        some = ", ".join(map(str, sorted(of or {NO_ID})))  # PostgreSQL takes no empty list; NO_ID is nobody's
        yield f"{by} IN ({some})"
        return
    ends = model._default_manager.aggregate(least=models.Min("pk"), most=models.Max("pk"))
    for begin in range(ends["least"] or 1, (ends["most"] or 0) + 1, LOT):
        yield f"id BETWEEN {begin} AND {begin + LOT - 1}"


def _asked(sql: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql)
        rows: list[tuple[Any, ...]] = cursor.fetchall()
    return rows


def _by_texts(model: type[models.Model], wanted: Sequence[Wanted], where: str) -> Iterator[Any]:
    """Return columns of one lot in SQLite: whole numbers as one text a column, which is parsed far faster than rows.

    Rows are walked by id in either question. Fractions come as rows: as text they would lose their last digits.
    """
    table = connection.ops.quote_name(model._meta.db_table)
    whole = [one for one in wanted if not one.is_fraction]
    named = ", ".join(f"{one.sql} AS c{place}" for place, one in enumerate(whole))
    texts = [GATHERED[one.dtype is None].format(f"c{place}") for place, one in enumerate(whole)]
    (gathered,) = _asked(
        f"SELECT {', '.join(['count(*)', *texts])} FROM (SELECT {named} FROM {table} WHERE {where} ORDER BY id)"
    )
    if not gathered[0]:
        return
    columns = iter(gathered[1:])
    for one in wanted:
        if one.is_fraction:
            rows = _asked(f"SELECT {one.sql} FROM {table} WHERE {where} ORDER BY id")
            values: Any = np.fromiter((value for (value,) in rows), dtype=one.dtype, count=len(rows))
        else:
            text = next(columns)
            values = json.loads(text) if one.dtype is None else np.fromstring(text, dtype=one.dtype, sep=",")
        if len(values) != gathered[0]:
            raise ValueError(f"{one.sql} of {table} is blank somewhere: say what stands for that")
        yield values


def _by_arrays(model: type[models.Model], wanted: Sequence[Wanted], where: str) -> Iterator[Any]:
    """Return columns of one lot in PostgreSQL: each as one array."""
    table = connection.ops.quote_name(model._meta.db_table)
    arrays = ", ".join(f"array_agg({one.sql} ORDER BY id)" for one in wanted)
    (gathered,) = _asked(f"SELECT {arrays} FROM {table} WHERE {where}")
    if gathered[0] is None:
        return
    for one, values in zip(wanted, gathered, strict=True):
        yield values if one.dtype is None else np.array(values, dtype=one.dtype)


GATHERED = {True: "json_group_array({0})", False: "group_concat({0})"}  # texts as JSON, since they may hold anything
READ = {"sqlite": _by_texts, "postgresql": _by_arrays}


def order_of(keys: Sequence[str]) -> NDArray[np.int64] | None:
    """Return the order of keys by code point (databases sort text by their own lights); None where they stand in it."""
    if all(map(str.__lt__, keys, islice(keys, 1, None))):
        return None
    return np.array(sorted(range(len(keys)), key=keys.__getitem__), dtype=np.int64)
