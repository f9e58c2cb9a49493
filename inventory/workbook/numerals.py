"""Numbers that were stored as text: which are plain, which can be read in one way only, which cannot be told."""

import re
from decimal import Decimal

SPACES = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2212": "-", "\u2019": " ", "'": " "})
PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?\Z")
COULD_BE_EITHER = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}\Z")
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+\Z")
GROUPS = (  # how groups of thousands are written, and the sign that separates them
    (re.compile(r"[+-]?[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+\.[0-9]+|(?:,[0-9]{3}){2,})\Z"), ","),
    (re.compile(r"[+-]?[1-9][0-9]{0,2}(?:(?:\.[0-9]{3})+,[0-9]+|(?:\.[0-9]{3}){2,})\Z"), "."),
    (re.compile(r"[+-]?[1-9][0-9]{0,2}(?: [0-9]{3})+(?:[.,][0-9]+)?\Z"), " "),
)


class AmbiguousNumberError(ValueError):
    """A text that is one number to one reader and another to the next."""


def number_from_text(text: str) -> Decimal | None:
    """Return the number a text stands for, or None where it stands for none.

    Parameters
    ----------
    text : str
        As it stands in the cell.

    Returns
    -------
    decimal.Decimal or None
        The number; a decimal comma is read where it cannot be a separator of thousands.

    Raises
    ------
    AmbiguousNumberError
        For `1,234`, which is 1.234 or 1234.

    References
    ----------
    Groups of three, either sign as decimal marker: ISO 80000-1:2022, 7.3 (from memory).

    Examples
    --------
    >>> number_from_text("1,5"), number_from_text("1.234,5"), number_from_text("12 ohm")
    (Decimal('1.5'), Decimal('1234.5'), None)

    """
    text = text.translate(SPACES).strip()
    if PLAIN.match(text):
        return Decimal(text)
    if COULD_BE_EITHER.match(text):
        raise AmbiguousNumberError(text)
    if DECIMAL_COMMA.match(text):
        return Decimal(text.replace(",", "."))
    for pattern, separator in GROUPS:
        if pattern.match(text):
            return Decimal(text.replace(separator, "").replace(",", "."))
    return None
