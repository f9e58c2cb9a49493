"""What every check needs: the rows, what is stored, and a way to name the cell that is wrong."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from inventory.core.problems import Severity
from inventory.workbook.gather import Gathered
from inventory.workbook.rows import KnownKeys, SheetRows, WorkbookRows


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a check says of a cell."""

    code: str
    message: str
    remedy: str
    severity: Severity = Severity.ERROR


@dataclass(frozen=True, slots=True, kw_only=True)
class Judge:
    """The rows, what is stored already, and the problems found so far."""

    rows: WorkbookRows
    known: KnownKeys
    found: Gathered = field(default_factory=Gathered)

    def sheet(self, code: str) -> SheetRows | None:
        """Return the rows of a sheet, None where the file does not have it or it is empty."""
        rows = self.rows.sheets.get(code)
        return rows if rows is not None and rows.numbers else None

    def tell(self, rows: SheetRows, at: int, name: str, verdict: Verdict) -> None:
        """Keep a problem with the cell of the field `name` in the row at position `at`."""
        self.found.add(
            verdict.code,
            verdict.message,
            verdict.remedy,
            sheet=rows.sheet.title,
            row=rows.numbers[at],
            column=rows.sheet.column(name).heading,
            value=rows.column(name)[at],
            severity=verdict.severity,
        )

    def tell_all(self, rows: SheetRows, places: Iterable[int], name: str, verdict: Verdict) -> None:
        """Keep the same problem for the rows at each of the positions."""
        for at in places:
            self.tell(rows, at, name, verdict)

    def mapping(self, code: str, name: str) -> dict[str, object]:
        """Return key -> value of the field `name` over the rows of a sheet of the file, without unknown keys."""
        rows = self.sheet(code)
        if rows is None or name not in rows.columns:
            return {}
        pairs = dict(zip(rows.column("key"), rows.column(name), strict=True))
        pairs.pop(None, None)
        return pairs  # type: ignore[return-value]  # keys are text
