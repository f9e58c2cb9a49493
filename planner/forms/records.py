"""A record as a form: one field a column of its sheet, read and refused as a workbook's cell would be."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from inventory.forms import DayInput
from inventory.services.editing import Register
from inventory.store.known_of import MANY
from inventory.store.targets import field_of
from inventory.workbook.cells import read_cell
from inventory.workbook.columns import Column, Kind
from inventory.workbook.typed import written

NOT_KNOWN_CHOICE = ("", "not known")
YES_NO = ("yes", "no")
NUMBERS = {Kind.NUMBER: "decimal", Kind.DECIMAL: "decimal", Kind.MONEY: "decimal", Kind.WHOLE: "numeric"}
LONG_TEXTS = frozenset({"note", "caution", "text", "why"})


class RecordForm(forms.Form):
    """The fields of a record; what is wrong with them is found by the service and put beside them."""

    def __init__(self, register: Register, *args: Any, only: Iterable[Column] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.label_suffix = ""
        for column in register.sheet.columns if only is None else only:
            self.fields[column.name] = field_for(register, column)

    def texts(self) -> dict[str, str]:
        """Return what was typed, by column."""
        return {name: str(self.data.get(name, "")) for name in self.fields}

    def refuse(self, faults: Mapping[str, Iterable[str]]) -> None:
        """Put what is wrong beside its field; what is about no field shown stands above them all."""
        self.full_clean()
        for name, words in faults.items():
            for one in words:
                self.add_error(name if name in self.fields else None, one)


def field_for(register: Register, column: Column) -> forms.CharField:
    """Return the field of one column."""
    must = "" if column.required else " Blank: not known."
    blank = f" Blank: {column.default}." if column.default else must
    shown = column.example and column.kind not in {Kind.YES_NO, Kind.CHOICE}
    example = f" For example {written(read_cell(column, column.example), column.kind)}." if shown else ""
    return forms.CharField(
        label=column.heading,
        required=False,
        help_text=f"{column.meaning}.{example}{blank}",
        widget=_widget(register, column),
    )


def _widget(register: Register, column: Column) -> forms.Widget:
    attrs: dict[str, Any] = {"required": True} if column.required else {}
    if column.kind is Kind.CHOICE:
        return _select(column.choices, column, attrs)
    if column.kind is Kind.YES_NO:
        return _select(YES_NO, column, attrs)
    if column.kind is Kind.REFERENCE and column.refers_to not in MANY and column.name not in register.target.makes:
        model: Any = field_of(register.target.model, column.name).related_model
        return _select(model.objects.order_by("key").values_list("key", flat=True), column, attrs)
    if column.kind is Kind.DATE:
        return DayInput(attrs)
    if column.name in LONG_TEXTS:
        return forms.Textarea(attrs={**attrs, "rows": 2})
    mode = NUMBERS.get(column.kind)
    return forms.TextInput(attrs={**attrs, **({"inputmode": mode} if mode else {})})


def _select(choices: Iterable[str], column: Column, attrs: dict[str, Any]) -> forms.Select:
    blank = [] if column.default else [("", "choose") if column.required else NOT_KNOWN_CHOICE]
    return forms.Select(attrs=attrs, choices=[*blank, *((one, one) for one in choices)])
