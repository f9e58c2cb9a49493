"""One row as people type it into a form: each field by its column of the table, read and refused as a cell would be."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from inventory.core.saying import day_words, moment_words
from inventory.workbook.cells import Fault, plain_text, read_cell
from inventory.workbook.columns import Column, Kind, Sheet


def written(value: object, kind: Kind | None = None) -> str:
    """Return a value as people write it, so that it reads back the same; nothing where it is not known.

    Examples
    --------
    >>> written(38.0), written(Decimal("7.4000")), written(None), written(True)
    ('38', '7.4', '', 'yes')
    >>> written(date(2027, 3, 2)), written("2027-03-02 08:00", Kind.MOMENT)
    ('2 Mar 2027', '2 Mar 2027, 08:00')

    """
    if value is None:
        return ""
    if isinstance(value, Decimal):
        text = f"{value:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    if kind is Kind.MOMENT and isinstance(value, str):
        return moment_words(datetime.fromisoformat(value))
    if isinstance(value, date) and not isinstance(value, datetime):
        return day_words(value)
    return plain_text(value)


def read_texts(sheet: Sheet, texts: Mapping[str, str]) -> tuple[dict[str, object], dict[str, str]]:
    """Return the value of every column, None where it is blank, and in words what is wrong with which column.

    Examples
    --------
    >>> from inventory.workbook.sheets import RUNS
    >>> values, faults = read_texts(RUNS, {"key": "R-12", "bus": "L1", "from_node": "a", "to_node": "b", "length_m": "x"})
    >>> values["length_m"], faults
    (None, {'length_m': 'This must be a number: write a number without its unit.'})

    """
    values: dict[str, object] = {}
    faults: dict[str, str] = {}
    for column in sheet.columns:
        value = read_cell(column, texts.get(column.name, ""))
        if isinstance(value, Fault):
            faults[column.name], value = f"{value.message}: {value.remedy}.", None
        elif value is None and column.required:
            faults[column.name] = _needed(column)
        values[column.name] = column.default if value is None else value
    return values, faults


def _needed(column: Column) -> str:
    return f"{column.heading} is needed: fill it in, for example {column.example}."
