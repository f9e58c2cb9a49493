"""What a survey is made of, read for the segments that wait for one alone: a page must not load the campus."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from inventory.models import Cable, EquipmentModel, Method, Node, Protocol, Run
from inventory.store.stored import stored_rows
from inventory.store.targets import TARGETS
from inventory.workbook.rows import SheetRows
from inventory.workbook.sheets import BY_CODE
from planner.core.findings import SegmentReport, Verdict
from planner.core.surveys import SHEETS_ASKED, Asked, Register, Spot
from planner.models import Assessment, Segment
from planner.store.records import from_json

if TYPE_CHECKING:
    from django.db.models import QuerySet

SEGMENTS_ASKED = 2000  # questions are gathered from so many segments, those with most stations first
AT_ONCE = 500  # keys in one question to the database


def waiting_reports(assessment: Assessment | None) -> tuple[tuple[SegmentReport, ...], int]:
    """Return the reports that wait for a survey, and how many more there are than are returned."""
    asked = Segment.objects.filter(assessment=assessment, verdict=Verdict.SURVEY_FIRST, report__isnull=False)
    if assessment is None:
        return (), 0
    rows = asked.order_by("-station_count", "key").values_list("report", flat=True)[:SEGMENTS_ASKED]
    reports = tuple(from_json(SegmentReport, row) for row in rows)
    return reports, max(asked.count() - len(reports), 0)


def _with_keys(rows: "QuerySet[Any]", keys: Sequence[str]) -> Iterator[Any]:
    for begin in range(0, len(keys), AT_ONCE):
        yield from rows.filter(key__in=keys[begin : begin + AT_ONCE])


def load_register(reports: Sequence[SegmentReport]) -> Register:
    """Return where the nodes and runs of some reports are, and the names that their questions may use."""
    node_keys = sorted({key for report in reports for key in report.nodes})
    run_keys = sorted({key for report in reports for key in report.runs})
    nodes = list(_with_keys(Node.objects.select_related("model", "room__building"), node_keys))
    runs = list(_with_keys(Run.objects.select_related("from_node", "to_node"), run_keys))
    return Register(
        spots={
            node.key: Spot(node.room.building.key, node.room.floor or "", node.room.key) for node in nodes if node.room
        },
        models={node.key: node.model.key for node in nodes},
        run_ends={run.key: (run.to_node.key, run.from_node.key) for run in runs},
        names={
            "models": _keys(EquipmentModel.objects.all()),
            "cables": _keys(Cable.objects.all()),
            "methods": _keys(Method.objects.all()),
            "protocols": _keys(Protocol.objects.all()),
            "runs": frozenset(run_keys),
            "buses": frozenset(bus for report in reports for bus in report.buses),
        },
    )


def _keys(rows: "QuerySet[Any]") -> frozenset[str]:
    return frozenset(rows.order_by().values_list("key", flat=True))


def rows_asked(asked: Iterable[Asked]) -> dict[str, SheetRows]:
    """Return the stored rows that questions are answered on, by sheet code; a sheet nobody asks about has no rows."""
    keys: dict[str, set[str]] = {code: set() for code in SHEETS_ASKED}
    for one in asked:
        for code, key in one.rows:
            keys[code].add(key)
    stored = stored_rows({code: TARGETS[code] for code in SHEETS_ASKED})
    return {code: _only(stored[code], keys[code]) for code in SHEETS_ASKED if keys[code] or code in ("nodes", "runs")}


def _only(rows: SheetRows, keys: set[str]) -> SheetRows:
    first = rows.sheet.key[0]
    kept = [place for place, key in enumerate(rows.column(first)) if key in keys]
    columns: Mapping[str, list[object]] = {
        name: [values[place] for place in kept] for name, values in rows.columns.items()
    }
    return SheetRows(sheet=BY_CODE[rows.sheet.code], numbers=list(range(2, 2 + len(kept))), columns=dict(columns))
