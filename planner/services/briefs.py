"""Briefs as people keep them."""

from collections.abc import Mapping

from django.db import transaction

from inventory.store.targets import By
from planner.models import Brief, BriefSetting


@transaction.atomic
def keep_brief(name: str, texts: Mapping[str, str | None], *, by: By) -> Brief:
    """Keep every setting of a brief as written; a blank one falls back to its default. History says who."""
    brief, _ = Brief.objects.get_or_create(name=name)
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
    row._history_user = by  # type: ignore[attr-defined]  # noqa: SLF001 - the name that django-simple-history asks for
    row.save()


def brief_texts(name: str) -> dict[str, str | None]:
    """Return the settings of a brief as written, by title; empty for one that is not there."""
    return dict(BriefSetting.objects.filter(brief__name=name).values_list("setting", "value"))
