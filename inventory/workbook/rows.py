"""Rows of a workbook as typed columns: what the reader makes, the checks judge, the store takes and the writer writes."""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from datetime import date

from inventory.core.problems import Problem
from inventory.workbook.columns import Sheet

RowKey = str | tuple[object, ...]  # a tuple where the sheet's key has several parts


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRows:
    """All rows of one sheet, column by column; lists of equal length, in the order of the file.

    `numbers` are the row numbers the spreadsheet shows. `columns` has one list for each column that the file has,
    by field name; None is not known. Values by kind: key, text, choice, reference `str`; number `float`;
    decimal and money `Decimal`; whole number `int`; date `date`; date and time text `2027-03-01 08:00`; time of day
    `time`; yes or no `bool`.
    """

    sheet: Sheet
    numbers: list[int]
    columns: dict[str, list[object]]

    def __len__(self) -> int:
        return len(self.numbers)

    def column(self, name: str) -> list[object]:
        """Return the column that fills the field `name`; all blank where the file does not have it."""
        return self.columns[name] if name in self.columns else [self.sheet.column(name).default] * len(self.numbers)

    def keys(self) -> list[RowKey]:
        """Return the key of every row: text, or a tuple where the key has several parts."""
        parts = [self.column(name) for name in self.sheet.key]
        if len(parts) == 1:
            return parts[0]  # type: ignore[return-value]  # a key column holds text
        return list(zip(*parts, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkbookRows:
    """A whole workbook, sheet by sheet code, with everything that went wrong while it was read.

    `unknown_columns` are (sheet title, heading) of columns that no sheet of the table has: kept aside and named.
    """

    sheets: dict[str, SheetRows] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    unknown_columns: tuple[tuple[str, str], ...] = ()
    unknown_sheets: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownKeys:
    """What is stored already, as far as checks need it; everything is empty for a new campus.

    `keys` : sheet code -> keys (text; for rooms (building, room)); `protocol_names` is a code here as well.
    `model_kinds` : model -> kind. `bus_buildings` : bus -> building. `node_models` : node -> model.
    `node_buses` : node -> the buses it names, in the order Bus to Bus 4. `node_installed` : node -> day it was installed.
    `wired_buses` : buses that some stored run belongs to.
    """

    keys: Mapping[str, AbstractSet[RowKey]] = field(default_factory=dict)
    model_kinds: Mapping[str, str] = field(default_factory=dict)
    bus_buildings: Mapping[str, str] = field(default_factory=dict)
    node_models: Mapping[str, str] = field(default_factory=dict)
    node_buses: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    node_installed: Mapping[str, date] = field(default_factory=dict)
    wired_buses: AbstractSet[str] = frozenset()
