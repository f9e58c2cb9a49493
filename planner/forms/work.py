"""What the crew types at the wall box."""

from django import forms

from planner.models.work import ACTS


class EntryForm(forms.Form):
    """One entry: its token, what it does, what it is about."""

    token = forms.UUIDField(error_messages={"required": "Load the page again.", "invalid": "Load the page again."})
    act = forms.ChoiceField(choices=[(act, act) for act in ACTS])
    code = forms.CharField(required=False, max_length=200)
    text = forms.CharField(required=False, max_length=4000, strip=True)
    done = forms.DateTimeField(required=False, input_formats=["%Y-%m-%dT%H:%M:%S.%fZ", "%Y-%m-%dT%H:%M:%SZ"])
    photograph = forms.FileField(required=False, allow_empty_file=True)
