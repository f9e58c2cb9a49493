"""Figures that were read on site, as a form: one field a figure that a segment asks for, what is wrong beside each."""

from collections.abc import Iterable, Iterator
from typing import Any

from django import forms
from django.utils import timezone

from inventory.core.readings import UNIT, Quantity
from inventory.core.saying import day_words
from inventory.forms import DayField
from planner.core.measuring import Measure
from planner.services.readings import Entry, NoFigure, figure_of

PREFIX = "read"


class ReadingsForm(forms.Form):
    """The figures of one segment, with who reads them left to the sign-in; a blank one was not measured."""

    on = DayField(label="Day of the measurement", error_messages={"required": "Say on which day it was measured."})
    instrument = forms.CharField(
        label="Instrument",
        required=False,
        max_length=200,
        help_text="Which one, and when it was last calibrated if that is known.",
    )
    note = forms.CharField(label="Note", required=False, max_length=1000)

    def __init__(self, measures: Iterable[Measure], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("on", timezone.localdate())
        self.measures = {name_of(one): one for one in measures}
        for name, one in self.measures.items():
            self.fields[name] = _field(one)

    def clean_on(self) -> Any:
        """Refuse a day that has not come."""
        on = self.cleaned_data["on"]
        if on > timezone.localdate():
            raise forms.ValidationError(f"{day_words(on)} has not come yet. Enter the day of the measurement.")
        return on

    def clean(self) -> dict[str, Any]:
        """Ask for at least one figure, and lose none that the segment does not ask for any more."""
        cleaned: dict[str, Any] = super().clean() or {}
        for name in self.data:
            if name.startswith(f"{PREFIX}|") and name not in self.measures and str(self.data[name]).strip():
                what = " ".join(name.split("|")[1:]).strip()
                message = f"The segment has changed meanwhile and asks for no figure {what} any more: {self.data[name]} is not stored."
                self.add_error(None, message)
        if not self.errors and not list(self.entries()):
            self.add_error(None, "No figure was entered. Write at least one.")
        return cleaned

    def entries(self) -> Iterator[Entry]:
        """Yield the figures that were entered."""
        for name, one in self.measures.items():
            value = self.cleaned_data.get(name)
            if value is not None:
                yield Entry(quantity=one.quantity, node=one.node, far=one.far, value=value)


def name_of(measure: Measure) -> str:
    """Return the name of a figure's field: the same however many other figures are asked for."""
    return f"{PREFIX}|{measure.code}"


class FigureField(forms.CharField):
    """A figure as a meter shows it, with or without its unit."""

    def __init__(self, quantity: Quantity, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=40, **kwargs)
        self.quantity = quantity

    def clean(self, value: Any) -> Any:
        """Return the figure, None where nothing was entered."""
        text = (super().clean(value) or "").strip()
        try:
            return figure_of(text, self.quantity) if text else None
        except NoFigure as refusal:
            raise forms.ValidationError(str(refusal)) from None


def _field(measure: Measure) -> FigureField:
    label = f"{measure.quantity.value.capitalize()}, {measure.where}, in {UNIT[measure.quantity]}"
    attrs = {"inputmode": "decimal", "autocomplete": "off", "aria-label": label, "size": 8, "data-reads": label}
    if measure.figure is not None:
        attrs |= {"data-lowest": repr(measure.figure.lowest), "data-highest": repr(measure.figure.highest)}
    return FigureField(measure.quantity, label=label, widget=forms.TextInput(attrs=attrs))
