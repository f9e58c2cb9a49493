# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""History rows for many rows at once, by INSERT ... SELECT; and removal, which is history's last word on a row."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import CASCADE, PROTECT, ForeignObjectRel, Model

from inventory.store.targets import By, fields_by_column

NEW, CHANGED, REMOVED = "+", "~", "-"
Going = Mapping[type[Model], frozenset[int]]  # rows that are about to be removed too
NOTHING_ELSE: Going = {}
REASON_LONGEST = 100  # the history library's own limit
AT_ONCE = 500  # ids in one statement
NAMED_AT_MOST = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """Who changes rows, when, and why."""

    by: By
    at: datetime
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hanging:
    """Rows that refer to a row and keep it from being removed: what they are, how many, the first few by name."""

    what: str
    count: int
    names: tuple[str, ...]

    def __str__(self) -> str:
        more = ", ..." if self.count > len(self.names) else ""
        return f"{self.count} {self.what} ({', '.join(self.names)}{more})"


def write_history(  # noqa: PLR0917 - which rows, what became of them, who says so
    connection: BaseDatabaseWrapper,
    model: type[Model],
    kind: str,
    stamp: Stamp,
    where: str,
    params: Sequence[Any] = (),
) -> None:
    """Write one row of history for each row of `model` that `where` picks; models without history are passed over."""
    history = getattr(model, "history", None)
    if history is None:
        return
    quote = connection.ops.quote_name
    columns = ", ".join(quote(name) for name in fields_by_column(model))
    sql = (
        f"INSERT INTO {quote(history.model._meta.db_table)} "
        f"({columns}, history_date, history_type, history_user_id, history_change_reason) "
        f"SELECT {columns}, %s, %s, %s, %s FROM {quote(model._meta.db_table)} WHERE {where}"
    )
    reason = stamp.reason[:REASON_LONGEST] if stamp.reason else None
    at = connection.ops.adapt_datetimefield_value(stamp.at)
    with connection.cursor() as cursor:
        cursor.execute(sql, (at, kind, stamp.by.pk if stamp.by else None, reason, *params))


def stamped(row: Model, stamp: Stamp) -> Model:
    """Return a row about to be saved, whose page of history will carry this stamp."""
    row._history_user, row._history_date = stamp.by, stamp.at  # type: ignore[attr-defined]  # the names that the library asks for
    row._change_reason = stamp.reason[:REASON_LONGEST] if stamp.reason else None  # type: ignore[attr-defined]
    return row


def hanging_on(model: type[Model], ids: Sequence[int], going: Going = NOTHING_ELSE) -> tuple[Hanging, ...]:
    """Return what refers to these rows and would be left without them, but for what goes as well."""
    found: list[Hanging] = []
    for relation in relations_to(model):
        children = _staying(relation, ids, going)
        if relation.on_delete is CASCADE:
            found += hanging_on(_child(relation), children, going)
        elif relation.on_delete is PROTECT and children:
            found.append(_hanging(_child(relation), children))
    return tuple(found)


def going_along(model: type[Model], ids: Sequence[int], going: Going = NOTHING_ELSE) -> tuple[Hanging, ...]:
    """Return what is part of these rows and would be removed with them; rows that have no history are no records."""
    found: list[Hanging] = []
    for relation in relations_to(model):
        child = _child(relation)
        if relation.on_delete is CASCADE and hasattr(child, "history") and (rows := _staying(relation, ids, going)):
            found.append(_hanging(child, rows))
    return tuple(found)


def remove_rows(connection: BaseDatabaseWrapper, model: type[Model], ids: Sequence[int], stamp: Stamp) -> None:
    """Remove rows, and those that are part of them, with a last row of history each; call `hanging_on` first."""
    for relation in relations_to(model):
        if relation.on_delete is CASCADE:
            remove_rows(connection, _child(relation), _children(relation, ids), stamp)
    table = connection.ops.quote_name(model._meta.db_table)
    for start in range(0, len(ids), AT_ONCE):
        some = tuple(ids[start : start + AT_ONCE])
        where = f"id IN ({', '.join(['%s'] * len(some))})"
        write_history(connection, model, REMOVED, stamp, where, some)
        with connection.cursor() as cursor:
            cursor.execute(f"DELETE FROM {table} WHERE {where}", some)


def relations_to(model: type[Model]) -> list[Any]:
    """Return the references to a table that the database keeps whole; copies in histories are none."""
    found = [field for field in model._meta.get_fields(include_hidden=True) if isinstance(field, ForeignObjectRel)]
    return [relation for relation in found if getattr(relation.field, "db_constraint", False)]


def _child(relation: ForeignObjectRel) -> type[Model]:
    return relation.related_model


def _children(relation: ForeignObjectRel, ids: Sequence[int]) -> list[int]:
    rows = _child(relation)._default_manager.order_by("pk")
    found: list[int] = []
    for start in range(0, len(ids), AT_ONCE):
        found += rows.filter(**{f"{relation.field.name}__in": ids[start : start + AT_ONCE]}).values_list(
            "pk", flat=True
        )
    return found


def _staying(relation: ForeignObjectRel, ids: Sequence[int], going: Going) -> list[int]:
    leave = going.get(_child(relation), frozenset())
    return [one for one in _children(relation, ids) if one not in leave]


def _hanging(model: type[Model], ids: Sequence[int]) -> Hanging:
    unique = sorted(set(ids))
    first = model._default_manager.select_related().order_by("pk").filter(pk__in=unique[:NAMED_AT_MOST])
    words = model._meta.verbose_name if len(unique) == 1 else model._meta.verbose_name_plural
    return Hanging(what=str(words), count=len(unique), names=tuple(str(row) for row in first))
