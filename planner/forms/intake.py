"""Forms of the Intake page."""

from collections import Counter
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from django import forms
from django.conf import settings

if TYPE_CHECKING:
    from django.core.files.uploadedfile import UploadedFile

MEGABYTE = 1024 * 1024
MOST_CALENDARS = 500


def checked(upload: "UploadedFile[Any]", endings: tuple[str, ...], *, most_bytes: int) -> "UploadedFile[Any]":
    """Return the upload, or say what is wrong with its name or size."""
    name = upload.name or ""
    if PurePath(name).suffix.lower() not in endings:
        raise forms.ValidationError(
            f"{name} does not end in {' or '.join(endings)}. Save it as such in the program that made it, then choose that."
        )
    if (upload.size or 0) > most_bytes:
        raise forms.ValidationError(
            f"{name} has more than {most_bytes // MEGABYTE} MB. Split it, or ask for a higher limit."
        )
    return upload


class WorkbookForm(forms.Form):
    """Choose a workbook to look at."""

    workbook = forms.FileField(
        label="Workbook",
        error_messages={
            "required": "Choose a workbook first.",
            "empty": "This file is empty. Choose another.",
            "max_length": "The name of this file is too long. Give it a shorter one.",
        },
        help_text="An .xlsx file with the headings of the blank workbook. Nothing is stored before you say so.",
        widget=forms.FileInput(attrs={"accept": ".xlsx,.xlsm"}),
    )

    def clean_workbook(self) -> "UploadedFile[Any]":
        """Refuse what is no workbook by name, and what is too large."""
        return checked(self.cleaned_data["workbook"], (".xlsx", ".xlsm"), most_bytes=settings.UPLOAD_LIMIT_BYTES)


class ManyFiles(forms.FileInput):
    """A file field that takes several files."""

    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Several files at once."""

    widget = ManyFiles

    def clean(self, data: Any, initial: Any = None) -> "list[UploadedFile[Any]]":
        """Check every file."""
        files = (data or [None]) if isinstance(data, list | tuple) else [data]
        return [super(ManyFilesField, self).clean(one, initial) for one in files]


class CalendarsForm(forms.Form):
    """Choose calendars to put on file."""

    calendars = ManyFilesField(
        label="Calendars",
        error_messages={
            "required": "Choose one or more calendars first.",
            "empty": "One of the files is empty. Leave it out.",
        },
        help_text=f"The .ics files that the sheet Rooms names, up to {MOST_CALENDARS} at once. All of them must be readable.",
        widget=ManyFiles(attrs={"accept": ".ics", "multiple": True}),
    )

    def clean_calendars(self) -> "list[UploadedFile[Any]]":
        """Refuse what is no calendar by name, and what is too much."""
        files = self.cleaned_data["calendars"]
        if len(files) > MOST_CALENDARS:
            raise forms.ValidationError(f"{len(files)} files at once are too many. Choose at most {MOST_CALENDARS}.")
        twice = [name for name, count in Counter(one.name or "" for one in files).items() if count > 1]
        if twice:
            raise forms.ValidationError(f"Two of the files are called {twice[0]}. Leave one of them out.")
        share = settings.UPLOAD_LIMIT_BYTES
        if sum(one.size or 0 for one in files) > share:
            raise forms.ValidationError(f"Together these have more than {share // MEGABYTE} MB. Choose fewer at once.")
        return [checked(one, (".ics",), most_bytes=share) for one in files]
