"""Briefs as people keep them: settings, and copies that stand beside each other with crews and phases of their own."""

from collections.abc import Iterable, Mapping

from django.db import transaction
from django.db.models import Model, QuerySet

from inventory.store.targets import By
from planner.models import Brief, BriefSetting, Closure
from planner.models.briefs import FIRST_BRIEF
from planner.services.reassess import change
from planner.services.records import listed, who_did


class BriefNameTaken(ValueError):  # noqa: N818 - says what it is
    """A brief of this name is there already; the message says so."""


@transaction.atomic
def keep_brief(name: str, texts: Mapping[str, str | None], *, by: By, like: str = FIRST_BRIEF) -> Brief:
    """Keep every setting of a brief as written; a blank one falls back to its default. History says who.

    A new brief begins as a copy of the brief `like`, with its crews, phases and closures.
    """
    brief = Brief.objects.filter(name=name).first() or copy_brief(like, name, by=by)
    stored = {one.setting: one for one in brief.settings.select_related("brief")}
    before = {title: stored[title].value if title in stored else None for title in texts}
    changed = [title for title, text in texts.items() if text != before[title]]
    said = [f"{title} from {before[title] or 'as usual'} to {texts[title] or 'as usual'}" for title in changed]

    def work() -> tuple[Brief, list[BriefSetting]]:
        return brief, [
            _keep(stored.get(title) or BriefSetting(brief=brief, setting=title), texts[title], by) for title in changed
        ]

    words = f"the brief {name} was changed by {who_did(by)}: {listed(said)}"
    return change([stored[title] for title in changed if title in stored], work, words, by=by)[0]


def _keep(row: BriefSetting, text: str | None, by: By) -> BriefSetting:
    row.value = text
    save_as(row, by)
    return row


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
