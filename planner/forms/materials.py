"""Ordering parts, taking deliveries, expecting them on another day; the list of what to order, narrowed."""

from decimal import Decimal

from django import forms

from inventory.forms import DayField
from inventory.models import Part
from inventory.services.stock import Ordered
from inventory.workbook.columns import MOST

LEAST = Decimal("0.0001")


def _quantity(label: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        min_value=LEAST,
        max_value=Decimal(MOST),
        decimal_places=4,
        max_digits=16,
        error_messages={"min_value": "Enter more than 0.", "required": "Enter how many."},
    )


class OnceForm(forms.Form):
    """A form that counts once, by its token."""

    token = forms.UUIDField(widget=forms.HiddenInput)


class OrderedForm(OnceForm):
    """That a part is ordered."""

    part = forms.ModelChoiceField(
        Part.objects.all(),
        to_field_name="key",
        widget=forms.HiddenInput,
        error_messages={"invalid_choice": "This part is not on file any more."},
    )
    quantity = _quantity("Units ordered")
    due = DayField(label="Expected on")
    reference = forms.CharField(label="Reference", required=False, max_length=200)

    def ordered(self) -> Ordered:
        """Return what was ordered."""
        asked = self.cleaned_data
        return Ordered(
            part=asked["part"], quantity=asked["quantity"], due=asked["due"], reference=asked["reference"] or None
        )


class DeliveredForm(OnceForm):
    """That a delivery has come, whole or in part."""

    quantity = _quantity("Units that came")


class ExpectedForm(forms.Form):
    """On which day a delivery is expected."""

    due = DayField(label="Expected on")


def told(error: forms.ValidationError, form: forms.Form) -> None:
    """Put what a service refused beside the fields it is about."""
    if hasattr(error, "error_dict"):
        for name, problems in error.error_dict.items():
            form.add_error(name if name in form.fields else None, problems)
    else:
        form.add_error(None, error)
