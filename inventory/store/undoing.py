# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""What one intake did to its tables, read from their histories, and the way back, by sets.

    undone_rows(what, id, kind, version, before)

`what` is the place of the table among `models`, `kind` what became of the row (history's own signs), `version` the page
of history that says so, `before` the page before it. Every statement runs the same on SQLite and on PostgreSQL.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Self

from django.core.exceptions import ObjectDoesNotExist
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import CASCADE, Model

from inventory.store.history import CHANGED, NEW, REMOVED, Stamp, relations_to, write_history
from inventory.store.staging import DIALECTS
from inventory.store.targets import fields_by_column

UNDONE = "undone_rows"
NAMED_AT_MOST = 5
Named = tuple[int, tuple[str, ...]]  # how many, and the first few in words


def with_parts(models: Sequence[type[Model]]) -> tuple[type[Model], ...]:
    """Return these tables and behind them those whose rows are part of theirs and go with them, histories only."""
    found = list(dict.fromkeys(models))
    for model in found:
        for relation in relations_to(model):
            child = relation.related_model
            if relation.on_delete is CASCADE and hasattr(child, "history") and child not in found:
                found.append(child)
    return tuple(found)


class Undoing:
    """The pages of history that one intake wrote, beside their tables; `at` and `by` are its stamp."""

    def __init__(
        self, connection: BaseDatabaseWrapper, models: Sequence[type[Model]], at: datetime, by_pk: int | None
    ) -> None:
        self.connection, self.models = connection, tuple(models)
        self.quote = connection.ops.quote_name
        self.dialect = DIALECTS[connection.vendor]
        self._stamp = (connection.ops.adapt_datetimefield_value(at), by_pk)

    def __enter__(self) -> Self:
        self._run(
            f"CREATE TEMPORARY TABLE {UNDONE} (what integer, id bigint, kind varchar(1), version bigint, before bigint, "
            "PRIMARY KEY (what, id))"
        )
        for what, model in enumerate(self.models):
            pages = self._pages(model)
            self._run(
                f"INSERT INTO {UNDONE} SELECT %s, h.id, h.history_type, h.history_id, "
                f"(SELECT max(p.history_id) FROM {pages} p WHERE p.id = h.id AND p.history_id < h.history_id) "
                f"FROM {pages} h WHERE h.history_date = %s AND h.history_user_id {self.dialect.same} %s",
                (what, *self._stamp),
            )
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is None:  # otherwise the transaction goes back, and the table with it
            self._run(f"DROP TABLE {UNDONE}")

    def _run(self, sql: str, params: Sequence[Any] = ()) -> int:
        with self.connection.cursor() as cursor:
            cursor.execute(sql, tuple(params) or None)
            return int(cursor.rowcount)

    def _ask(self, sql: str, params: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        with self.connection.cursor() as cursor:
            cursor.execute(sql, tuple(params) or None)
            return list(cursor.fetchall())

    def _pages(self, model: type[Model]) -> str:
        return self.quote(model.history.model._meta.db_table)  # type: ignore[attr-defined]

    def _table(self, model: type[Model]) -> str:
        return self.quote(model._meta.db_table)

    def _columns(self, model: type[Model]) -> list[str]:
        return [self.quote(name) for name in fields_by_column(model)]

    def ids(self, model: type[Model], kind: str) -> list[int]:
        """Return the rows of a table that the intake put on record, changed or removed."""
        sql = f"SELECT id FROM {UNDONE} WHERE what = %s AND kind = %s ORDER BY id"
        return [one for (one,) in self._ask(sql, (self.models.index(model), kind))]

    def changed_since(self, model: type[Model]) -> Named:
        """Return rows that are not as the intake left them, or gone."""
        differs = " OR ".join(f"t.{name} {self.dialect.differs} h.{name}" for name in self._columns(model))
        return self._named(
            model,
            f"LEFT JOIN {self._table(model)} t ON t.id = u.id WHERE u.what = %s AND u.kind <> '{REMOVED}' "
            f"AND (t.id IS NULL OR {differs})",
        )

    def without_before(self, model: type[Model]) -> Named:
        """Return changed rows of which no page says what they were before."""
        return self._named(model, f"WHERE u.what = %s AND u.kind = '{CHANGED}' AND u.before IS NULL")

    def there_again(self, model: type[Model], key: Sequence[str]) -> Named:
        """Return removed rows in whose place another of the same key stands by now."""
        same = " AND ".join(f"t.{self.quote(name)} {self.dialect.same} h.{self.quote(name)}" for name in key)
        return self._named(model, f"JOIN {self._table(model)} t ON {same} WHERE u.what = %s AND u.kind = '{REMOVED}'")

    def _named(self, model: type[Model], found: str) -> Named:
        of = f"FROM {UNDONE} u JOIN {self._pages(model)} h ON h.history_id = u.version {found}"
        what = self.models.index(model)
        count = int(self._ask(f"SELECT count(*) {of}", (what,))[0][0])
        if not count:
            return 0, ()
        first = [page for (page,) in self._ask(f"SELECT u.version {of} ORDER BY u.id LIMIT {NAMED_AT_MOST}", (what,))]
        pages = model.history.filter(history_id__in=first).order_by("id")  # type: ignore[attr-defined]
        return count, tuple(_said(page) for page in pages)

    def restore(self, model: type[Model], stamp: Stamp) -> int:
        """Give changed rows what they were before; return how many."""
        names = [name for name in self._columns(model) if name != self.quote("id")]
        values = ", ".join(f"{name} = b.{name}" for name in names)
        table = self._table(model)
        count = self._run(
            f"UPDATE {table} SET {values} FROM {UNDONE} u JOIN {self._pages(model)} b ON b.history_id = u.before "
            f"WHERE u.what = %s AND u.kind = '{CHANGED}' AND {table}.id = u.id",
            (self.models.index(model),),
        )
        self._write(model, CHANGED, CHANGED, stamp)
        return count

    def put_back(self, model: type[Model], stamp: Stamp) -> int:
        """Put removed rows back under the ids they had; return how many."""
        names = self._columns(model)
        count = self._run(
            f"INSERT INTO {self._table(model)} ({', '.join(names)}) SELECT {', '.join(f'h.{name}' for name in names)} "
            f"FROM {UNDONE} u JOIN {self._pages(model)} h ON h.history_id = u.version "
            f"WHERE u.what = %s AND u.kind = '{REMOVED}' ORDER BY u.id",
            (self.models.index(model),),
        )
        self._write(model, REMOVED, NEW, stamp)
        return count

    def _write(self, model: type[Model], kind: str, sign: str, stamp: Stamp) -> None:
        where = f"id IN (SELECT id FROM {UNDONE} WHERE what = %s AND kind = %s)"
        write_history(self.connection, model, sign, stamp, where, (self.models.index(model), kind))

    def lost_references(self, model: type[Model]) -> Named:
        """Return rows that, as they are again, refer to something that is gone."""
        lost = [
            f"(t.{self.quote(field.column)} IS NOT NULL AND NOT EXISTS (SELECT 1 FROM "
            f"{self._table(field.related_model)} r WHERE r.id = t.{self.quote(field.column)}))"
            for field in model._meta.concrete_fields
            if field.is_relation and isinstance(field.related_model, type) and field.column
        ]
        if not lost:
            return 0, ()
        return self._named(
            model,
            f"JOIN {self._table(model)} t ON t.id = u.id WHERE u.what = %s AND u.kind <> '{NEW}' "
            f"AND ({' OR '.join(lost)})",
        )


def _said(page: Any) -> str:
    """Return a page of history as the row that it tells of calls itself; by its key where what it names is gone."""
    row = page.instance
    try:
        return str(row)
    except (ObjectDoesNotExist, AttributeError):
        return str(getattr(row, "key", row.pk))
