"""A close look at those sheets in which the quick look saw formulas, error cells or cells far out.

The parser refuses document types and entities, and holds nothing but the cell it is at.
"""

import posixpath
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from xml.parsers import expat  # nosec - document types and entities are refused below

from inventory.workbook.package import PackageError, Part, inflate_part

MOST_ROWS, MOST_COLUMNS = 1_048_576, 16_384  # ISO/IEC 29500 sets no limit; these are what spreadsheets hold
MOST_CELLS = 20_000_000  # of the rectangle that holds every cell: a million rows of 20 columns
REFERENCE = re.compile(r"\$?([A-Za-z]{1,7})\$?([0-9]{1,10})\Z")
WORKBOOK, RELATIONS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"


@dataclass(slots=True, kw_only=True)
class Suspects:
    """What a close look found in one sheet; cells are (row, column), counted from 1."""

    uncalculated: list[tuple[int, int]] = field(default_factory=list)
    errors: list[tuple[int, int, str]] = field(default_factory=list)
    rows: int = 0
    columns: int = 0


@dataclass(slots=True)
class _Reader:
    """The cell the parser is at."""

    found: Suspects = field(default_factory=Suspects)
    row: int = 0
    column: int = 0
    kind: str = ""
    formula: bool = False
    within: str = ""
    value: list[str] = field(default_factory=list)

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        tag = tag.rpartition(":")[2]
        if tag == "c":
            self._place(attributes.get("r"))
            self.kind, self.formula, self.value = attributes.get("t", ""), False, []
        elif tag == "row":
            self.row, self.column = _number(attributes.get("r"), self.row + 1), 0
        elif tag == "f":
            self.formula = True
        self.within = tag

    def text(self, data: str) -> None:
        if self.within in ("v", "t"):
            self.value.append(data)

    def end(self, tag: str) -> None:
        self.within = ""
        if tag.rpartition(":")[2] != "c":
            return
        value = "".join(self.value).strip()
        if self.kind == "e":
            self.found.errors.append((self.row, self.column, value or "error"))
        elif self.formula and not value and self.kind != "str":
            self.found.uncalculated.append((self.row, self.column))

    def _place(self, reference: str | None) -> None:
        match = REFERENCE.match(reference or "")
        if match:
            self.column, self.row = column_number(match[1]), int(match[2])
        else:
            self.column += 1
        self.found.rows = max(self.found.rows, self.row)
        self.found.columns = max(self.found.columns, self.column)


def column_number(letters: str) -> int:
    """Return the number of a column from its letters.

    Examples
    --------
    >>> column_number("A"), column_number("AA"), column_number("XFD")
    (1, 27, 16384)

    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def look_closely(content: bytes, parts: tuple[Part, ...]) -> dict[str, Suspects]:
    """Return what is suspect, by sheet title; raise PackageError where a sheet claims more cells than can be read."""
    titles = _titles(content)
    by_name = {part.name.casefold(): part for part in parts if part.is_sheet}
    suspects: dict[str, Suspects] = {}
    for name, title in titles.items():
        part = by_name.get(name)
        if part is None:
            raise PackageError(
                "damaged",
                f"The workbook names a sheet {title} that is not in it",
                "save the workbook again from the spreadsheet and try once more",
            )
        if part.formulas or part.errors or part.far_cells:
            suspects[title] = _suspects(content, name, title)
    return suspects


def _suspects(content: bytes, name: str, title: str) -> Suspects:
    reader = _Reader()
    _parse(content, name, reader.start, reader.end, reader.text)
    found = reader.found
    if found.rows > MOST_ROWS or found.columns > MOST_COLUMNS or found.rows * found.columns > MOST_CELLS:
        raise PackageError(
            "too-many-cells",
            f"Sheet {title} claims {found.rows:,} rows and {found.columns:,} columns",
            "delete what lies far below or to the right of the table, save and try again",
        )
    return found


def _titles(content: bytes) -> dict[str, str]:
    """Return the title of each sheet by the name of its part."""
    sheets: list[tuple[str, str]] = []
    targets: dict[str, str] = {}

    def start_sheet(tag: str, attributes: Mapping[str, str]) -> None:
        if tag.rpartition(":")[2] == "sheet":
            identity = next((value for name, value in attributes.items() if name.endswith(":id")), "")
            sheets.append((identity, attributes.get("name", "")))

    def start_relation(tag: str, attributes: Mapping[str, str]) -> None:
        if tag.rpartition(":")[2] == "Relationship":
            targets[attributes.get("Id", "")] = attributes.get("Target", "")

    _parse(content, WORKBOOK, start_sheet)
    _parse(content, RELATIONS, start_relation)
    return {_part_name(targets.get(key, "")): title for key, title in sheets}


def _part_name(target: str) -> str:
    """Return the name of the part that a relation of the workbook points at."""
    return posixpath.normpath(posixpath.join("/xl", target)).lstrip("/").casefold()


def _number(text: str | None, otherwise: int) -> int:
    return int(text) if text and text.isdecimal() and len(text) <= 10 else otherwise  # noqa: PLR2004


def _parse(
    content: bytes,
    name: str,
    start: Callable[[str, Mapping[str, str]], None],
    end: Callable[[str], None] | None = None,
    text: Callable[[str], None] | None = None,
) -> None:
    """Run one part through a parser that refuses document types; PackageError where it is not XML or is not there."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = text
    parser.StartDoctypeDeclHandler = _refuse
    try:
        for piece in inflate_part(content, name):
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except (expat.ExpatError, KeyError) as error:
        raise PackageError(
            "damaged",
            f"Part {name} of the workbook cannot be read: {error}",
            "save the workbook again and try once more",
        ) from error


def _refuse(*_: object) -> None:
    raise PackageError("document-type", "A part of the workbook declares a document type", "save the workbook again")
