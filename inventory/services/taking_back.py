# ruff: noqa: SLF001 - _meta is how Django tells of any table
"""Taking the last intake back: every record as it was before, unless somebody has changed what it touched since."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from django.contrib.auth.models import User
from django.db import IntegrityError, connection, models, transaction
from django.utils import timezone

from inventory.core.problems import Problem, Severity
from inventory.core.standards import open_standards
from inventory.models import Intake, ProtocolRate
from inventory.services.standards import sync_open_standards
from inventory.store.history import NEW, REMOVED, Going, Hanging, Stamp, going_along, hanging_on, remove_rows
from inventory.store.targets import By, Targets, field_of, sheets_of
from inventory.store.undoing import Named, Undoing, with_parts

ALTERS = ("new", "changed", "removed")


@dataclass(frozen=True, slots=True, kw_only=True)
class BackCounts:
    """What taking an intake back did to the rows of one sheet."""

    removed: int = 0
    restored: int = 0
    put_back: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBack:
    """What came of it: counts by what the records are called, or the problems that keep everything as it is."""

    done: bool
    counts: dict[str, BackCounts] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


class _Refused(Exception):  # noqa: N818 - carries problems out of the transaction, which goes back
    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("refused")
        self.problems = tuple(problems)


def last_to_take_back() -> Intake | None:
    """Return the last intake that changed anything and was not taken back; None where there is none."""
    rows = Intake.objects.filter(taken_back=None).defer("content", "problems").select_related("by")
    return next((one for one in rows.iterator(chunk_size=20) if _altered(one)), None)


def _altered(intake: Intake) -> bool:
    return any(counts.get(name, 0) for counts in intake.counts.values() for name in ALTERS)


def take_back(intake_pk: int, targets: Targets, by: By) -> TakenBack:
    """Put every record that an intake touched back as it was before, in one transaction; or say why that cannot be."""
    try:
        with transaction.atomic():
            return _take_back(intake_pk, targets, by)
    except _Refused as refused:
        return TakenBack(done=False, problems=refused.problems)
    except IntegrityError as refusal:
        said = str(refusal).splitlines()[0]
        return TakenBack(done=False, problems=(_problem(f"The database refuses it: {said}."),))


def _take_back(intake_pk: int, targets: Targets, by: By) -> TakenBack:
    intake = Intake.objects.select_for_update().defer("content").get(pk=intake_pk)
    last = last_to_take_back()
    if last is None or last.pk != intake.pk:
        raise _Refused([_problem(_why_not(intake, last))])
    now = timezone.now()
    stamp = Stamp(by=by, at=now, reason=f"taken back: {intake.file_name}")
    with Undoing(connection, _tables(targets), intake.at, intake.by_id) as undoing:
        counts = _undo(undoing, targets, stamp)
    connection.check_constraints()
    intake.taken_back, intake.taken_back_by = now, by if isinstance(by, User) else None
    intake.save(update_fields=["taken_back", "taken_back_by"])
    return TakenBack(done=True, counts=counts)


def _why_not(intake: Intake, last: Intake | None) -> str:
    if intake.taken_back is not None:
        return f"The intake of {intake.file_name} has been taken back already."
    if last is None or intake.pk > last.pk:
        return f"The intake of {intake.file_name} changed nothing."
    return f"The intake of {intake.file_name} is not the last: {last.file_name} came after it."


def _tables(targets: Targets) -> tuple[type[models.Model], ...]:
    """Return the tables that an intake may touch, what is referred to before what refers to it."""
    found: list[type[models.Model]] = []
    for sheet in sheets_of(targets):
        target = targets[sheet.code]
        for name in target.makes:
            made = field_of(target.model, name).related_model
            found += [made] if isinstance(made, type) else []
        found.append(target.model)
    return with_parts(found)


def _undo(undoing: Undoing, targets: Targets, stamp: Stamp) -> dict[str, BackCounts]:
    """Refuse, with all reasons at once, or go back: changed rows, then those that were new, then those removed."""
    problems = [one for model in undoing.models for one in _hindrances(undoing, targets, model)]
    if problems:
        raise _Refused(problems)
    done = {model: BackCounts(restored=undoing.restore(model, stamp)) for model in undoing.models}
    going = {model: frozenset(undoing.ids(model, NEW)) for model in undoing.models}
    for model in reversed(undoing.models):
        ids = sorted(going[model])
        problems += _still_needed(model, ids, going)
        if not problems:
            remove_rows(connection, model, ids, stamp)
        done[model] = replace(done[model], removed=len(ids))
    if problems:
        raise _Refused(problems)
    _clear_built_in(undoing)
    for model in undoing.models:
        done[model] = replace(done[model], put_back=undoing.put_back(model, stamp))
    lost = [one for model in undoing.models for one in _lost(undoing, model)]
    if lost:
        raise _Refused(lost)
    sync_open_standards(open_standards())
    return {_many(model): counts for model, counts in done.items() if counts != BackCounts()}


def _clear_built_in(undoing: Undoing) -> None:
    """Make way for a campus's own rows of a protocol, in whose place the standard's came when they went."""
    if not undoing.ids(ProtocolRate, REMOVED):
        return
    pages = ProtocolRate.history.filter(id__in=undoing.ids(ProtocolRate, REMOVED), history_type=REMOVED)
    for page in pages:
        ProtocolRate.objects.filter(
            built_in=True, protocol_id=page.protocol_id, bit_rate_kbit_s=page.bit_rate_kbit_s
        ).delete()


def _hindrances(undoing: Undoing, targets: Targets, model: type[models.Model]) -> Iterator[Problem]:
    yield from _said(
        model,
        undoing.changed_since(model),
        "changed since: {names}.",
        "See in the history who changed what. Change it on its page; this intake cannot be taken back any more.",
    )
    yield from _said(
        model,
        undoing.without_before(model),
        "changed by it, and nothing on record says what they were before: {names}.",
        "Change them on their pages.",
    )
    key = _key(targets, model)
    if key and model is not ProtocolRate:
        yield from _said(
            model,
            undoing.there_again(model, key),
            "removed by it and put on file again since: {names}.",
            "Change them on their pages; this intake cannot be taken back any more.",
        )


def _key(targets: Targets, model: type[models.Model]) -> tuple[str, ...]:
    """Return the database columns that name a row of this table."""
    for sheet in sheets_of(targets):
        target = targets[sheet.code]
        if target.model is model:
            return (*(str(field_of(model, name).column) for name in sheet.key), *target.also_key)
    return ()


def _lost(undoing: Undoing, model: type[models.Model]) -> Iterator[Problem]:
    yield from _said(
        model,
        undoing.lost_references(model),
        "such that they would refer to what has been removed since: {names}.",
        "Put on file again what was removed, then take the intake back.",
    )


def _still_needed(model: type[models.Model], ids: list[int], going: Going) -> list[Problem]:
    hanging = {str(one): one for one in (*hanging_on(model, ids, going), *going_along(model, ids, going))}
    return [_needed(model, one) for one in hanging.values()]


def _needed(model: type[models.Model], hanging: Hanging) -> Problem:
    return _problem(
        f"{_many(model)} that it put on record are needed by now by {hanging}.",
        "Remove those first, or keep the intake and change single records.",
        _many(model),
    )


def _said(model: type[models.Model], found: Named, words: str, remedy: str) -> Iterator[Problem]:
    count, names = found
    if count:
        more = ", ..." if count > len(names) else ""
        listed = f"{', '.join(names)}{more}"
        yield _problem(f"{count} {_called(model, count)} {words.format(names=listed)}", remedy, _many(model))


def _called(model: type[models.Model], count: int) -> str:
    return str(model._meta.verbose_name) if count == 1 else _many(model)


def _many(model: type[models.Model]) -> str:
    return str(model._meta.verbose_name_plural)


def _problem(
    message: str, remedy: str = "Look at the intakes and their times on the page Intake.", sheet: str | None = None
) -> Problem:
    return Problem(code="not-taken-back", severity=Severity.ERROR, message=message, remedy=remedy, sheet=sheet)
