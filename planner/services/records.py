"""Editing records on pages: one at a time or many, with what that does to verdicts, and nothing lost between two people."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction
from simple_history.utils import bulk_update_with_history

from inventory.core.standards import open_standards
from inventory.models import Node
from inventory.services.editing import (
    Entry,
    Register,
    check_values,
    columns_of,
    difference,
    like,
    put_changed,
    put_new,
    read_entry,
    refusals,
    resolved,
    texts_of,
)
from inventory.services.records import remove_record
from inventory.services.standards import sync_open_standards
from inventory.store.history import Hanging, going_along, hanging_on
from inventory.store.targets import By, sheets_of
from inventory.workbook.cells import Fault, read_cell
from inventory.workbook.columns import Column
from inventory.workbook.typed import written
from planner.services.converted import orders_of_stations
from planner.services.reassess import UNTOUCHED, Reassessed, change
from planner.store.intake import ALL_TARGETS
from planner.store.touches import is_silent

SAID_AT_MOST = 3  # changed facts that are named where a verdict says what turned it
MOST_AT_ONCE = 2000  # records in one bulk change
SHOWN = 20  # of them in a preview
LOT = 500
PROTOCOLS = "protocols"
APART = frozenset({"brief"})  # sheets with a page of their own

REGISTERS: dict[str, Register] = {
    sheet.code: Register(sheet=sheet, target=ALL_TARGETS[sheet.code])
    for sheet in sheets_of(ALL_TARGETS)
    if sheet.code not in APART
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A record as kept: what was odd about it, what the change did to verdicts, and whether it was so already."""

    row: Any
    oddities: tuple[str, ...] = ()
    reassessed: Reassessed = UNTOUCHED
    was_so: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NotKept:
    """What was typed and is wrong: by column name, "" for the record as a whole."""

    faults: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Overtaken:
    """Somebody else has changed the record since the form was opened: each fact (heading, then, now), and the record now.

    `merged` is what was typed with the other's changes wherever nothing else was typed; `both` are the names of columns
    that both have changed.
    """

    facts: tuple[tuple[str, str, str], ...]
    now: Mapping[str, str]
    merged: Mapping[str, str]
    both: frozenset[str]


def who_did(by: By) -> str:
    """Return a person in words."""
    return (by.get_full_name() or by.get_username()) if by else "the command line"


def name_of(register: Register, row: models.Model) -> str:
    """Return what a record is called: run R-12."""
    return f"{register.what} {row}"


@transaction.atomic
def keep_new(register: Register, texts: Mapping[str, str], *, by: By) -> Kept | NotKept:
    """Put a record on file as typed; one that is on file exactly so was sent twice."""
    entry = read_entry(register, texts)
    if not entry.faults:
        named = " ".join(written(entry.values[name]) for name in register.sheet.key if entry.values[name] is not None)
        words = f"{register.what} {named} was put on file by {who_did(by)}"
        return _stored(register, None, entry, words, by)
    stored = _sent_before(register, entry)
    return NotKept(faults=entry.faults) if stored is None else Kept(row=stored, was_so=True)


def _sent_before(register: Register, entry: Entry) -> Any:
    """Return the record that is on file exactly as typed, where all that is wrong is that it is on file."""
    if set(entry.faults) != {register.sheet.key[-1]}:
        return None
    stored = like(register, entry.values)
    plain = {name: _written(register, name, value) for name, value in entry.values.items()}
    return stored if stored is not None and texts_of(register, stored) == plain else None


@transaction.atomic
def keep_changed(
    register: Register, pk: int, texts: Mapping[str, str], opened: Mapping[str, str], *, by: By
) -> Kept | NotKept | Overtaken:
    """Change a record as typed; `opened` is what the form showed when it was opened."""
    row = register.target.model._default_manager.select_for_update().get(pk=pk)  # noqa: SLF001 - its documented name
    now = texts_of(register, row)
    typed = {name: _plain(texts.get(name, "")) for name in now}
    typed |= {column.name: now[column.name] for column in register.sheet.columns if register.is_fixed(column)}
    if typed == now:
        return Kept(row=row, was_so=True)
    if any(now[name] != _plain(text) for name, text in opened.items() if name in now):
        return _overtaken(register, now, typed, opened)
    entry = read_entry(register, typed, row)
    if entry.faults:
        return NotKept(faults=entry.faults)
    after = {name: _written(register, name, getattr(value, "key", value)) for name, value in entry.values.items()}
    if after == now:
        return Kept(row=row, was_so=True)
    return _stored(register, row, entry, because(register, row, difference(register, now, after), by), by)


def _written(register: Register, name: str, value: object) -> str:
    return written(value, register.sheet.column(name).kind)


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


def _overtaken(
    register: Register, now: Mapping[str, str], typed: Mapping[str, str], opened: Mapping[str, str]
) -> Overtaken:
    mine = {name for name in now if typed[name] != _plain(opened.get(name, now[name]))}
    theirs = {name for name in now if now[name] != _plain(opened.get(name, now[name]))}
    return Overtaken(
        facts=difference(register, {name: _plain(opened.get(name, "")) for name in now}, now),
        now=now,
        merged={name: typed[name] if name in mine else now[name] for name in now},
        both=frozenset(name for name in mine & theirs if typed[name] != now[name]),
    )


def because(register: Register, row: models.Model, facts: Sequence[tuple[str, str, str]], by: By) -> str:
    """Say what was changed and by whom: the words that verdicts keep."""
    said = [f"{heading} from {before or 'not known'} to {after or 'not known'}" for heading, before, after in facts]
    return f"{name_of(register, row)} was changed by {who_did(by)}: {listed(said)}"


def listed(said: Sequence[str], between: str = "; ", rest: str = "more facts") -> str:
    """Return the first few of what was said, of changed facts or else, and how many more there are."""
    more = [f"{len(said) - SAID_AT_MOST} {rest}"] if len(said) > SAID_AT_MOST else []
    return between.join([*said[:SAID_AT_MOST], *more])


def _stored(register: Register, row: models.Model | None, entry: Entry, words: str, by: By) -> Kept | NotKept:
    """Store a record and judge again what that touches; a refusal of the database leaves everything as it was."""
    silent = row is not None and is_silent(type(row), _changed_names(row, entry))

    def work() -> tuple[Any, Sequence[models.Model]]:
        done = put_new(register, entry, by) if row is None else put_changed(register, row, entry, by)
        return done, () if silent else (done,)

    try:
        with transaction.atomic():
            done, reassessed = change(() if row is None or silent else (row,), work, words, by=by)
    except ValidationError as error:
        return NotKept(faults=refusals(register, error))
    return Kept(row=done, oddities=entry.oddities, reassessed=reassessed)


def _changed_names(row: models.Model, entry: Entry) -> list[str]:
    return [name for name, value in entry.values.items() if getattr(row, name) != value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Going:
    """What a removal means: what still needs the record (then it cannot go), what goes with it, which orders count on it."""

    needed_by: tuple[Hanging, ...]
    along: tuple[Hanging, ...]
    orders: tuple[str, ...] = ()


def look_at_removal(row: models.Model) -> Going:
    """Return what hangs on a record."""
    orders = orders_of_stations({row.key}) if isinstance(row, Node) else ()
    return Going(needed_by=hanging_on(type(row), [row.pk]), along=going_along(type(row), [row.pk]), orders=orders)


@transaction.atomic
def remove(register: Register, row: models.Model, *, by: By) -> Reassessed:
    """Remove a record and what is part of it; StillNeeded, in words, where something else refers to it."""

    def work() -> tuple[None, Sequence[models.Model]]:
        remove_record(row, by)
        if register.sheet.code == PROTOCOLS:
            sync_open_standards(open_standards())  # where a campus's own row went, the standard's returns
        return None, ()

    return change((row,), work, f"{name_of(register, row)} was removed by {who_did(by)}", by=by)[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulk:
    """One fact of many records, as it would be changed: (record, before, after) of those that change, what is wrong.

    `digest` tells whether the records are still those that were looked at.
    """

    rows: int
    changes: tuple[tuple[Any, str, str], ...]
    faults: tuple[str, ...]
    digest: str
    oddities: tuple[str, ...] = ()

    @property
    def shown(self) -> tuple[tuple[Any, str, str], ...]:
        """The first few changes."""
        return self.changes[:SHOWN]


def may_change_many(register: Register) -> tuple[Column, ...]:
    """Return the columns that many records may be given the same value of: those that name no record."""
    return tuple(column for column in register.sheet.columns if column.name not in register.sheet.key)


def look_at_bulk(register: Register, rows: Iterable[Any], column: Column, text: str) -> Bulk:
    """Tell what giving one fact of these records the same value would change, and what is wrong with it."""
    found = list(rows)
    value = read_cell(column, text)
    if isinstance(value, Fault):
        return _no_bulk(found, f"{value.message}: {value.remedy}.")
    if value is None and column.required:
        return _no_bulk(found, f"{column.heading} is needed in every {register.what}: write a value.")
    columns = columns_of(register, found)
    before = [written(one, column.kind) for one in columns[column.name]]
    columns[column.name] = [column.default if value is None else value] * len(found)
    wrong, oddities = check_values(register, columns) if found else ({}, ())
    after = written(value, column.kind)
    changes = tuple((row, was, after) for row, was in zip(found, before, strict=True) if was != after)
    said = [f"{found[at]}: {' '.join(words)}" for at, by_name in sorted(wrong.items()) for words in by_name.values()]
    odd = _odd(found, oddities)
    digest = sha256(repr((column.name, after, [(row.pk, was) for row, was, _ in changes])).encode()).hexdigest()
    return Bulk(rows=len(found), changes=changes, faults=tuple(said), digest=digest, oddities=tuple(odd))


def _odd(rows: Sequence[Any], oddities: Iterable[tuple[int, str]]) -> list[str]:
    """Say once what is odd, with the first few records of which it is."""
    named: dict[str, list[str]] = {}
    for at, words in oddities:
        named.setdefault(words, []).append(str(rows[at]))
    return [f"{listed(names, ', ', 'more')}: {words}" for words, names in named.items()]


def bears_on_verdicts(register: Register, column: Column) -> bool:
    """Tell whether any verdict may hang on a fact of these records."""
    return not is_silent(register.target.model, (column.name,))


def _no_bulk(rows: Sequence[Any], fault: str) -> Bulk:
    return Bulk(rows=len(rows), changes=(), faults=(fault,), digest="")


@transaction.atomic
def keep_bulk(register: Register, looked: Bulk, column: Column, text: str, *, by: By) -> Reassessed:
    """Give one fact of the records that were looked at the same value, all of them or none."""
    rows = [row for row, _, _ in looked.changes]
    values = columns_of(register, rows)
    value = read_cell(column, text)
    values[column.name] = [column.default if value is None else value] * len(rows)
    silent = is_silent(register.target.model, (column.name,))

    def work() -> tuple[None, Sequence[models.Model]]:
        for at, row in enumerate(rows):
            one = {name: cells[at] for name, cells in values.items()}
            setattr(row, column.name, resolved(register, column, one))
        bulk_update_with_history(rows, register.target.model, [column.name], batch_size=LOT, default_user=by)
        return None, () if silent else rows

    after = written(value, column.kind)
    words = f"{column.heading} of {register.counted(len(rows))} was changed to {after or 'not known'} by {who_did(by)}"
    before = () if silent else list(register.rows().filter(pk__in=[row.pk for row in rows]))
    return change(before, work, words, by=by)[1]
