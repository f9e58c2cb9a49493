# ruff: noqa: SLF001 - _meta and _default_manager are how Django tells of any table
"""Taking a workbook in: all of it or nothing, with history, and kept with who and when."""

import hashlib
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from django.db import DataError, IntegrityError, connection, transaction
from django.utils import timezone

from inventory.core.problems import Problem, Severity, errors_in
from inventory.core.standards import open_standards
from inventory.models import Intake
from inventory.services.calendars import calendar_warnings
from inventory.services.removals import Removal, remove_ticked
from inventory.services.standards import sync_open_standards
from inventory.store.changes import NewRow, RowChange
from inventory.store.history import Stamp
from inventory.store.references import References
from inventory.store.stored import known_keys
from inventory.store.taking import SheetCounts, SheetOutcome, Wish, store_sheet
from inventory.store.targets import By, Targets, sheets_of
from inventory.workbook.check import check_rows
from inventory.workbook.columns import Kind
from inventory.workbook.read import read_workbook
from inventory.workbook.rows import WorkbookRows
from inventory.workbook.sheets import BY_CODE
from inventory.workbook.whole_rows import SaidRow, rows_of_problems

TOLD_AT_MOST = 20_000  # new, changed and absent rows a sheet that a preview names, each
SHOWN_AT_MOST = 500  # of them that are kept for the page
ROWS_SHOWN = 100  # rows with problems a sheet that are kept whole
LOT = 500  # rows asked for at a time
READ_SHARE, CHECK_SHARE = 0.35, 0.5  # of the time of an intake, roughly

Check = Callable[[WorkbookRows], Iterable[Problem]]
Tell = Callable[[str, float | None], bool]  # (what it is doing, fraction done) -> whether to go on


class IntakeStopped(Exception):  # noqa: N818 - not an error: somebody asked for it
    """The person asked the intake to stop; nothing was stored."""


class _Refused(Exception):  # noqa: N818 - carries problems out of the transaction, which goes back
    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("refused")
        self.problems = problems


@dataclass(frozen=True, slots=True, kw_only=True)
class AbsentRow:
    """One stored row that the file does not have: its id, and its key in words."""

    row: int
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeResult:
    """What came of an intake; `counts` by sheet code, empty where nothing was stored. `intake` is the kept file's id.

    `rows` are the whole rows that problems are about, by sheet title and row number, at most ROWS_SHOWN a sheet.
    """

    stored: bool
    counts: Mapping[str, SheetCounts] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    rows: Mapping[str, Mapping[int, SaidRow]] = field(default_factory=dict)
    unknown_columns: tuple[tuple[str, str], ...] = ()
    unknown_sheets: tuple[str, ...] = ()
    intake: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakePreview:
    """What an intake would do. `new`, `changed` and `absent` name at most TOLD_AT_MOST rows a sheet; the counts are whole.

    `rows` are the whole rows that problems are about, by sheet title and row number, at most ROWS_SHOWN a sheet.
    """

    counts: Mapping[str, SheetCounts] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    unknown_columns: tuple[tuple[str, str], ...] = ()
    rows: Mapping[str, Mapping[int, SaidRow]] = field(default_factory=dict)
    unknown_sheets: tuple[str, ...] = ()
    new: Mapping[str, tuple[NewRow, ...]] = field(default_factory=dict)
    changed: Mapping[str, tuple[RowChange, ...]] = field(default_factory=dict)
    absent: Mapping[str, tuple[AbsentRow, ...]] = field(default_factory=dict)

    @property
    def can_be_stored(self) -> bool:
        """Whether the file has no error."""
        return not errors_in(self.problems)


def _go_on(_doing: str, _done: float | None) -> bool:
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Intake:
    """One workbook on its way in."""

    rows: WorkbookRows
    targets: Targets
    stamp: Stamp
    tell: Callable[[str, float | None], None]
    checks: tuple[Check, ...]


def take_in(  # noqa: PLR0917 - called by name
    content: bytes,
    file_name: str,
    targets: Targets,
    by: By,
    remove: Collection[Removal] = (),
    progress: Tell | None = None,
    checks: Iterable[Check] = (),
) -> IntakeResult:
    """Take a workbook in, in one transaction; with any error nothing is stored and the problems say why.

    `remove` are the absent rows that the person ticked. `checks` judge the rows of sheets that only others understand.
    Raises IntakeStopped where `progress` answers that the person wants no more of it.
    """
    coming = _read(content, file_name, targets, by, progress, checks)
    asked = {code for code, _ in remove}
    try:
        with transaction.atomic():
            outcomes, warnings = _store(coming, {code: Wish(absent_rows=code in asked) for code in targets})
            removed, left = remove_ticked(targets, outcomes, remove, coming.stamp)
            if left:
                raise _Refused(warnings + left)  # noqa: TRY301 - so that the transaction goes back
            counts = {code: replace(one.counts, removed=removed.get(code, 0)) for code, one in outcomes.items()}
            intake = _keep(content, file_name, coming, counts, warnings)
    except _Refused as refused:
        return IntakeResult(stored=False, **_told(coming.rows, refused.problems))
    return IntakeResult(stored=True, counts=counts, intake=intake.pk, **_told(coming.rows, warnings))


def preview(
    content: bytes, targets: Targets, *, progress: Tell | None = None, checks: Iterable[Check] = ()
) -> IntakePreview:
    """Tell what taking this workbook in would change; it is stored and put back, so that the database has its say."""
    coming = _read(content, "", targets, None, progress, checks)
    wish = Wish(new_rows=TOLD_AT_MOST, changed_rows=TOLD_AT_MOST, absent_rows=True)
    try:
        with transaction.atomic():
            outcomes, warnings = _store(coming, dict.fromkeys(targets, wish))
            absent = {code: _absent_rows(targets, code, one) for code, one in outcomes.items() if one.absent}
            transaction.set_rollback(True)
    except _Refused as refused:
        return IntakePreview(**_told(coming.rows, refused.problems))
    return IntakePreview(
        counts={code: one.counts for code, one in outcomes.items()},
        new={code: one.new for code, one in outcomes.items() if one.new},
        changed={code: one.changed for code, one in outcomes.items() if one.changed},
        absent=absent,
        **_told(coming.rows, warnings),
    )


def _told(rows: WorkbookRows, problems: tuple[Problem, ...]) -> dict[str, Any]:
    """Return what every answer says of a file: its problems, the rows they are about, what was left aside."""
    whole = rows_of_problems(rows, problems, ROWS_SHOWN)
    return {
        "problems": problems,
        "rows": whole,
        "unknown_columns": rows.unknown_columns,
        "unknown_sheets": rows.unknown_sheets,
    }


def _read(  # noqa: PLR0917 - all that an intake begins with
    content: bytes, file_name: str, targets: Targets, by: By, progress: Tell | None, checks: Iterable[Check]
) -> _Intake:
    ask = progress or _go_on

    def tell(doing: str, done: float | None) -> None:
        if not ask(doing, done):
            raise IntakeStopped(doing)

    tell("reading the workbook", 0.0)
    rows = read_workbook(content, sheets_of(targets))
    stamp = Stamp(by=by, at=timezone.now(), reason=file_name or None)
    return _Intake(rows=rows, targets=targets, stamp=stamp, tell=tell, checks=tuple(checks))


def _store(coming: _Intake, wishes: Mapping[str, Wish]) -> tuple[dict[str, SheetOutcome], tuple[Problem, ...]]:
    """Check and store every sheet; raise _Refused with all problems where there is an error."""
    _lock(coming.targets)
    sync_open_standards(open_standards())
    coming.tell("checking", READ_SHARE)
    problems = _check(coming)
    if errors_in(problems):
        raise _Refused(problems)
    outcomes: dict[str, SheetOutcome] = {}
    references = References()
    whole = sum(len(rows) for rows in coming.rows.sheets.values()) or 1
    done = 0
    for sheet in sheets_of(coming.rows.sheets):
        rows = coming.rows.sheets[sheet.code]
        coming.tell(f"storing {sheet.title}", CHECK_SHARE + (1 - CHECK_SHARE) * done / whole)
        outcomes[sheet.code] = _store_one(coming, sheet.code, references, wishes[sheet.code], problems)
        done += len(rows)
    return outcomes, problems + _calendars_missing(coming.rows)


def _lock(targets: Targets) -> None:
    """Keep others from writing these tables until the transaction ends; SQLite does so by itself."""
    if connection.vendor == "postgresql":
        names = ", ".join(connection.ops.quote_name(target.model._meta.db_table) for target in targets.values())
        with connection.cursor() as cursor:
            cursor.execute(f"LOCK TABLE {names} IN SHARE ROW EXCLUSIVE MODE")


def _check(coming: _Intake) -> tuple[Problem, ...]:
    rows = coming.rows
    found = [*rows.problems, *check_rows(rows, known_keys(coming.targets))]
    for check in coming.checks:
        found += check(rows)
    return tuple(found)


def _store_one(
    coming: _Intake, code: str, references: References, wish: Wish, problems: tuple[Problem, ...]
) -> SheetOutcome:
    rows = coming.rows.sheets[code]
    try:
        with transaction.atomic():
            outcome = store_sheet(connection, rows, coming.targets[code], references, coming.stamp, wish)
    except (IntegrityError, DataError) as refusal:
        raise _Refused((*problems, _database_says(rows.sheet.title, refusal))) from refusal
    if outcome.problems:
        raise _Refused((*problems, *outcome.problems))
    return outcome


def _database_says(title: str, refusal: Exception) -> Problem:
    return Problem(
        code="refused-by-database",
        severity=Severity.ERROR,
        message=f"A row of the sheet breaks a rule of the database: {str(refusal).splitlines()[0]}",
        remedy="Look for the row that this names, and mend it.",
        sheet=title,
    )


def _calendars_missing(rows: WorkbookRows) -> tuple[Problem, ...]:
    """Return the warnings about calendars that are not on file, where the workbook speaks of rooms."""
    return calendar_warnings() if "rooms" in rows.sheets else ()


def _absent_rows(targets: Targets, code: str, outcome: SheetOutcome) -> tuple[AbsentRow, ...]:
    ids = outcome.absent[:TOLD_AT_MOST]
    rows = targets[code].model._default_manager.select_related(*_named_by(targets, code))
    lots = (rows.filter(pk__in=ids[at : at + LOT]) for at in range(0, len(ids), LOT))
    return tuple(AbsentRow(row=row.pk, key=str(row)) for lot in lots for row in lot)


def _named_by(targets: Targets, code: str) -> list[str]:
    """Return the references that the name of a row is made of."""
    sheet = BY_CODE[code]
    of_key = [name for name in sheet.key if sheet.column(name).kind is Kind.REFERENCE]
    return [*of_key, *(["brief"] if targets[code].owned and "brief_id" in targets[code].sets else [])]


def _keep(
    content: bytes, file_name: str, coming: _Intake, counts: Mapping[str, SheetCounts], problems: tuple[Problem, ...]
) -> Intake:
    return Intake.objects.create(
        file_name=file_name,
        content=content,
        sha256=hashlib.sha256(content).hexdigest(),
        by_id=coming.stamp.by.pk if coming.stamp.by else None,
        at=coming.stamp.at,
        counts={code: asdict(one) for code, one in counts.items()},
        problems=[asdict(problem) for problem in problems],
        unknown_columns=[list(one) for one in coming.rows.unknown_columns],
    )
