"""What a column and a sheet of the workbook are; everything that reads, checks or writes goes by these."""

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a cell of a column holds."""

    KEY = "key"  # text that names the row; 007 stays 007
    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole number"
    MONEY = "money"  # decimal, never a float
    DATE = "date"
    MOMENT = "date and time"  # local to the row's building, or to the campus
    CLOCK = "time of day"
    YES_NO = "yes or no"
    CHOICE = "one of a list"
    REFERENCE = "key on another sheet"


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherUnit:
    """A second heading under which a column is read, and the factor to the column's own unit."""

    heading: str
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of one sheet.

    `name` is the field it fills, the same in rows and in tables. `refers_to` is the code of the sheet whose key a
    reference names; `within` is the column of this row that completes a key of two parts (a room in its building).
    """

    name: str
    heading: str
    kind: Kind
    meaning: str
    example: str
    unit: str | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    refers_to: str | None = None
    within: str | None = None
    lowest: float | None = 0.0
    highest: float | None = None
    other_units: tuple[OtherUnit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet: its code, its title as written on the tab, its columns and which of them name a row."""

    code: str
    title: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column:
        """Return the column that fills the field `name`; KeyError if there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        message = f"sheet {self.title} has no column {name}"
        raise KeyError(message)
