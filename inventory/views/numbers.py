"""Numbers of rows as they come in addresses and forms, where anything may stand."""

LONGEST = 18  # digits that the database can hold


def row_number(text: str) -> int | None:
    """Return the number of a row, None where the text is none that a row can have.

    Examples
    --------
    >>> row_number("12"), row_number("²"), row_number("-1"), row_number("9" * 5000)
    (12, None, None, None)

    """
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= LONGEST else None
