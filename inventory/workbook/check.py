"""Checks of rows against each other and against what is stored: keys, references, kinds, dates, contradictions.

Every check looks at whole columns, as sets and maps, and only then at the rows that are wrong. All of them run; none
stops another.
"""

from collections.abc import Callable
from collections.abc import Set as AbstractSet

from inventory.core.problems import Problem
from inventory.workbook.check_keys import by_number, lost_zeros, without_zeros
from inventory.workbook.check_network import NETWORK_CHECKS
from inventory.workbook.check_values import VALUE_CHECKS
from inventory.workbook.columns import Column, Kind
from inventory.workbook.judge import Judge, Verdict
from inventory.workbook.read import plain
from inventory.workbook.rows import KnownKeys, RowKey, SheetRows, WorkbookRows

PROTOCOL_NAMES = "protocol_names"  # no sheet of its own: the names on sheet Protocols and those built in


def check_rows(rows: WorkbookRows, known: KnownKeys) -> tuple[Problem, ...]:
    """Return every problem that the rows have beyond those of single cells, which the reader told already."""
    judge = Judge(rows=rows, known=known)
    for check in CHECKS:
        check(judge)
    return judge.found.told()


def _duplicates(judge: Judge) -> None:
    for rows in judge.rows.sheets.values():
        keys = rows.keys()
        if len(set(keys)) < len(keys):
            _tell_duplicates(judge, rows, _defaulted(rows, keys))


def _defaulted(rows: SheetRows, keys: list[RowKey]) -> list[RowKey]:
    """Return the keys, None where a needed part of the key is not known (which the reader told)."""
    needed = [rows.column(name) for name in rows.sheet.key if rows.sheet.column(name).required]
    if not needed:
        return keys
    return [None if None in parts else key for key, parts in zip(keys, zip(*needed, strict=True), strict=True)]  # type: ignore[misc]


def _tell_duplicates(judge: Judge, rows: SheetRows, keys: list[RowKey]) -> None:
    first: dict[RowKey, int] = {}
    named = " and ".join(rows.sheet.column(name).heading for name in rows.sheet.key)
    for at, key in enumerate(keys):
        if key is None or first.setdefault(key, at) == at:
            continue
        verdict = Verdict(
            code="duplicate-key",
            message=f"Row {rows.numbers[first[key]]} has the same {named}",
            remedy="give each row a key of its own, or delete one of the two rows",
        )
        judge.tell(rows, at, rows.sheet.key[-1], verdict)


def _references(judge: Judge) -> None:
    valid = {code: {*known_keys_of(judge, code), None} for code in SHEET_NAMES}
    for rows in judge.rows.sheets.values():
        for column in rows.sheet.columns:
            if column.name not in rows.columns or column.kind is not Kind.REFERENCE:
                continue
            if column.within is not None:
                _reference_within(judge, rows, column, column.within)
            elif not (column.refers_to == PROTOCOL_NAMES and rows.sheet.code == "protocols"):
                _reference(judge, rows, column, valid[column.refers_to or ""])


def known_keys_of(judge: Judge, code: str) -> AbstractSet[RowKey]:
    """Return every key of a sheet: those in the file and those stored."""
    stored = judge.known.keys.get(code, frozenset())
    if code == PROTOCOL_NAMES:
        rows = judge.sheet("protocols")
        return stored | set(rows.column("protocol")) if rows else stored  # type: ignore[arg-type]
    rows = judge.sheet(code)
    return stored | set(rows.keys()) if rows else stored


def _reference(judge: Judge, rows: SheetRows, column: Column, valid: set[RowKey | None]) -> None:
    values = rows.column(column.name)
    if valid.issuperset(values):  # one look-up a row, cheaper than a set of all values
        return
    strangers = set(values) - valid
    alike = {plain(str(key)): key for key in valid if key is not None}
    numbers = by_number(valid)
    for at, value in enumerate(values):
        if value in strangers:
            meant = alike.get(plain(str(value))) or numbers.get(without_zeros(value) or ())
            judge.tell(rows, at, column.name, _unknown(column, meant))


def _unknown(column: Column, alike: RowKey | None) -> Verdict:
    where = SHEET_NAMES.get(column.refers_to or "", "")
    hint = f"did you mean {alike}? Otherwise " if alike is not None else ""
    return Verdict(
        code="unknown-reference",
        message=f"There is no such row on sheet {where}, and none is stored",
        remedy=f"{hint}add it to sheet {where} or correct it here",
    )


def _reference_within(judge: Judge, rows: SheetRows, column: Column, within: str) -> None:
    """Check a key of two parts; a building that is itself unknown is told once, in its own column."""
    pairs = list(zip(rows.column(within), rows.column(column.name), strict=True))
    strangers = {pair for pair in set(pairs) - known_keys_of(judge, column.refers_to or "") if pair[1] is not None}
    if not strangers:
        return
    owners = known_keys_of(judge, rows.sheet.column(within).refers_to or "")
    numbers = by_number(known_keys_of(judge, column.refers_to or ""))
    for at, pair in enumerate(pairs):
        if pair not in strangers:
            continue
        if pair[0] is None and not rows.sheet.column(within).required:
            judge.tell(rows, at, column.name, ROOM_ALONE)
        elif pair[0] in owners:
            judge.tell(rows, at, column.name, _unknown_in(column, str(pair[0]), numbers.get(without_zeros(pair) or ())))


def _unknown_in(column: Column, owner: str, meant: str | None) -> Verdict:
    where = SHEET_NAMES.get(column.refers_to or "", "")
    hint = f"did you mean {meant}? Otherwise " if meant is not None else ""
    return Verdict(
        code="unknown-reference",
        message=f"There is no such row for {owner} on sheet {where}, and none is stored",
        remedy=f"{hint}add it to sheet {where} or correct it here",
    )


ROOM_ALONE = Verdict(
    code="room-without-building",
    message="A room is named without its building",
    remedy="name the building as well; rooms of two buildings may have one number",
)
SHEET_NAMES = {
    "buildings": "Buildings",
    "rooms": "Rooms",
    PROTOCOL_NAMES: "Protocols",
    "cables": "Cables",
    "parts": "Parts",
    "models": "Models",
    "buses": "Buses",
    "nodes": "Nodes",
    "methods": "Methods",
}
CHECKS: tuple[Callable[[Judge], None], ...] = (_duplicates, lost_zeros, _references, *VALUE_CHECKS, *NETWORK_CHECKS)
