"""The crews, phases and closures of a brief as forms, and a name for a copy of it."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.validators import MaxLengthValidator

from inventory.core.days import DayError, moment_from_text
from inventory.core.saying import moment_words
from inventory.forms import DayField, DayInput
from planner.core.brief_text import read_days
from planner.models import Brief, Closure, Crew, Phase

MOST_ROWS = 60
GONE = "This row was removed meanwhile. Load the page again."
PHASE_DAYS = ("start", "end", "materials_ordered_on")
LONGEST_TEXT = 200  # characters of a name, a list of days or districts, a reason


class CopyForm(forms.Form):
    """The name of a copy."""

    name = forms.CharField(
        label="Name of the copy",
        max_length=80,
        error_messages={"required": "Give the copy a name, such as Summer only."},
        help_text="It begins with the same settings, crews, phases and closures; changing it leaves this brief alone.",
    )


class RowForm(forms.ModelForm):  # type: ignore[type-arg]
    """One row of a brief; no text of it is longer than people read."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for one in self.fields.values():
            if isinstance(one, forms.CharField):
                one.validators.append(MaxLengthValidator(LONGEST_TEXT, f"Write at most {LONGEST_TEXT} characters."))


class CrewForm(RowForm):
    """One crew."""

    class Meta:
        model = Crew
        fields = ("key", "people", "days", "shift_from", "shift_to")
        labels = {"key": "Crew", "people": "People", "days": "Shift starts on", "shift_from": "From", "shift_to": "To"}
        widgets = {
            "key": forms.TextInput(),
            "days": forms.TextInput(attrs={"placeholder": "Mon-Fri"}),
            "shift_from": forms.TimeInput(format="%H:%M", attrs={"placeholder": "21:00"}),
            "shift_to": forms.TimeInput(format="%H:%M", attrs={"placeholder": "06:00"}),
        }
        error_messages = {"people": {"required": "Say how many people, at least 1."}}

    def clean_days(self) -> str | None:
        """Refuse what is no list of weekdays."""
        days: str | None = self.cleaned_data["days"] or None
        try:
            read_days(days or "Mon")
        except ValueError:
            message = "Write weekdays, such as Mon Tue Wed or Mon-Fri."
            raise forms.ValidationError(message) from None
        return days


class PhaseForm(RowForm):
    """One phase."""

    class Meta:
        model = Phase
        fields = ("key", "start", "end", "budget", "materials_ordered_on", "districts")
        labels = {
            "key": "Phase", "start": "First day", "end": "Last day", "budget": "Budget",
            "materials_ordered_on": "Materials ordered on", "districts": "Districts",
        }  # fmt: skip
        widgets = {
            "key": forms.TextInput(),
            "districts": forms.TextInput(attrs={"placeholder": "all"}),
            **dict.fromkeys(PHASE_DAYS, DayInput),
        }
        field_classes = dict.fromkeys(PHASE_DAYS, DayField)

    def clean(self) -> dict[str, Any]:
        """Refuse a phase that ends before it starts, in words."""
        cleaned: dict[str, Any] = super().clean() or {}
        start, end = cleaned.get("start"), cleaned.get("end")
        if start and end and end < start:
            self.add_error("end", "The last day comes before the first day.")
        return cleaned


class MomentInput(forms.TextInput):
    """A local date and time as text, shown in words."""

    def format_value(self, value: Any) -> str | None:
        """Show what is on file in words, and what is no date as it was typed."""
        try:
            return moment_words(datetime.fromisoformat(value))
        except (TypeError, ValueError):
            shown: str | None = super().format_value(value)
            return shown


class ClosureForm(RowForm):
    """One closure of a scenario's own."""

    class Meta:
        model = Closure
        fields = ("building", "start", "end", "kind", "why")
        labels = {"building": "Building", "start": "From", "end": "To", "kind": "Kind", "why": "Why"}
        widgets = {
            "start": MomentInput(attrs={"placeholder": "1 Mar 2027, 08:00"}),
            "end": MomentInput(attrs={"placeholder": "5 Mar 2027, 18:00"}),
            "kind": forms.Select(choices=[("keep out", "keep out"), ("welcome", "welcome")]),
            "why": forms.TextInput(),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # what a blank row shows as chosen: so it counts as blank
        self.initial["kind"] = self.initial.get("kind") or "keep out"

    def clean_start(self) -> str:
        """Refuse what is no local date and time."""
        return _moment(self.cleaned_data["start"])

    def clean_end(self) -> str:
        """Refuse what is no local date and time, or comes before the start."""
        end = _moment(self.cleaned_data["end"])
        if end <= (self.cleaned_data.get("start") or ""):
            message = "The end must come after the start."
            raise forms.ValidationError(message)
        return end


def _moment(text: str) -> str:
    try:
        found = moment_from_text(text)
    except DayError as error:
        raise forms.ValidationError(f"{error}: {error.remedy}, with the time as 08:00.") from None
    if found is None:
        message = "Write a local date and time, such as 1 Mar 2027, 08:00."
        raise forms.ValidationError(message)
    return f"{found:%Y-%m-%d %H:%M}"


class BriefRows(forms.BaseInlineFormSet):  # type: ignore[type-arg]
    """All rows of a brief; a new one that is on file exactly so was sent twice, and is not made twice."""

    model: type[Any]

    def add_fields(self, form: Any, index: int | None) -> None:
        """Say in words that a row has gone meanwhile."""
        super().add_fields(form, index)
        form.fields[self.model._meta.pk.name].error_messages["invalid_choice"] = GONE  # noqa: SLF001 - its documented name

    def clean(self) -> None:
        """Refuse a new row of a name that is taken, beside the name."""
        super().clean()
        for form in self.extra_forms:
            name = form.cleaned_data.get("key") if form.is_valid() and form.has_changed() else None
            if name and self._stored(key=name) and not self._is_on_file(form.instance):
                form.add_error("key", f"{name} is there already. Change it there, or give this one another name.")

    def fresh(self) -> list[Any]:
        """Return the rows to keep: those that were changed, and those that are not on file yet."""
        return [row for row in self.save(commit=False) if row.pk is not None or not self._is_on_file(row)]

    def _is_on_file(self, row: Any) -> bool:
        names = self.form._meta.fields or ()  # noqa: SLF001 - its documented name
        return self._stored(**{name: getattr(row, name) for name in names if name != self.fk.name})

    def _stored(self, **facts: Any) -> bool:
        exactly = {
            f"{name}__isnull" if value is None else name: True if value is None else value
            for name, value in facts.items()
        }
        return bool(self.model._default_manager.filter(**{self.fk.name: self.instance}, **exactly).exists())  # noqa: SLF001


def rows_of(model: type[Crew | Phase | Closure], form: type[RowForm], extra: int) -> Any:
    """Return the kind of formset that holds all rows of a brief, and some blank ones."""
    return forms.inlineformset_factory(
        Brief,
        model,
        form=form,
        formset=BriefRows,
        extra=extra,
        max_num=MOST_ROWS,
        absolute_max=MOST_ROWS,
        fk_name="brief",
    )


CrewRows = rows_of(Crew, CrewForm, 1)
PhaseRows = rows_of(Phase, PhaseForm, 1)
ClosureRows = rows_of(Closure, ClosureForm, 1)
