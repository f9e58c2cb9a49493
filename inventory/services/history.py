"""What happened to a row: who changed which fact, when, from what to what."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models

from inventory.workbook.columns import Sheet

KINDS = {"+": "put on record", "~": "changed", "-": "removed"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change of a row: what it was (put on record, changed, removed) and each fact (heading, before, after).

    `why` is what brought many changes at once: the workbook that was taken in, the order that was accepted.
    """

    at: datetime
    by: str | None
    kind: str
    facts: tuple[tuple[str, object, object], ...]
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Removed:
    """A row that is no longer on record: its name, where it has one, its facts at last (heading, value), its changes."""

    name: str | None
    facts: tuple[tuple[str, object], ...]
    changes: tuple[Change, ...]


def changes_of(row: models.Model, sheet: Sheet, most: int = 20) -> tuple[Change, ...]:
    """Return the newest changes of a row, newest first, in the words of its sheet."""
    history: Any = row.history  # type: ignore[attr-defined]
    return _changes(type(row), sheet, _newest(history.all(), most + 1), most)


def removed(model: type[models.Model], pk: int, sheet: Sheet, most: int = 20) -> Removed | None:
    """Return what was on record under a number and is no longer; None where nothing ever was."""
    history: Any = model.history  # type: ignore[attr-defined]
    versions = _newest(history.filter(id=pk), most + 1)
    if not versions:
        return None
    last, names = versions[0], _names(model, versions[:1])
    facts = ((column.heading, _said(names, _field(model, column.name), last)) for column in sheet.columns)
    return Removed(name=getattr(last, "key", None), facts=tuple(facts), changes=_changes(model, sheet, versions, most))


def _newest(history: "models.QuerySet[Any]", most: int) -> list[Any]:
    return list(history.select_related("history_user").order_by("-history_date", "-history_id")[:most])


def _changes(model: type[models.Model], sheet: Sheet, versions: list[Any], most: int) -> tuple[Change, ...]:
    names = _names(model, versions)
    pairs = zip(versions, [*versions[1:], None], strict=False)  # the oldest has none before it
    return tuple(_change(model, sheet, names, version, before) for version, before in pairs)[:most]


def _field(model: type[models.Model], name: str) -> Any:
    return model._meta.get_field(name)  # noqa: SLF001 - its documented name


Names = dict[str, dict[int, str]]


def _names(model: type[models.Model], versions: Iterable[Any]) -> Names:
    """Return, for each reference, the names of the rows that any version refers to."""
    wanted: dict[str, set[int]] = defaultdict(set)
    for version in versions:
        for field in _references(model):
            if (key := getattr(version, field.attname)) is not None:
                wanted[field.name].add(key)
    found = {field.name: field.related_model.objects.in_bulk(wanted[field.name]) for field in _references(model)}
    return {name: {key: getattr(row, "key", str(row)) for key, row in rows.items()} for name, rows in found.items()}


def _references(model: type[models.Model]) -> Sequence[Any]:
    return [field for field in model._meta.concrete_fields if field.is_relation]  # noqa: SLF001 - its documented name


def _change(model: type[models.Model], sheet: Sheet, names: Names, version: Any, before: Any) -> Change:
    facts = []
    for column in sheet.columns:
        field = _field(model, column.name)
        old = _said(names, field, before) if before else None
        new = _said(names, field, version)
        if before and old != new:
            facts.append((column.heading, old, new))
    by = version.history_user
    return Change(
        at=version.history_date,
        by=(by.get_full_name() or by.get_username()) if by else None,
        kind=KINDS[version.history_type],
        facts=tuple(facts),
        why=version.history_change_reason or None,
    )


def _said(names: Names, field: Any, version: Any) -> object:
    value = getattr(version, field.attname)
    if field.name in names and value is not None:
        return names[field.name].get(value, "removed since")
    return value
