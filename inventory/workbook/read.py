"""A workbook's bytes to typed rows; whatever is wrong with the file, a sheet or a cell becomes a problem, never an exception."""

import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from operator import itemgetter

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from inventory.core.problems import Severity
from inventory.workbook.cells import DIGITS_KEPT, Fault, read_cells, within_limits
from inventory.workbook.columns import Column, OtherUnit, Sheet
from inventory.workbook.gather import Gathered
from inventory.workbook.package import PackageError, look_at
from inventory.workbook.rows import SheetRows, WorkbookRows
from inventory.workbook.sheets import SHEETS
from inventory.workbook.suspects import Suspects, look_closely

NOTES_TITLE, PROBLEMS_TITLE, SURVEY_TITLE = (
    "Notes",
    "Problems",
    "Survey",
)  # sheets that the writer adds for people; the reader passes them by
AGREE_M, AGREE_PART = 0.05, 0.005  # two figures for one length agree within 5 cm or half a per cent
LETTERS = 26


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a column of the table stands in the file, and in which unit."""

    at: int
    column: Column
    other: OtherUnit | None = None

    @property
    def heading(self) -> str:
        """The heading as in the table."""
        return self.other.heading if self.other else self.column.heading


@dataclass(slots=True, kw_only=True)
class _Table:
    """One sheet while it is read."""

    sheet: Sheet
    found: Gathered
    suspects: Suspects
    rows: list[list[object]]
    numbers: list[int] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    excused: set[tuple[int, int]] = field(default_factory=set)  # (row, column at) of cells that were refused already

    def add(self, fault: Fault, row: int | None, heading: str | None, value: object = None) -> None:
        self.found.add(
            fault.code, fault.message, fault.remedy, sheet=self.sheet.title, row=row, column=heading, value=value
        )


def read_workbook(content: bytes, sheets: tuple[Sheet, ...] = SHEETS) -> WorkbookRows:
    """Return every row of every known sheet, with the problems met on the way; a bad file gives problems and no rows."""
    found = Gathered()
    parts = look_at(content, found)
    if parts is None:
        return WorkbookRows(problems=found.told())
    try:
        suspects = look_closely(content, parts)
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    except PackageError as error:
        found.add(error.code, str(error), error.remedy)
        return WorkbookRows(problems=found.told())
    except (CalamineError, ValueError, OSError) as error:
        _unreadable(found, error)
        return WorkbookRows(problems=found.told())
    return _read_sheets(book, sheets, suspects, found)


def _read_sheets(
    book: CalamineWorkbook, sheets: tuple[Sheet, ...], suspects: Mapping[str, Suspects], found: Gathered
) -> WorkbookRows:
    by_title = {plain(sheet.title): sheet for sheet in sheets}
    read: dict[str, SheetRows] = {}
    unknown_columns: list[tuple[str, str]] = []
    unknown_sheets: list[str] = []
    for title in book.sheet_names:
        sheet = by_title.get(plain(title))
        if sheet is None:
            unknown_sheets.append(title)
            continue
        if sheet.code in read:
            _twice(found, sheet)
            continue
        rows, unknown = _read_sheet(book, title, sheet, suspects.get(title, Suspects()), found)
        unknown_columns += [(sheet.title, heading) for heading in unknown]
        if rows is not None:
            read[sheet.code] = rows
    strangers = _strangers(unknown_sheets, bool(set(map(plain, book.sheet_names)) & set(by_title)), found)
    ordered = {sheet.code: read[sheet.code] for sheet in sheets if sheet.code in read}
    return WorkbookRows(
        sheets=ordered, problems=found.told(), unknown_columns=tuple(unknown_columns), unknown_sheets=strangers
    )


def plain(text: str) -> str:
    """Return a title or heading without the differences that do not matter."""
    return " ".join(text.split()).casefold()


def _strangers(titles: list[str], some_known: bool, found: Gathered) -> tuple[str, ...]:  # noqa: FBT001
    passed_by = {plain(title) for title in (NOTES_TITLE, PROBLEMS_TITLE, SURVEY_TITLE)}
    strangers = tuple(title for title in titles if plain(title) not in passed_by)
    if not some_known:
        found.add(
            "no-known-sheet",
            "No sheet of this workbook has a title that is known",
            "name the sheets as in the blank workbook",
            value=", ".join(titles),
        )
        return strangers
    for title in strangers:
        found.add(
            "unknown-sheet",
            "A sheet of this title is not known and was passed by",
            "name it as in the blank workbook if it belongs to the inventory",
            sheet=title,
            severity=Severity.WARNING,
        )
    return strangers


def _twice(found: Gathered, sheet: Sheet) -> None:
    found.add(
        "sheet-twice",
        "Two sheets have this title",
        "put all rows on one of them and delete the other",
        sheet=sheet.title,
    )


def _unreadable(found: Gathered, error: Exception, sheet: str | None = None) -> None:
    found.add(
        "damaged",
        "The workbook is damaged and cannot be read",
        "open it in the spreadsheet, save it again and try once more",
        sheet=sheet,
        value=str(error),
    )


def _read_sheet(
    book: CalamineWorkbook, title: str, sheet: Sheet, suspects: Suspects, found: Gathered
) -> tuple[SheetRows | None, tuple[str, ...]]:
    try:
        raw = book.get_sheet_by_name(title)
        rows: list[list[object]] = raw.to_python(skip_empty_area=False)  # type: ignore[assignment]
    except (CalamineError, ValueError, OSError) as error:
        _unreadable(found, error, sheet.title)
        return None, ()
    if not rows:
        return None, ()
    table = _Table(sheet=sheet, found=found, suspects=suspects, rows=rows)
    _refuse_merged(raw, table)
    unknown = _find_places(table)
    _drop_blank_rows(table)
    _refuse_suspects(table)
    columns = _columns(table)
    return SheetRows(sheet=sheet, numbers=table.numbers, columns=columns), unknown


def _find_places(table: _Table) -> tuple[str, ...]:
    """Find where each column stands; return the headings that are not known."""
    wanted = {plain(column.heading): (column, None) for column in table.sheet.columns}
    wanted |= {plain(other.heading): (column, other) for column in table.sheet.columns for other in column.other_units}  # type: ignore[misc]
    unknown: list[str] = []
    taken: set[str] = set()
    for at, cell in enumerate(table.rows[0]):
        heading = plain(str(cell))
        if heading in taken and heading in wanted:
            fault = Fault(
                code="heading-twice", message="Two columns have this heading", remedy="rename one or delete it"
            )
            table.add(fault, 1, str(cell).strip())
        elif heading in wanted:
            column, other = wanted[heading]
            table.places.append(Place(at=at, column=column, other=other))
            taken.add(heading)
        elif heading or _has_content(table.rows, at):
            unknown.append(str(cell).strip() or f"column {letters(at)}")
    _require_headings(table)
    return tuple(unknown)


def _has_content(rows: list[list[object]], at: int) -> bool:
    return any(row[at] != "" for row in rows)


def _require_headings(table: _Table) -> None:
    present = {place.column.name for place in table.places}
    for column in table.sheet.columns:
        if column.required and column.name not in present:
            fault = Fault(
                code="heading-missing",
                message=f"The column {column.heading} is needed and is not there",
                remedy=f"write the heading {column.heading} in row 1 and fill the column",
            )
            table.add(fault, 1, column.heading)


def letters(at: int) -> str:
    """Return the letters of a column from its position, counted from 0.

    Examples
    --------
    >>> letters(0), letters(25), letters(26), letters(16383)
    ('A', 'Z', 'AA', 'XFD')

    """
    text = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, LETTERS)
        text = chr(ord("A") + rest) + text
    return text


def _refuse_merged(raw: CalamineSheet, table: _Table) -> None:
    for (top, left), (bottom, right) in raw.merged_cell_ranges or ():
        fault = Fault(
            code="merged-headings" if top == 0 else "merged-cells",
            message=f"Cells {letters(left)}{top + 1} to {letters(right)}{bottom + 1} are merged, so it cannot be told to which row or column they belong",
            remedy="unmerge the cells and fill in each one",
        )
        table.add(fault, top + 1, None)


def _drop_blank_rows(table: _Table) -> None:
    """Keep the rows that hold anything, with the numbers the spreadsheet shows."""
    body = table.rows[1:]
    anchors = [place.at for place in table.places if place.column.required]
    maybe = (
        [at for at, cell in enumerate(map(itemgetter(anchors[0]), body)) if not cell or cell == " "]
        if anchors
        else range(len(body))
    )
    blank = {at for at in maybe if not any(_holds(cell) for cell in body[at])}
    table.numbers = [at + 2 for at in range(len(body)) if at not in blank] if blank else [*range(2, len(body) + 2)]
    table.rows = [row for at, row in enumerate(body) if at not in blank] if blank else body


def _holds(cell: object) -> bool:
    return bool(cell.strip()) if isinstance(cell, str) else True


def _refuse_suspects(table: _Table) -> None:
    """Name the cells that the file holds no value for although they look filled."""
    headings = {place.at: place.heading for place in table.places}
    uncalculated = Fault(
        code="formula-without-value",
        message="The cell holds a formula whose result was never calculated",
        remedy="open the workbook in the spreadsheet, let it calculate, and save it; or replace the formula by its value",
    )
    failed = Fault(
        code="error-cell",
        message="The cell holds an error of the spreadsheet",
        remedy="mend the formula or write the value",
    )
    cells = [(row, column, uncalculated, "formula") for row, column in table.suspects.uncalculated]
    cells += [(row, column, failed, text) for row, column, text in table.suspects.errors]
    for row, column, fault, text in cells:
        if row == 1 or column - 1 in headings:
            table.add(fault, row, headings.get(column - 1), text)
            table.excused.add((row, column - 1))


def _columns(table: _Table) -> dict[str, list[object]]:
    columns: dict[str, list[object]] = {}
    for column in table.sheet.columns:
        places = [place for place in table.places if place.column is column]
        read = [_read_place(table, place) for place in places]
        if not read:
            continue
        values = read[0] if len(read) == 1 else _agreed(table, places, read)
        if column.required:
            _require_values(table, places[0], values)
        columns[column.name] = values if column.default is None else [value or column.default for value in values]
    return columns


def _read_place(table: _Table, place: Place) -> list[object]:
    cells = [*map(itemgetter(place.at), table.rows)]
    if place.other is None:
        values, faults = read_cells(place.column, cells)
    else:
        values, faults = _converted(place, place.other.factor, cells)
    for at, fault in faults:
        table.add(fault, table.numbers[at], place.heading, cells[at])
        table.excused.add((table.numbers[at], place.at))
    return values


def _converted(place: Place, factor: float, cells: list[object]) -> tuple[list[object], list[tuple[int, Fault]]]:
    """Read a column in its other unit and convert it to its own, whose limits count."""
    values, faults = read_cells(replace(place.column, lowest=None, highest=None), cells)
    # to the digits that a spreadsheet keeps: what is written out again must come back the same
    converted = [float(f"{value * factor:.{DIGITS_KEPT}g}") if isinstance(value, float) else None for value in values]
    for at, value in enumerate(converted):
        fault = None if value is None else within_limits(place.column, value)
        if fault is not None:
            faults.append((at, fault))
            converted[at] = None
    return list(converted), faults


def _agreed(table: _Table, places: list[Place], read: list[list[object]]) -> list[object]:
    """Return the values of a column that is given in two units; where both are given they must agree."""
    first, second = read[0], read[1]
    if places[0].other is not None:
        first, second = second, first
    fault = Fault(
        code="units-disagree",
        message=f"{places[0].heading} and {places[1].heading} do not agree",
        remedy="correct one of them or leave it blank",
    )
    for at, (one, other) in enumerate(zip(first, second, strict=True)):
        if isinstance(one, float) and isinstance(other, float) and abs(one - other) > max(AGREE_M, AGREE_PART * one):
            table.add(fault, table.numbers[at], places[0].column.heading, table.rows[at][places[0].at])
    return [other if one is None else one for one, other in zip(first, second, strict=True)]


def _require_values(table: _Table, place: Place, values: Iterable[object]) -> None:
    if None not in values:
        return
    fault = Fault(
        code="blank",
        message=f"{place.column.heading} is needed in every row",
        remedy=f"fill it in, for example {place.column.example}, or delete the row",
    )
    for at, value in enumerate(values):
        if value is None and (table.numbers[at], place.at) not in table.excused:
            table.add(fault, table.numbers[at], place.heading)
