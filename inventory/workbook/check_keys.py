"""Keys that are numbers: a spreadsheet drops zeros at their ends, and `0.10` comes as `0.1`."""

import re
from collections.abc import Iterable

from inventory.core.problems import Severity
from inventory.workbook.judge import Judge, Verdict

NUMBER = re.compile(r"0*(?P<whole>[0-9]+)(?:\.(?P<rest>[0-9]*?)0*)?\Z")


def without_zeros(key: object) -> tuple[object, ...] | None:
    """Return a key as a spreadsheet keeps it that takes it for a number; None where it is no number.

    Examples
    --------
    >>> without_zeros(("B01", "0.10")), without_zeros("007"), without_zeros("1.0") == without_zeros("1")
    (('B01', '0', '1'), ('7', ''), True)
    >>> without_zeros("0.1a")

    """
    *owner, last = key if isinstance(key, tuple) else (key,)
    match = NUMBER.match(last) if isinstance(last, str) else None
    return None if match is None else (*owner, match["whole"], match["rest"] or "")


def by_number(keys: Iterable[object]) -> dict[tuple[object, ...], str]:
    """Return the keys that are numbers, as they are written, by the number that a spreadsheet makes of them."""
    found = {}
    for key in keys:
        number = without_zeros(key)
        if number is not None:
            found[number] = str(key[-1] if isinstance(key, tuple) else key)
    return found


def lost_zeros(judge: Judge) -> None:
    """Warn of a new key that is the same number as one on record: the spreadsheet may have dropped its zeros."""
    for rows in judge.rows.sheets.values():
        stored = judge.known.keys.get(rows.sheet.code)
        if not stored or rows.sheet.key[-1] not in rows.columns:
            continue
        fresh = [(at, key) for at, key in enumerate(rows.keys()) if key not in stored]
        numbers = by_number(stored) if any(without_zeros(key) for _, key in fresh) else {}
        for at, key in fresh:
            number = without_zeros(key)
            if number in numbers:
                judge.tell(
                    rows,
                    at,
                    rows.sheet.key[-1],
                    _lost(str(key[-1] if isinstance(key, tuple) else key), numbers[number]),
                )


def _lost(key: str, stored: str) -> Verdict:
    return Verdict(
        code="lost-zeros",
        message=f"{key} would be new, and {stored} is on record: spreadsheets drop such zeros from what they take for a number",
        remedy=f"if {stored} is meant, format the column as text and write it again; otherwise leave it as it is",
        severity=Severity.WARNING,
    )
