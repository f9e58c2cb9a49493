# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""One sheet into its table, by sets: a temporary table of the sheet's rows, then one statement for each step.

    staged(n, a column for each column of the sheet)     what the file says
    matched(n, id, changed)                              which stored row each of them is, and whether it differs

Every statement runs the same on SQLite and on PostgreSQL; where the two differ, DIALECTS says how.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Self

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model

from inventory.store.targets import fields_by_column

STAGED, MATCHED = "staged_rows", "matched_rows"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How one database says it: whether two values are the same, NULL being the same as NULL, or not."""

    same: str
    differs: str
    copies: bool  # takes rows by COPY


DIALECTS = {
    "sqlite": Dialect(same="IS", differs="IS NOT", copies=False),
    "postgresql": Dialect(same="IS NOT DISTINCT FROM", differs="IS DISTINCT FROM", copies=True),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Rows in the file, rows of them that are stored already, and rows of those that differ."""

    rows: int
    matched: int
    changed: int

    @property
    def new(self) -> int:
        """Rows that are not stored yet."""
        return self.rows - self.matched


class Staging:
    """The rows of one sheet beside its table. `names` are database columns, `key` those of them that name a row."""

    def __init__(
        self, connection: BaseDatabaseWrapper, model: type[Model], names: Sequence[str], key: Sequence[str]
    ) -> None:
        self.connection, self.model = connection, model
        self.names, self.key = tuple(names), tuple(key)
        self.dialect = DIALECTS[connection.vendor]
        self.quote = connection.ops.quote_name
        self.table = self.quote(model._meta.db_table)
        self.stored = 0  # rows in the table before any was added

    def __enter__(self) -> Self:
        fields = fields_by_column(self.model)
        types = {name: fields[name].db_type(self.connection) for name in self.names}
        columns = "".join(f", {self.quote(name)} {types[name]}" for name in self.names)
        self.run(f"CREATE TEMPORARY TABLE {STAGED} (n integer PRIMARY KEY{columns})")
        self.run(f"CREATE TEMPORARY TABLE {MATCHED} (n integer PRIMARY KEY, id bigint, changed bool)")
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is None:  # otherwise the transaction goes back, and the tables with it
            self.run(f"DROP TABLE {STAGED}")
            self.run(f"DROP TABLE {MATCHED}")

    def run(self, sql: str, params: Sequence[Any] = ()) -> int:
        """Run one statement and return how many rows it touched."""
        with self.connection.cursor() as cursor:
            cursor.execute(sql, params or None)
            return int(cursor.rowcount)

    def ask(self, sql: str, params: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """Run one query and return its rows."""
        with self.connection.cursor() as cursor:
            cursor.execute(sql, params or None)
            return list(cursor.fetchall())

    def fill(self, columns: Sequence[Iterable[object]], count: int) -> None:
        """Put the rows of the sheet into the temporary table; row n of the file gets the number n, from 0."""
        if self.dialect.copies:
            self._copy(columns, count)
            self.run(f"ANALYZE {STAGED}")
            return
        marks = ", ".join(["%s"] * (1 + len(self.names)))
        rows: Any = zip(range(count), *columns, strict=True)
        with self.connection.cursor() as cursor:
            cursor.executemany(f"INSERT INTO {STAGED} VALUES ({marks})", rows)

    def _copy(self, columns: Sequence[Iterable[object]], count: int) -> None:
        with self.connection.cursor() as cursor, cursor.copy(f"COPY {STAGED} FROM STDIN") as copy:
            for row in zip(range(count), *columns, strict=True):
                copy.write_row(row)

    def match(self, compared: Sequence[str]) -> Tally:
        """Find the stored row of each row of the file, and whether any of the `compared` columns differs."""
        rows = self._count(STAGED)
        self.stored = self._count(self.table)
        if not self.stored:
            return Tally(rows=rows, matched=0, changed=0)
        differs = " OR ".join(self._pair(name, self.dialect.differs) for name in compared) or "1=0"
        same = " AND ".join(self._pair(name, self._same(name)) for name in self.key)
        self.run(f"INSERT INTO {MATCHED} SELECT s.n, t.id, {differs} FROM {STAGED} s JOIN {self.table} t ON {same}")
        return Tally(rows=rows, matched=self._count(MATCHED), changed=self._count(f"{MATCHED} WHERE changed"))

    def unmatched(self) -> list[int]:
        """Return the ids of stored rows that the file does not name; ask before anything is added."""
        found = self.ask(
            f"SELECT t.id FROM {self.table} t LEFT JOIN {MATCHED} m ON m.id = t.id WHERE m.id IS NULL ORDER BY t.id"
        )
        return [one for (one,) in found]

    def _count(self, what: str) -> int:
        return int(self.ask(f"SELECT count(*) FROM {what}")[0][0])

    def _same(self, name: str) -> str:
        nullable = {name for name, field in fields_by_column(self.model).items() if field.null}
        return self.dialect.same if name in nullable else "="

    def _pair(self, name: str, comparison: str) -> str:
        return f"t.{self.quote(name)} {comparison} s.{self.quote(name)}"

    def update(self, names: Sequence[str]) -> None:
        """Give stored rows that differ what the file says."""
        if not names:
            return
        values = ", ".join(f"{self.quote(name)} = s.{self.quote(name)}" for name in names)
        self.run(
            f"UPDATE {self.table} SET {values} FROM {MATCHED} m JOIN {STAGED} s ON s.n = m.n "
            f"WHERE m.changed AND {self.table}.id = m.id"
        )

    def insert(self, defaults: dict[str, object]) -> None:
        """Add the rows of the file that are not stored yet; `defaults` are for columns the file does not have."""
        columns = ", ".join(self.quote(name) for name in (*self.names, *defaults))
        values = ", ".join([*(f"s.{self.quote(name)}" for name in self.names), *("%s" for _ in defaults)])
        self.run(
            f"INSERT INTO {self.table} ({columns}) SELECT {values} FROM {STAGED} s "
            f"WHERE NOT EXISTS (SELECT 1 FROM {MATCHED} m WHERE m.n = s.n) ORDER BY s.n",
            tuple(defaults.values()),
        )

    def last_id(self) -> int:
        """Return the highest id in the table; rows added from now on stand above it."""
        return int(self.ask(f"SELECT coalesce(max(id), 0) FROM {self.table}")[0][0])
