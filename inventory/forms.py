"""Forms: what people type, checked, with what is wrong said beside the field."""

from datetime import date
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.http import HttpRequest

from inventory.core.days import HOW, DayError, moment_from_text
from inventory.core.saying import day_words
from inventory.services.attempts import WAIT_S, count_attempt, must_wait
from inventory.workbook.choices import OUTCOMES

LONGEST_WORDS = 1000  # characters of what somebody reports


class DayInput(forms.TextInput):
    """A day as text, shown in words: a browser's own field for dates shows figures in whatever order its owner has set."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"placeholder": "2 Mar 2027", "autocomplete": "off", **(attrs or {})})

    def format_value(self, value: Any) -> str | None:
        """Show a day in words, and what is no day as it was typed."""
        return day_words(value) if isinstance(value, date) else super().format_value(value)


class DayField(forms.DateField):
    """A day that nobody can read the other way round."""

    widget = DayInput

    def to_python(self, value: Any) -> date | None:
        """Return the day that was written."""
        if value in self.empty_values or isinstance(value, date):
            return value or None
        try:
            found = moment_from_text(str(value))
        except DayError as error:
            raise forms.ValidationError(f"{error}: {error.remedy}.", code="invalid") from None
        if found is None:
            raise forms.ValidationError(f"This must be a date: {HOW}.", code="invalid")
        return found.date()


class SignInForm(AuthenticationForm):
    """Sign in; after repeated failures the same name has to wait."""

    error_messages = {
        "invalid_login": "This name and password do not go together. Both mind capital letters.",
        "inactive": "This account is closed. Ask whoever looks after the site to open it.",
        "wait": f"Too many failed attempts. Wait {WAIT_S // 60} minutes, then try again.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"

    def clean(self) -> dict[str, Any]:
        """Check name and password unless this name has to wait."""
        name, address = self.cleaned_data.get("username"), self._address()
        if name is None or self.cleaned_data.get("password") is None:
            return super().clean()  # what is missing or garbled is said beside its field; nothing was tried
        if must_wait(name, address):
            raise forms.ValidationError(self.error_messages["wait"], code="wait")
        try:
            cleaned = super().clean()
        except forms.ValidationError:
            count_attempt(name, address, worked=False)
            raise
        count_attempt(name, address, worked=True)
        return cleaned

    def _address(self) -> str:
        return address_of(self.request) if self.request else ""


def address_of(request: HttpRequest) -> str:
    """Return where a request comes from: as the outermost of the site's own proxies saw it, never as its sender says."""
    seen = [part.strip() for part in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if part.strip()]
    proxies: int = settings.PROXIES
    address: str = seen[-proxies] if 0 < proxies <= len(seen) else request.META.get("REMOTE_ADDR", "")
    return address


class NewPasswordForm(PasswordChangeForm):
    """Change the own password."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, label in (
            ("old_password", "Password as it is"),
            ("new_password1", "New password"),
            ("new_password2", "New password once more"),
        ):
            self.fields[name].label = label


class FailureForm(forms.Form):
    """Report that a node failed."""

    what_failed = forms.CharField(
        label="What failed",
        required=False,
        max_length=LONGEST_WORDS,
        error_messages={"max_length": f"Say it in at most {LONGEST_WORDS} characters."},
        widget=forms.TextInput(attrs={"placeholder": "slider 2 jumps"}),
    )
    date = DayField(label="Day it failed")
    outcome = forms.ChoiceField(
        label="What became of it",
        required=False,
        choices=[("", "not known yet"), *((word, word) for word in OUTCOMES)],
    )
