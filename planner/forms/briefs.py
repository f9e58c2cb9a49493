"""The brief as a form: one field a row of the table of settings, each saying what it means."""

from typing import Any

from django import forms

from planner.core.brief import SETTINGS, Setting, SettingKind
from planner.core.brief import Brief as BriefRecord
from planner.core.brief_families import Family
from planner.core.brief_text import read_brief, write_brief
from planner.models.briefs import FIRST_BRIEF

MOST_SECONDS, MOST_SEED = 600, 2**31 - 1
YES_NO = ("yes", "no")
UNITS = {"C": "°C"}


class PlanForm(forms.Form):
    """Which brief to plan by, and how long to look."""

    name = forms.CharField(
        label="Name of the brief",
        initial=FIRST_BRIEF,
        max_length=80,
        error_messages={"required": "Give the brief a name, such as First plan."},
        help_text="A new name keeps this brief beside the others.",
    )
    seconds = forms.IntegerField(
        label="Time to look for a better plan (s)",
        initial=30,
        min_value=1,
        max_value=MOST_SECONDS,
        error_messages=dict.fromkeys(
            ("required", "invalid", "min_value", "max_value"), f"Say for how many seconds, 1 to {MOST_SECONDS}."
        ),
        help_text="The plan is shown with its proved distance from the best, so a short time is no risk.",
    )
    goes_on = forms.BooleanField(
        label="Go on from the adopted plan",
        required=False,
        initial=True,
        help_text="What is begun stays, what is booked stays where it can, and each move is listed. Without it the plan is made afresh.",
    )
    seed = forms.IntegerField(
        label="Seed",
        initial=1,
        min_value=0,
        max_value=MOST_SEED,
        error_messages=dict.fromkeys(
            ("required", "invalid", "min_value", "max_value"), f"Give a whole number from 0 to {MOST_SEED}, such as 1."
        ),
        help_text="The same seed on the same machine finds the same plan.",
    )


class BriefForm(forms.Form):
    """Every setting of a brief; a blank one keeps its default."""

    def __init__(self, *args: Any, texts: dict[str, str | None] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        defaults = write_brief(BriefRecord())
        for setting in SETTINGS:
            text = self.data.get(setting.name) if self.is_bound else (texts or {}).get(setting.title)
            self.fields[setting.name] = _field(setting, text, defaults[setting.title])

    def clean(self) -> dict[str, Any]:
        """Put what is wrong with a setting beside its field."""
        cleaned: dict[str, Any] = super().clean() or {}
        texts = self.texts()
        for setting in SETTINGS:
            for problem in read_brief({setting.title: texts[setting.title]})[1]:
                self.add_error(setting.name, problem.remedy)
        return cleaned

    def families(self) -> list[tuple[Family, list[forms.BoundField]]]:
        """Return the fields under the headings that they stand under."""
        return [(each, [self[one.name] for one in SETTINGS if one.family is each]) for each in Family]

    def texts(self) -> dict[str, str | None]:
        """Return each setting as people wrote it, by title; None where they left it blank."""
        return {one.title: (self.cleaned_data.get(one.name) or "").strip() or None for one in SETTINGS}


def _field(setting: Setting, text: str | None, default: str) -> forms.CharField:
    return forms.CharField(
        label=f"{setting.title} ({UNITS.get(setting.unit, setting.unit)})" if setting.unit else setting.title,
        required=False,
        initial=text,
        max_length=500,
        help_text=f"{setting.meaning}. Blank: {default or 'none'}.",
        widget=_widget(setting, text, default),
    )


def _widget(setting: Setting, text: str | None, default: str) -> forms.Widget | None:
    """Return a list to choose from where the setting has few values; one that is stored in other words stays in it."""
    choices = {SettingKind.YES_NO: YES_NO, SettingKind.CHOICE: setting.choices}.get(setting.kind)
    if choices is None:
        return None
    stored = (text,) if text and text not in choices else ()
    return forms.Select(choices=[("", f"as usual: {default}"), *((one, one) for one in (*choices, *stored))])
