"""What the crew types at the wall box."""

from django import forms

from planner.models.work import ACTS

LONGEST_AGO_S = 366 * 86400.0


class EntryForm(forms.Form):
    """One entry: its token, what it does, what it is about, and how long ago it was typed.

    What clock the phone shows is nobody's business: the time of an entry is the campus's, less the seconds since.
    """

    token = forms.UUIDField(error_messages={"required": "Load the page again.", "invalid": "Load the page again."})
    act = forms.ChoiceField(choices=[(act, act) for act in ACTS])
    code = forms.CharField(required=False, max_length=200)
    text = forms.CharField(required=False, max_length=4000, strip=True)
    ago_s = forms.FloatField(required=False, min_value=0, max_value=LONGEST_AGO_S)
    instrument = forms.CharField(required=False, max_length=200)
    reason = forms.CharField(required=False, max_length=4000, strip=True)
    photograph = forms.FileField(required=False, allow_empty_file=True)
