"""What the page of who did what can be narrowed by."""

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils import timezone

from inventory.core.saying import day_words
from inventory.forms import DayField
from planner.store.acts import KINDS, Asked

NOBODY = "0"
SECOND_DAY = date.min + timedelta(days=1)


def _people() -> list[tuple[str, str]]:
    names = [(str(user.pk), user.get_full_name() or user.get_username()) for user in User.objects.order_by("username")]
    return [("", "anybody"), *names, (NOBODY, "nobody known: the command line, the site itself")]


class AuditForm(forms.Form):
    """Person, days, kind."""

    who = forms.ChoiceField(label="Person", required=False, choices=_people)
    since = DayField(label="From", required=False)
    until = DayField(label="To", required=False)
    kind = forms.ChoiceField(
        label="Kind", required=False, choices=[("", "everything"), *((one, one) for one in sorted(KINDS))]
    )

    def clean(self) -> dict[str, Any]:
        """Say where no day lies between."""
        cleaned = super().clean() or {}
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until < since:
            self.add_error("until", f"This lies before {day_words(since)}. Choose that day or a later one.")
        return cleaned

    def asked(self) -> Asked:
        """Return what is asked for; a field that is wrong narrows nothing."""
        given = self.cleaned_data
        who, until = given.get("who") or "", given.get("until")
        return Asked(
            who=int(who) if who not in {"", NOBODY} else None,
            nobody=who == NOBODY,
            since=_start_of(given.get("since")),
            until=_start_of(until + timedelta(days=1)) if until and until < date.max else None,
            kind=given.get("kind") or None,
        )


def _start_of(day: date | None) -> datetime | None:
    """Return the instant at which a day begins on the campus; a day later where that lies before the first in UTC."""
    return None if day is None else timezone.make_aware(datetime.combine(max(day, SECOND_DAY), time()))
