"""Cells to typed values, one function a kind; whole columns at once where their cells are all alike."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from inventory.core.days import HOW, DayError, moment_from_text
from inventory.core.saying import day_words
from inventory.workbook.columns import LEAST, Column, Kind
from inventory.workbook.numerals import AmbiguousNumberError, number_from_text

FIRST_DAY, LAST_DAY = date(1950, 1, 1), date(2199, 12, 31)  # outside of it a date is a slip of the pen
LONGEST_KEY, LONGEST_TEXT = 200, 32_767  # the second is what a spreadsheet's cell holds
DIGITS_KEPT = 15  # significant digits that a spreadsheet keeps
CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::00(?:\.0+)?)?\Z")
CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffe\uffff\ud800-\udfff]")
YES, NO = frozenset({"yes", "y", "true", "1"}), frozenset({"no", "n", "false", "0"})
HALF_MINUTE, DAY = timedelta(seconds=30), timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Why a cell cannot be read, and what to do."""

    code: str
    message: str
    remedy: str


def read_cells(column: Column, cells: list[object]) -> tuple[list[object], list[tuple[int, Fault]]]:
    """Return typed values, None for blank cells, and the position of every cell that cannot be read, with the reason."""
    blank = "" in cells
    given = [cell for cell in cells if cell != ""] if blank else cells
    if not given:
        return [None] * len(cells), []
    values = ALIKE[column.kind](column, given)
    if values is None:
        return _one_by_one(column, cells)
    if blank:
        rest = iter(values)
        values = [None if cell == "" else next(rest) for cell in cells]
    return values, []


def read_cell(column: Column, cell: object) -> object:
    """Return the value of one cell, None where it is blank, or a Fault."""
    if isinstance(cell, str):
        cell = cell.replace("\r\n", "\n").replace("\r", "\n").strip()
    return None if cell == "" else ONE[column.kind](column, cell)


def within_limits(column: Column, value: float | Decimal) -> Fault | None:
    """Return what is wrong with the size of a number, if anything is."""
    unit = f" {column.unit}" if column.unit else ""
    if column.lowest is not None and value < column.lowest:
        if column.lowest == 0:
            return Fault(code="below-zero", message="The number is below zero", remedy="give a number from 0 up")
        return Fault(
            code="too-low",
            message=f"The number is below {column.lowest:g}{unit}",
            remedy=f"give a number from {column.lowest:g} up",
        )
    if column.highest is not None and value > column.highest:
        return Fault(
            code="too-high",
            message=f"The number is above {column.highest:,g}{unit}",
            remedy=f"give a number up to {column.highest:,g}{unit}; check the unit",
        )
    if value and abs(float(value)) < LEAST:
        return Fault(
            code="too-small",
            message="The number is so small that it can mean nothing but zero",
            remedy="give 0 where it is none; leave the cell blank where it is not known",
        )
    return None


def _one_by_one(column: Column, cells: list[object]) -> tuple[list[object], list[tuple[int, Fault]]]:
    """Read each distinct cell once; the type stands beside the cell because True equals 1."""
    marked = list(zip(map(type, cells), cells, strict=True))
    read = {mark: read_cell(column, mark[1]) for mark in set(marked)}
    values = [read[mark] for mark in marked]
    faults = [(at, value) for at, value in enumerate(values) if isinstance(value, Fault)]
    for at, _ in faults:
        values[at] = None
    return values, faults


def _alike_texts(column: Column, cells: list[object]) -> list[object] | None:
    if set(map(type, cells)) != {str}:
        return None
    longest = LONGEST_TEXT if column.kind is Kind.TEXT else LONGEST_KEY
    together = f"|{'|'.join(cells)}|"  # type: ignore[arg-type]  # all are text
    if not together.isprintable() or "| " in together or " |" in together or max(map(len, cells)) > longest:  # type: ignore[arg-type]
        return None
    return cells


def _alike_numbers(column: Column, cells: list[object]) -> list[object] | None:
    if set(map(type, cells)) != {float} or not math.isfinite(sum(cells)):  # type: ignore[arg-type]
        return None
    return cells if _within(column, cells) else None


def _alike_wholes(column: Column, cells: list[object]) -> list[object] | None:
    numbers = _alike_numbers(column, cells)
    if numbers is None:
        return None
    wholes: list[object] = [*map(int, numbers)]  # type: ignore[arg-type]  # all are floats
    return wholes if wholes == numbers else None


def _alike_dates(_: Column, cells: list[object]) -> list[object] | None:
    if set(map(type, cells)) != {date}:
        return None
    return cells if min(cells) >= FIRST_DAY and max(cells) <= LAST_DAY else None  # type: ignore[type-var,operator]


def _never_alike(_: Column, __: list[object]) -> list[object] | None:
    """Leave it to the reading of each distinct cell: few are distinct in columns of these kinds."""
    return None


def _within(column: Column, cells: list[object]) -> bool:
    low, high = min(cells), max(cells)  # type: ignore[type-var]
    least = min(map(abs, filter(None, cells)), default=0.0)  # type: ignore[arg-type]
    return not any(within_limits(column, value) for value in (low, high, least))  # type: ignore[arg-type]


def _text(_: Column, cell: object) -> str | Fault:
    text = plain_text(cell)
    return _fit(text, LONGEST_TEXT)


def _name(column: Column, cell: object) -> str | Fault:
    """Return the text of a cell that names something; what a spreadsheet turned into something else is refused."""
    if isinstance(cell, date | time | timedelta | bool):
        return Fault(
            code="key-changed",
            message="The spreadsheet took this key for a date, a time or a truth value",
            remedy="format the column as text and write the key again",
        )
    if isinstance(cell, float) and abs(cell) >= 10**DIGITS_KEPT:
        return Fault(
            code="key-changed",
            message=f"The key is a number of more than {DIGITS_KEPT} digits; the spreadsheet has lost the last ones",
            remedy="format the column as text and write the key again",
        )
    if isinstance(cell, float) and not math.isfinite(cell):
        return _wrong_kind(column)
    return _fit(plain_text(cell), LONGEST_KEY)


def plain_text(cell: object) -> str:
    """Return a cell as people would write it."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 10**DIGITS_KEPT else repr(cell)
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ", timespec="minutes")
    if isinstance(cell, time):
        return cell.isoformat("minutes")
    return str(cell)


def _fit(text: str, longest: int) -> str | Fault:
    if CONTROL.search(text):
        return Fault(
            code="control-character",
            message="The text holds a character that cannot be shown or stored in a workbook",
            remedy="write the text again",
        )
    if len(text) > longest:
        return Fault(
            code="too-long",
            message=f"The text has {len(text):,} characters; the most is {longest:,}",
            remedy="shorten it",
        )
    return text


def _choice(column: Column, cell: object) -> str | Fault:
    text = " ".join(plain_text(cell).split()).casefold()
    for choice in column.choices:
        if choice.casefold() == text:
            return choice
    listed = ", ".join(column.choices)
    return Fault(code="not-a-choice", message=f"This must be one of: {listed}", remedy=f"choose one of: {listed}")


def _yes_no(_: Column, cell: object) -> bool | Fault:
    text = plain_text(cell).casefold()
    if text in YES or text in NO:
        return text in YES
    return Fault(code="not-yes-or-no", message="This must be yes or no", remedy="write yes or no, or leave it blank")


def _decimal(column: Column, cell: object) -> Decimal | Fault:
    """Return any number exactly as the spreadsheet means it."""
    if isinstance(cell, float):
        return Decimal(repr(cell)) if math.isfinite(cell) else _wrong_kind(column)
    if not isinstance(cell, str):
        return _wrong_kind(column)
    try:
        number = number_from_text(cell)
    except AmbiguousNumberError:
        return Fault(
            code="ambiguous-number",
            message="This can be read in two ways: with a decimal comma, or with a comma between thousands",
            remedy="write the number as a number, or as text with a decimal point",
        )
    return _wrong_kind(column) if number is None else number


def _number(column: Column, cell: object) -> float | Fault:
    number = _decimal(column, cell)
    if isinstance(number, Fault):
        return number
    if not math.isfinite(float(number)):
        return _wrong_kind(column)
    return within_limits(column, number) or float(number)


def _whole(column: Column, cell: object) -> int | Fault:
    number = _decimal(column, cell)
    if isinstance(number, Fault):
        return number
    fault = within_limits(column, number)
    if fault is None and number != number.to_integral_value():
        fault = Fault(code="not-whole", message="This must be a whole number", remedy="give a number without decimals")
    return fault or int(number)


def _amount(column: Column, cell: object) -> Decimal | Fault:
    """Return money or counted goods; the noise behind a spreadsheet's fifteenth digit is not part of the figure."""
    number = _decimal(column, cell)
    if isinstance(number, Fault):
        return number
    fault = within_limits(column, number)
    if fault is not None:
        return fault
    if isinstance(cell, float) and _places(number) > column.decimals:
        number = Decimal(f"{cell:.{DIGITS_KEPT}g}")
    if _places(number) > column.decimals:
        return Fault(
            code="too-many-decimals",
            message=f"At most {column.decimals} decimals are kept here",
            remedy=f"round the number to {column.decimals} decimals",
        )
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number.normalize()


def _places(number: Decimal) -> int:
    exponent = number.normalize().as_tuple().exponent
    return -exponent if isinstance(exponent, int) and exponent < 0 else 0


def _date(column: Column, cell: object) -> date | Fault:
    if isinstance(cell, str):
        cell = _from_text(cell)
    if isinstance(cell, datetime):
        cell = cell.date()
    if isinstance(cell, Fault):
        return cell
    return _plausible(cell) if isinstance(cell, date) else _wrong_kind(column)


def _plausible(day: date) -> date | Fault:
    if FIRST_DAY <= day <= LAST_DAY:
        return day
    return Fault(
        code="date-out-of-range",
        message=f"Dates must lie between {day_words(FIRST_DAY)} and {day_words(LAST_DAY)}",
        remedy=f"check the year; {HOW}",
    )


def _from_text(text: str) -> object:
    """Return the day that a text names, with its time of day; a Fault where there is no such day, the text where it is none."""
    try:
        return moment_from_text(text) or text
    except DayError as error:
        return Fault(code=error.code, message=str(error), remedy=error.remedy)


def _moment(column: Column, cell: object) -> str | Fault:
    """Return a local date and time to the minute; a spreadsheet's 08:00 may be a hair before it."""
    if isinstance(cell, str):
        cell = _from_text(cell)
    if isinstance(cell, Fault):
        return cell
    if isinstance(cell, date) and not isinstance(cell, datetime):
        cell = datetime.combine(cell, time())
    if not isinstance(cell, datetime):
        return _wrong_kind(column)
    day = _plausible(cell.date())
    return day if isinstance(day, Fault) else f"{cell + HALF_MINUTE:%Y-%m-%d %H:%M}"


def _clock(column: Column, cell: object) -> time | Fault:
    """Return a time of day to the minute; 24:00 is midnight."""
    if isinstance(cell, str):
        match = CLOCK.match(cell)
        cell = timedelta(hours=int(match[1]), minutes=int(match[2])) if match and int(match[2]) < 60 else cell  # noqa: PLR2004
    if isinstance(cell, datetime):
        cell = cell.time()
    if isinstance(cell, time):
        cell = timedelta(hours=cell.hour, minutes=cell.minute, seconds=cell.second, microseconds=cell.microsecond)
    if not isinstance(cell, timedelta) or not timedelta() <= cell <= DAY:
        return _wrong_kind(column)
    minutes = int((cell + HALF_MINUTE) / timedelta(minutes=1)) % (24 * 60)
    return time(minutes // 60, minutes % 60)


WANTED = {  # kind -> what a cell must be, and how to write it
    Kind.NUMBER: ("a number", "write a number without its unit"),
    Kind.WHOLE: ("a whole number", "write a whole number"),
    Kind.DECIMAL: ("a number", "write a number without its unit"),
    Kind.MONEY: ("an amount of money", "write a number without a currency sign"),
    Kind.DATE: ("a date", HOW),
    Kind.MOMENT: (
        "a date with a time of day, local",
        "write it as 1 Mar 2027, 08:00, or 2027-03-01 08:00, without a time zone",
    ),
    Kind.CLOCK: ("a time of day", "write it as 21:00"),
}


def _wrong_kind(column: Column) -> Fault:
    what, remedy = WANTED.get(column.kind, ("text", "format the cell as text and write it again"))
    return Fault(code="wrong-kind", message=f"This must be {what}", remedy=remedy)


ONE: dict[Kind, Callable[[Column, object], object]] = {
    Kind.KEY: _name,
    Kind.REFERENCE: _name,
    Kind.TEXT: _text,
    Kind.CHOICE: _choice,
    Kind.YES_NO: _yes_no,
    Kind.NUMBER: _number,
    Kind.WHOLE: _whole,
    Kind.DECIMAL: _amount,
    Kind.MONEY: _amount,
    Kind.DATE: _date,
    Kind.MOMENT: _moment,
    Kind.CLOCK: _clock,
}
ALIKE: dict[Kind, Callable[[Column, list[object]], list[object] | None]] = {
    **dict.fromkeys(ONE, _never_alike),
    Kind.KEY: _alike_texts,
    Kind.REFERENCE: _alike_texts,
    Kind.TEXT: _alike_texts,
    Kind.NUMBER: _alike_numbers,
    Kind.WHOLE: _alike_wholes,
    Kind.DATE: _alike_dates,
}
