"""The price below which ways out are taken."""

from decimal import Decimal

from django import forms


class BelowForm(forms.Form):
    """Ask for a price in the brief's currency."""

    below = forms.DecimalField(
        label="Less than",
        min_value=Decimal("0.01"),
        max_digits=14,
        decimal_places=2,
        error_messages={
            "required": "Write the price below which ways out are taken.",
            "invalid": "The price is not a number. Write one such as 2500.",
            "min_value": "The price must be above zero.",
            **dict.fromkeys(
                ("max_digits", "max_decimal_places", "max_whole_digits"), "The price is no price: write 2500."
            ),
        },
    )
