"""Checks of nodes, buses, runs and methods against each other.

What cannot be (a station with two buses) is an error. What merely contradicts (a run whose ends share no bus) is a
warning, because the walls decide and not the clerk.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from inventory.core.problems import Severity
from inventory.workbook.judge import Judge, Verdict
from inventory.workbook.rows import SheetRows

BUS_NAMES = ("bus", "bus_2", "bus_3", "bus_4")
GATEWAY, STATION = "gateway", "station"
NOT_A_PANEL = ("station", "sensor", "supply", "junction")  # kinds that cannot carry out what a station commands
WARNING = Severity.WARNING

TOO_MANY_BUSES = Verdict(
    code="too-many-buses",
    message="Only a gateway is on more than one bus; this node's model is of another kind",
    remedy="name one bus, or correct the node's model",
)
GATEWAY_WITH_ONE_BUS = Verdict(
    code="gateway-with-one-bus",
    message="A gateway joins two buses or more; one is named here",
    remedy="name the other bus in Bus 2, or correct the node's model",
)
GATEWAY_WITHOUT_BUS = Verdict(
    code="gateway-without-bus",
    message="No bus is named for this gateway",
    remedy="name the buses it joins once they are known",
    severity=WARNING,
)
BUS_TWICE = Verdict(
    code="bus-twice",
    message="The node names one bus twice",
    remedy="name each bus once",
)
OTHER_BUILDING = Verdict(
    code="bus-of-another-building",
    message="The bus belongs to another building than the node",
    remedy="check which is right; a bus may pass between buildings, but seldom does",
    severity=WARNING,
)
SAME_ENDS = Verdict(
    code="run-to-itself", message="Both ends of the run are the same node", remedy="correct one of the two ends"
)
NO_SHARED_BUS = Verdict(
    code="no-shared-bus",
    message="The two ends of the run share no bus",
    remedy="check the buses of both nodes; the segment will be surveyed first",
    severity=WARNING,
)
NOT_ON_ITS_BUS = Verdict(
    code="run-of-another-bus",
    message="The run names another bus than the one its two ends share",
    remedy="check the bus of the run and of both nodes",
    severity=WARNING,
)
BUS_WITHOUT_RUN = Verdict(
    code="bus-without-run",
    message="No run is recorded on this bus",
    remedy="add its cables on sheet Runs once they are known",
    severity=WARNING,
)
FAILED_BEFORE = Verdict(
    code="failed-before-installed",
    message="The node failed before it was installed",
    remedy="correct one of the two dates, unless this is what stood here before it was replaced",
    severity=WARNING,  # an order that is accepted leaves the failures of the old station with the place
)
FAILED_TWICE = Verdict(
    code="failed-twice-in-a-day",
    message="The node has another failure on this day",
    remedy="put both into one row: one visit counts once",
    severity=WARNING,
)
FAILED_GONE = Verdict(
    code="failed-after-removed",
    message="The node failed after a failure with outcome removed",
    remedy="correct the outcome of that row, or the node of this one",
    severity=WARNING,
)
NOT_A_STATION = Verdict(
    code="not-a-station", message="This model is not a station", remedy="name a model of the kind station"
)
NOT_A_GATEWAY = Verdict(
    code="not-a-gateway", message="This model is not a gateway", remedy="name a model of the kind gateway"
)
SAME_MODEL = Verdict(
    code="same-model",
    message="The new model is the old model",
    remedy="name the model that takes its place",
    severity=WARNING,
)
PANEL_KIND = Verdict(
    code="not-a-panel",
    message="A node of this kind cannot carry out what a station commands",
    remedy="name the panel or controller that does",
    severity=WARNING,
)
COMMANDS_NOTHING = Verdict(
    code="not-a-station",
    message="This node is not a station",
    remedy="name the station that commands this",
    severity=WARNING,
)


def model_kinds(judge: Judge) -> Mapping[str, object]:
    """Return model -> kind, the file's own before what is stored."""
    return {**judge.known.model_kinds, **judge.mapping("models", "kind")}


def _bus_columns(rows: SheetRows) -> list[list[object]]:
    return [rows.column(name) for name in BUS_NAMES if name in rows.columns]


def _buses_of(columns: list[list[object]], at: int) -> tuple[object, ...]:
    return tuple(column[at] for column in columns if column[at] is not None)


def _kinds_of_nodes(judge: Judge) -> None:
    """Check how many buses each node names; only where the file says which."""
    rows = judge.sheet("nodes")
    if rows is None or "bus" not in rows.columns:
        return
    columns = _bus_columns(rows)
    kinds = [*map(model_kinds(judge).get, rows.column("model"))]  # type: ignore[arg-type]
    more = {at for column in columns[1:] for at, bus in enumerate(column) if bus is not None}
    for at in sorted(more | {at for at, kind in enumerate(kinds) if kind == GATEWAY}):
        _judge_buses(judge, rows, at, kinds[at], _buses_of(columns, at))


def _judge_buses(judge: Judge, rows: SheetRows, at: int, kind: object, buses: tuple[object, ...]) -> None:
    if len(set(buses)) < len(buses):
        judge.tell(rows, at, "bus_2" if "bus_2" in rows.columns else "bus", BUS_TWICE)
    elif kind == GATEWAY and len(buses) < 2:  # noqa: PLR2004 - one at either end
        judge.tell(rows, at, "bus", GATEWAY_WITH_ONE_BUS if buses else GATEWAY_WITHOUT_BUS)
    elif kind not in (GATEWAY, None) and len(buses) > 1:
        judge.tell(rows, at, "bus_2" if "bus_2" in rows.columns else "bus", TOO_MANY_BUSES)


def _buildings_of_buses(judge: Judge) -> None:
    rows = judge.sheet("nodes")
    if rows is None:
        return
    where = {**judge.known.bus_buildings, **judge.mapping("buses", "building")}
    homes = rows.column("building")
    for name in BUS_NAMES:
        if name not in rows.columns:
            continue
        there = map(where.get, rows.column(name))  # type: ignore[arg-type]
        for at, (bus_home, home) in enumerate(zip(there, homes, strict=True)):
            if bus_home is not None and bus_home != home and home is not None:
                judge.tell(rows, at, name, OTHER_BUILDING)


def _node_buses(judge: Judge) -> tuple[Mapping[object, object], Mapping[object, tuple[object, ...]]]:
    """Return node -> its only bus, and node -> its buses for the few that have several or none."""
    rows = judge.sheet("nodes")
    stored: dict[object, tuple[object, ...]] = {node: (*buses,) for node, buses in judge.known.node_buses.items()}
    if rows is None or "bus" not in rows.columns:
        return {}, stored
    columns, keys = _bus_columns(rows), rows.column("key")
    only = dict(zip(keys, columns[0], strict=True))
    several = {keys[at]: _buses_of(columns, at) for column in columns[1:] for at, bus in enumerate(column) if bus}
    return only, {**{key: buses for key, buses in stored.items() if key not in only}, **several}


def _runs(judge: Judge) -> None:
    rows = judge.sheet("runs")
    if rows is None:
        return
    only, several = _node_buses(judge)
    ends = rows.column("from_node"), rows.column("to_node")
    buses = zip(rows.column("bus"), map(only.get, ends[0]), map(only.get, ends[1]), strict=True)
    doubtful = [at for at, (bus, one, other) in enumerate(buses) if not (bus == one == other)]
    for at in doubtful:
        _judge_run(judge, rows, at, [_buses_at(end[at], only, several) for end in ends])
    same = (at for at, (one, other) in enumerate(zip(*ends, strict=True)) if one == other and one is not None)
    judge.tell_all(rows, same, "to_node", SAME_ENDS)


def _buses_at(node: object, only: Mapping[object, object], several: Mapping[object, tuple[object, ...]]) -> set[object]:
    return set(several[node]) if node in several else {only.get(node)} - {None}


def _judge_run(judge: Judge, rows: SheetRows, at: int, ends: list[set[object]]) -> None:
    """Judge one run by the buses at its ends; an end that names no bus contradicts nothing."""
    if not ends[0] or not ends[1]:
        return
    shared = ends[0] & ends[1]
    bus = rows.column("bus")[at]
    if not shared:
        judge.tell(rows, at, "to_node", NO_SHARED_BUS)
    elif bus is not None and bus not in shared:
        judge.tell(rows, at, "bus", NOT_ON_ITS_BUS)


def _buses_without_runs(judge: Judge) -> None:
    """Name the buses that no run is recorded on; silent while no runs at all are recorded."""
    buses, runs = judge.sheet("buses"), judge.sheet("runs")
    wired = judge.known.wired_buses | (set(runs.column("bus")) if runs else set())
    if buses is None or not wired:
        return
    bare = set(buses.column("key")) - wired - {None}
    if bare:
        judge.tell_all(buses, (at for at, key in enumerate(buses.column("key")) if key in bare), "key", BUS_WITHOUT_RUN)


def _failures(judge: Judge) -> None:
    rows = judge.sheet("failures")
    if rows is None:
        return
    installed = {**judge.known.node_installed, **judge.mapping("nodes", "installed")}
    days = zip(map(installed.get, rows.column("node")), rows.column("date"), strict=True)  # type: ignore[arg-type]
    early = (at for at, (since, day) in enumerate(days) if since and day and day < since)  # type: ignore[operator]
    judge.tell_all(rows, early, "date", FAILED_BEFORE)
    node, day = rows.column("node"), rows.column("date")
    outcome = rows.column("outcome") if "outcome" in rows.columns else [None] * len(node)
    seen = list(zip(node, day, outcome, strict=True))
    judge.tell_all(rows, _again_that_day(seen), "date", FAILED_TWICE)
    judge.tell_all(rows, _after_removal(seen, installed), "date", FAILED_GONE)


Seen = list[tuple[Any, Any, Any]]  # node, day, outcome


def _again_that_day(seen: Seen) -> Iterator[int]:
    """Yield the rows whose node failed that day by an earlier row too."""
    met: set[tuple[Any, Any]] = set()
    for at, (node, day, _) in enumerate(seen):
        if node and day:
            if (node, day) in met:
                yield at
            met.add((node, day))


def _after_removal(seen: Seen, installed: Mapping[Any, Any]) -> Iterator[int]:
    """Yield the rows whose node was taken away before, and has not been put in again since."""
    gone: dict[Any, Any] = {}
    for node, day, outcome in seen:
        if outcome == "removed" and node and day:
            gone[node] = min(day, gone.get(node, day))
    for at, (node, day, _) in enumerate(seen):
        left = gone.get(node)
        since = installed.get(node)
        if left and day and day > left and not (since and since > left):
            yield at


METHOD_KINDS = (
    ("old_model", STATION, NOT_A_STATION),
    ("new_model", STATION, NOT_A_STATION),
    ("old_gateway_model", GATEWAY, NOT_A_GATEWAY),
    ("new_gateway_model", GATEWAY, NOT_A_GATEWAY),
)


def _methods(judge: Judge) -> None:
    rows = judge.sheet("methods")
    if rows is None:
        return
    kinds = model_kinds(judge)
    for name, wanted, verdict in METHOD_KINDS:
        seen = map(kinds.get, rows.column(name))  # type: ignore[arg-type]
        judge.tell_all(rows, (at for at, kind in enumerate(seen) if kind not in (None, wanted)), name, verdict)
    models = zip(rows.column("old_model"), rows.column("new_model"), strict=True)
    same = (at for at, (old, new) in enumerate(models) if old is not None and old == new)
    judge.tell_all(rows, same, "new_model", SAME_MODEL)


def _commands(judge: Judge) -> None:
    """Check what the nodes named on sheets Zones and Scenes are."""
    kinds = model_kinds(judge)
    models = {**judge.known.node_models, **judge.mapping("nodes", "model")}
    for code in ("zones", "scenes"):
        rows = judge.sheet(code)
        if rows is None:
            continue
        seen = [kinds.get(str(models.get(str(node)))) for node in rows.column("node")]
        strange = (at for at, kind in enumerate(seen) if kind not in (None, STATION))
        judge.tell_all(rows, strange, "node", COMMANDS_NOTHING)
        if "panel" in rows.columns:
            seen = [kinds.get(str(models.get(str(node)))) for node in rows.column("panel")]
            judge.tell_all(rows, (at for at, kind in enumerate(seen) if kind in NOT_A_PANEL), "panel", PANEL_KIND)


NETWORK_CHECKS: tuple[Callable[[Judge], None], ...] = (
    _kinds_of_nodes,
    _buildings_of_buses,
    _runs,
    _buses_without_runs,
    _failures,
    _methods,
    _commands,
)
