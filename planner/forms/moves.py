"""Where an order is to go, and until when it is put off."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from inventory.forms import DayField
from planner.models import Crew, Order


class MoveForm(forms.Form):
    """A crew, and the local start of its time on site."""

    day = DayField(
        label="Date of the start",
        error_messages={"required": "Write the date like 2 Mar 2027."},
        help_text="After midnight it is the new date.",
    )
    clock = forms.TimeField(
        label="Time of the start",
        input_formats=["%H:%M"],
        widget=forms.TimeInput(format="%H:%M", attrs={"placeholder": "21:00"}),
        error_messages=dict.fromkeys(("required", "invalid"), "Write the time like 21:00."),
        help_text="When the crew is on site, in the building's own time.",
    )

    def __init__(self, *args: Any, order: Order, zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.zone = ZoneInfo(zone)
        crews = Crew.objects.filter(brief=order.plan.brief)
        choices = [(crew.key, f"{crew.key} ({crew.people} people)") for crew in crews]
        self.fields["crew"] = forms.ChoiceField(label="Crew", choices=choices)
        self.order_fields(["crew", "day", "clock"])

    def start(self) -> datetime:
        """Return the instant of the start."""
        return datetime.combine(self.cleaned_data["day"], self.cleaned_data["clock"], tzinfo=self.zone)


class MendForm(forms.Form):
    """What was done about the reason for which an order was backed out."""

    what = forms.CharField(
        label="What was done about it",
        max_length=1000,
        error_messages={"required": "Say what was done, or who looked and found it good: the next crew goes by that."},
        help_text="For the next crew: what, by whom, and what was read afterwards.",
    )


class PutOffForm(forms.Form):
    """The first night on which an order may be done."""

    not_before = DayField(
        label="Not before the night of",
        required=False,
        help_text="Blank: it may be done as soon as possible again.",
    )
    why = forms.CharField(label="Why", required=False, max_length=300, help_text="For those who read it later.")
