"""What a column and a table of the hand-over are; the workbook writer and the pages go by these."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Generic, TypeVar

Value = str | int | float | Decimal | date | datetime | None
Row = TypeVar("Row")


class Shape(StrEnum):
    """How a value is written."""

    TEXT = "text"
    LONG_TEXT = "text over several lines"
    WHOLE = "whole number"
    NUMBER = "number"
    QUANTITY = "quantity"
    MONEY = "money"
    SHARE = "share"
    DATE = "date"
    MOMENT = "date and time"


NUMBER_FORMATS = {
    Shape.TEXT: "@",
    Shape.LONG_TEXT: "@",
    Shape.WHOLE: "#,##0",
    Shape.NUMBER: "#,##0.0##",
    Shape.QUANTITY: "#,##0.###",
    Shape.SHARE: "0.0%",
    Shape.DATE: "d mmm yyyy",
    Shape.MOMENT: "ddd d mmm yyyy hh:mm",
}


def money_format(currency: str) -> str:
    """Return the number format of amounts in a currency.

    Examples
    --------
    >>> money_format("EUR")
    '#,##0.00 [$EUR]'

    """
    return f"#,##0.00 [${currency}]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column(Generic[Row]):
    """One column: a value of each row (`get`) or a live formula of other cells of the row (`formula`).

    In `formula` the names in braces stand for the row's cells: `={packs}*{pack}`. `total` asks for a total below; of
    money there is one total for each currency, since two currencies are never added.
    """

    name: str
    heading: str
    width: int  # characters
    shape: Shape
    get: Callable[[Row], Value] | None = None
    formula: str | None = None
    total: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table(Generic[Row]):
    """One sheet: its columns and its rows. `currency` tells the currency of a row's money."""

    title: str
    columns: tuple[Column[Row], ...]
    rows: tuple[Row, ...]
    currency: Callable[[Row], str | None] | None = None
    empty: str = "nothing to list"

    def place(self, name: str) -> int:
        """Return the number of the column called `name`, from 1; KeyError if there is none."""
        for number, column in enumerate(self.columns, start=1):
            if column.name == name:
                return number
        raise KeyError(name)

    @property
    def last_row(self) -> int:
        """Row number of the last row on the sheet; the headings are row 1, and an empty table keeps one row free."""
        return 1 + max(len(self.rows), 1)

    @property
    def currencies(self) -> tuple[str, ...]:
        """Currencies that occur, sorted."""
        if self.currency is None:
            return ()
        return tuple(sorted({code for row in self.rows if (code := self.currency(row)) is not None}))
