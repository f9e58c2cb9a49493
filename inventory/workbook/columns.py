"""What a column and a sheet of the workbook are; everything that reads, checks or writes goes by these."""

from dataclasses import dataclass
from enum import StrEnum

FOOT_M = 0.3048  # exact, international foot (1959)
LONGEST_RUN_M = 100_000.0  # a longer figure is a slip of the pen
MOST = 1_000_000_000  # no amount of money or goods on a campus comes near, nor any figure in the units of the columns
LEAST = 1e-9  # what is less and not 0 is no figure that anybody measured
MOST_COUNT = 1_000_000  # nor any count


class Kind(StrEnum):
    """What a cell of a column holds."""

    KEY = "key"  # text that names the row; 007 stays 007
    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole number"
    DECIMAL = "decimal number"  # counted goods; decimal, never a float
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
    `decimals` is the most places behind the point that money and decimal numbers may have. `default` is what a blank
    cell stands for, in the few columns where that is not "not known".
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
    decimals: int = 4
    default: str | None = None


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


def key_column(heading: str, meaning: str, example: str) -> Column:
    """Return the column that names the rows of a sheet."""
    return Column(name="key", heading=heading, kind=Kind.KEY, required=True, meaning=meaning, example=example)


def text_column(name: str, heading: str, meaning: str, example: str, *, required: bool = False) -> Column:
    """Return a column of free text."""
    return Column(name=name, heading=heading, kind=Kind.TEXT, meaning=meaning, example=example, required=required)


def number_column(
    name: str,
    heading: str,
    unit: str | None,
    meaning: str,
    example: str,
    *,
    highest: float = MOST,
    lowest: float | None = 0.0,
) -> Column:
    """Return a column of measured numbers."""
    return Column(
        name=name,
        heading=heading,
        kind=Kind.NUMBER,
        unit=unit,
        meaning=meaning,
        example=example,
        lowest=lowest,
        highest=highest,
    )


def metres_column(name: str, stem: str, meaning: str, example: str) -> Column:
    """Return a column of lengths that is read in feet too."""
    return Column(
        name=name,
        heading=f"{stem} (m)",
        kind=Kind.NUMBER,
        unit="m",
        meaning=meaning,
        example=example,
        highest=LONGEST_RUN_M,
        other_units=(OtherUnit(heading=f"{stem} (ft)", factor=FOOT_M),),
    )


def whole_column(
    name: str,
    heading: str,
    meaning: str,
    example: str,
    *,
    unit: str | None = None,
    required: bool = False,
    lowest: float = 0,
    highest: float = MOST_COUNT,
) -> Column:
    """Return a column of counts."""
    return Column(
        name=name,
        heading=heading,
        kind=Kind.WHOLE,
        unit=unit,
        meaning=meaning,
        example=example,
        required=required,
        lowest=lowest,
        highest=highest,
    )


def amount_column(
    name: str,
    heading: str,
    kind: Kind,
    meaning: str,
    example: str,
    *,
    unit: str | None = None,
    required: bool = False,
    highest: float = MOST,
    decimals: int = 4,
) -> Column:
    """Return a column of money or counted goods, kept as decimals."""
    return Column(
        name=name,
        heading=heading,
        kind=kind,
        unit=unit,
        meaning=meaning,
        example=example,
        required=required,
        highest=highest,
        decimals=decimals,
    )


def date_column(name: str, heading: str, meaning: str, example: str, *, required: bool = False) -> Column:
    """Return a column of days."""
    return Column(name=name, heading=heading, kind=Kind.DATE, meaning=meaning, example=example, required=required)


def moment_column(name: str, heading: str, meaning: str, example: str) -> Column:
    """Return a column of local dates with a time of day."""
    return Column(name=name, heading=heading, kind=Kind.MOMENT, meaning=meaning, example=example, required=True)


def clock_column(name: str, heading: str, meaning: str, example: str) -> Column:
    """Return a column of times of day."""
    return Column(name=name, heading=heading, kind=Kind.CLOCK, meaning=meaning, example=example)


def yes_no_column(name: str, heading: str, meaning: str, example: str = "yes") -> Column:
    """Return a column of yes or no."""
    return Column(name=name, heading=heading, kind=Kind.YES_NO, meaning=meaning, example=example)


def choice_column(
    name: str,
    heading: str,
    choices: tuple[str, ...],
    meaning: str,
    example: str,
    *,
    required: bool = False,
    default: str | None = None,
) -> Column:
    """Return a column that holds one of a list."""
    return Column(
        name=name,
        heading=heading,
        kind=Kind.CHOICE,
        choices=choices,
        meaning=meaning,
        example=example,
        required=required,
        default=default,
    )


def reference_column(
    name: str,
    heading: str,
    refers_to: str,
    meaning: str,
    example: str,
    *,
    required: bool = False,
    within: str | None = None,
) -> Column:
    """Return a column that names a row of another sheet."""
    return Column(
        name=name,
        heading=heading,
        kind=Kind.REFERENCE,
        refers_to=refers_to,
        within=within,
        meaning=meaning,
        example=example,
        required=required,
    )
