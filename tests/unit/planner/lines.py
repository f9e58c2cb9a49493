"""One line after another for the tests of the rules: a gateway, a station, and whatever a test changes about them."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from planner.core.brief import Brief
from planner.core.findings import Finding, SegmentReport
from planner.core.judgements import judge
from planner.core.verdicts import assess
from tests.campus_catalogue import catalogue
from tests.campuses import Draft, add_line, add_station

if TYPE_CHECKING:
    from inventory.core.catalogue import Cable, Catalogue, Method, Model, ProtocolRow


def line(*, building: str = "B1", **station: Any) -> Draft:
    """Return one WS-20 on line L1, 40 m of 18 AWG from gateway L1-G, which also hangs on the backbone B1-N0."""
    draft = Draft(catalogue=catalogue())
    draft.building(building)
    draft.bus(f"{building}-N0", building, "CAMPUSNET")
    draft.node(f"{building}-C1", "CT-1", f"{building}-N0", building=building)
    add_station(draft, "L1", "B1-S101", add_line(draft, "L1", building=building), building=building, **station)
    return draft


def report(draft: Draft, segment: str = "L1", **brief: Any) -> SegmentReport:
    """Return the report on one segment, after the columns of all segments have said what the reports say."""
    snapshot, settings = draft.snapshot(), Brief(**brief)
    reports, judgements = assess(snapshot, settings), judge(snapshot, settings)
    assert [judgements.verdict_of(label) for label in range(len(judgements))] == [
        (one.verdict, one.decided_by) for one in reports
    ]
    return next(one for one in reports if one.segment == segment)


def finding(draft: Draft, rule: str, segment: str = "L1", **brief: Any) -> Finding:
    """Return what one rule says of one segment."""
    return next(one for one in report(draft, segment, **brief).findings if one.rule == rule)


def _changed(rows: tuple[Any, ...], key: str, facts: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(replace(row, **facts) if row.key == key else row for row in rows)


def with_model(draft: Draft, key: str, **facts: Any) -> Draft:
    """Change a model of the catalogue."""
    models: tuple[Model, ...] = _changed(draft.catalogue.models, key, facts)
    draft.catalogue = replace(draft.catalogue, models=models)
    return draft


def with_cable(draft: Draft, key: str, **facts: Any) -> Draft:
    """Change a cable of the catalogue."""
    cables: tuple[Cable, ...] = _changed(draft.catalogue.cables, key, facts)
    draft.catalogue = replace(draft.catalogue, cables=cables)
    return draft


def with_method(draft: Draft, key: str, **facts: Any) -> Draft:
    """Change a method of the catalogue."""
    methods: tuple[Method, ...] = _changed(draft.catalogue.methods, key, facts)
    draft.catalogue = replace(draft.catalogue, methods=methods)
    return draft


def with_row(draft: Draft, rate: float | None = 125.0, protocol: str = "OPENPAIR", **facts: Any) -> Draft:
    """Change one row of a protocol."""
    rows: tuple[ProtocolRow, ...] = tuple(
        replace(row, **facts) if (row.protocol, row.bit_rate_kbit_s) == (protocol, rate) else row
        for row in draft.catalogue.protocols
    )
    draft.catalogue = replace(draft.catalogue, protocols=rows)
    return draft


def with_catalogue(draft: Draft, **parts: Any) -> Draft:
    """Put whole tables of the catalogue in place of others."""
    catalogue_now: Catalogue = replace(draft.catalogue, **parts)
    draft.catalogue = catalogue_now
    return draft


def with_node(draft: Draft, key: str, **facts: Any) -> Draft:
    """Change a node."""
    draft.nodes = list(_changed(tuple(draft.nodes), key, facts))
    return draft


def with_run(draft: Draft, key: str, **facts: Any) -> Draft:
    """Change a run."""
    draft.runs = list(_changed(tuple(draft.runs), key, facts))
    return draft


def without_leads(draft: Draft) -> Draft:
    """Let the methods use no patch leads, so that lengths in a test are those of the runs."""
    for key in ("M-20", "M-21"):
        with_method(draft, key, patch_cable=None, patch_lead_m=None)
    return draft
