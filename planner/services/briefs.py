"""Briefs as people keep them: settings, and copies that stand beside each other with crews and phases of their own."""

from collections.abc import Iterable, Mapping

from django.db import transaction
from django.db.models import Model, QuerySet

from inventory.store.targets import By
from planner.models import Brief, BriefSetting, Closure
from planner.models.briefs import FIRST_BRIEF


class BriefNameTaken(ValueError):  # noqa: N818 - says what it is
    """A brief of this name is there already; the message says so."""


@transaction.atomic
def keep_brief(name: str, texts: Mapping[str, str | None], *, by: By, like: str = FIRST_BRIEF) -> Brief:
    """Keep every setting of a brief as written; a blank one falls back to its default. History says who.

    A new brief begins as a copy of the brief `like`, with its crews, phases and closures.
    """
    brief = Brief.objects.filter(name=name).first() or copy_brief(like, name, by=by)
    stored = {one.setting: one for one in brief.settings.all()}
    for title, text in texts.items():
        _keep(brief, stored.get(title), title, text, by)
    return brief


def _keep(brief: Brief, stored: BriefSetting | None, title: str, text: str | None, by: By) -> None:
    if stored is None and text is None:
        return
    row = stored or BriefSetting(brief=brief, setting=title)
    if stored is not None and stored.value == text:
        return
    row.value = text
    save_as(row, by)


@transaction.atomic
def copy_brief(source: str, name: str, *, by: By) -> Brief:
    """Make a brief beside another: the same settings, crews, phases and closures, to be changed without harm to it."""
    if Brief.objects.filter(name=name).exists():
        message = f"There is a brief named {name!r} already. Give the copy another name."
        raise BriefNameTaken(message)
    old = Brief.objects.filter(name=source).first()
    new = Brief(name=name, copied_from=old)
    save_as(new, by)
    if old is not None:
        for rows in (old.settings.all(), old.crews.all(), old.phases.all()):
            _copy_rows(rows, new, by)
        if old.name != FIRST_BRIEF:  # those of the first brief hold for all
            _copy_rows(old.closures.all(), new, by)
        new.lifted.set(old.lifted.all())
    return new


def _copy_rows(rows: QuerySet[Model], brief: Brief, by: By) -> None:
    for row in rows:
        row.pk, row._state.adding, row.brief = None, True, brief  # type: ignore[attr-defined]  # noqa: SLF001 - as Django's documentation copies rows
        save_as(row, by)


def save_as(row: Model, by: By) -> None:
    """Save a row, and let its history say who."""
    row._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - the name that django-simple-history asks for
    row.save()


@transaction.atomic
def keep_rows(changed: Iterable[Model], removed: Iterable[Model], *, by: By) -> None:
    """Keep the crews, phases or closures of a brief as they were edited. History says who."""
    for row in changed:
        save_as(row, by)
    for row in removed:
        row._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - the name that django-simple-history asks for
        row.delete()


@transaction.atomic
def lift_closures(brief: Brief, lifted: Iterable[int]) -> None:
    """Let closures of the campus not hold for a brief; they hold for all others. The workbook's own brief lifts none."""
    brief.lifted.set(
        Closure.objects.filter(pk__in=lifted, brief__name=FIRST_BRIEF) if brief.name != FIRST_BRIEF else ()
    )


def brief_texts(name: str) -> dict[str, str | None]:
    """Return the settings of a brief as written, by title; empty for one that is not there."""
    return dict(BriefSetting.objects.filter(brief__name=name).values_list("setting", "value"))
