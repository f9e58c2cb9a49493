"""What is handed over, and the rows that its sheets and calendars list."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from inventory.core.catalogue import Method
from inventory.core.snapshot import Building, Room, Snapshot
from planner.core.brief import Brief
from planner.core.findings import Finding, Outcome, SegmentReport
from planner.core.landing import LandingRow, check_landing, landing_table
from planner.core.materials import Takeoff, TakeoffLine
from planner.core.outlook import OrderOutlook, Outlook, PhaseOutlook
from planner.core.plans import Order, PhaseSummary, Placed, Plan, WindowsOfOrder

MOST_FINDINGS = 100_000  # more than anyone reads on a sheet; the site has them all


@dataclass(frozen=True, kw_only=True)
class Handed:
    """Everything that leaves the tool for one plan.

    `made` is the moment it is made, aware. `time_zone` holds where a building has none of its own. `contact` is whom
    the people in the rooms can ask. `over` are orders that are accepted or backed out, of which nobody is told any more.
    `crews` are those of the brief, so that one without an order is handed its calendar too. `outlook` is how sure the
    dates are, None where that was not asked for.
    """

    campus: str
    made: datetime
    snapshot: Snapshot
    brief: Brief
    reports: tuple[SegmentReport, ...]
    orders: tuple[Order, ...]
    windows: tuple[WindowsOfOrder, ...]
    plan: Plan
    takeoff: Takeoff
    time_zone: str = "UTC"
    contact: str = "the facilities office"
    over: frozenset[str] = frozenset()
    crews: tuple[str, ...] = ()
    outlook: Outlook | None = None

    @cached_property
    def buildings(self) -> dict[str, Building]:
        """Buildings by name."""
        return {building.key: building for building in self.snapshot.buildings}

    @cached_property
    def rooms(self) -> dict[tuple[str, str], Room]:
        """Rooms by building and name."""
        return {(self.snapshot.buildings[room.building].key, room.key): room for room in self.snapshot.rooms}

    @cached_property
    def placed(self) -> dict[str, Placed]:
        """Where each planned order stands in the plan."""
        return {placed.order: placed for placed in self.plan.placed}

    @cached_property
    def windows_of(self) -> dict[str, WindowsOfOrder]:
        """Windows by order."""
        return {windows.order: windows for windows in self.windows}

    def zone(self, building: str | None) -> ZoneInfo:
        """Return the zone whose clock hangs in the building."""
        found = self.buildings.get(building) if building is not None else None
        return ZoneInfo(found.time_zone if found is not None and found.time_zone else self.time_zone)

    def local(self, building: str | None, instant: datetime | None) -> datetime | None:
        """Return an instant as the clock in the building shows it."""
        return None if instant is None else instant.astimezone(self.zone(building)).replace(tzinfo=None)

    def building_name(self, key: str | None) -> str | None:
        """Return the full name of a building, if it is known."""
        found = self.buildings.get(key) if key is not None else None
        return found.name if found is not None else None

    def room_label(self, building: str, key: str) -> str:
        """Return a room as people know it: number and name."""
        found = self.rooms.get((building, key))
        return f"{key} {found.name}" if found is not None and found.name else key

    def rooms_label(self, order: Order) -> str:
        """Return the rooms of an order, those of other buildings with their building."""
        return ", ".join(
            self.room_label(building, key) if building == order.building else f"{building} {key}"
            for building, key in order.rooms
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """One order, planned or not, with the local times of its building."""

    order: Order
    placed: Placed | None
    reason: str | None
    building_name: str | None
    rooms: str
    start: datetime | None
    end: datetime | None
    dark_from: datetime | None
    dark_to: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRow:
    """One finding of one segment."""

    report: SegmentReport
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseRow:
    """One line to buy; `late_days` counts from its order-by date to the day of the hand-over, None if in time."""

    line: TakeoffLine
    late_days: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SureRow:
    """When one phase is done, by the clock of the campus: as planned, in half and in four fifths of the courses."""

    outlook: PhaseOutlook
    planned: datetime | None
    half: datetime | None
    most: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DowntimeRow:
    """When the rooms of one order are without their stations, and which other windows are open to it."""

    row: OrderRow
    windows: WindowsOfOrder | None
    earliest: datetime | None
    latest: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodLanding:
    """Where one signal lands, for one method; `faults` are said once, beside the method's first signal."""

    method: Method
    landing: LandingRow
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyRow:
    """One question to answer on site."""

    report: SegmentReport
    question: str
    places: str


def order_rows(handed: Handed) -> tuple[OrderRow, ...]:
    """Return planned orders by start, then the others by name."""
    reasons = {left.order: left.reason for left in handed.plan.unplanned}
    rows = [_order_row(handed, order, reasons.get(order.key)) for order in handed.orders]
    return tuple(sorted(rows, key=_by_start))


def _by_start(row: OrderRow) -> tuple[bool, float, str]:
    start = row.placed.start.timestamp() if row.placed is not None else 0.0
    return row.placed is None, start, row.order.key


def _order_row(handed: Handed, order: Order, reason: str | None) -> OrderRow:
    placed = handed.placed.get(order.key)
    times = (placed.start, placed.end, placed.dark_from, placed.dark_to) if placed is not None else (None,) * 4
    start, end, dark_from, dark_to = (handed.local(order.building, instant) for instant in times)
    return OrderRow(
        order=order,
        placed=placed,
        reason=reason,
        building_name=handed.building_name(order.building),
        rooms=handed.rooms_label(order),
        start=start,
        end=end,
        dark_from=dark_from,
        dark_to=dark_to,
    )


def phase_rows(handed: Handed) -> tuple[PhaseSummary, ...]:
    """Return the phases in the order of their dates."""
    return tuple(sorted(handed.plan.phases, key=lambda phase: (phase.start, phase.phase)))


def finding_rows(handed: Handed) -> tuple[FindingRow, ...]:
    """Return the findings of the segments that have old stations; of very many only those that do not plainly pass."""
    rows = [
        FindingRow(report=report, finding=finding)
        for report in handed.reports
        if report.old_stations
        for finding in report.findings
    ]
    if len(rows) > MOST_FINDINGS:
        rows = [row for row in rows if row.finding.outcome is not Outcome.PASS][:MOST_FINDINGS]
    return tuple(rows)


def purchase_rows(handed: Handed) -> tuple[PurchaseRow, ...]:
    """Return what must be bought, earliest order-by date first; lines of unknown date come first of all."""
    today = handed.made.astimezone(handed.zone(None)).date()
    lines = [line for line in handed.takeoff.lines if line.packs > 0]
    lines.sort(key=lambda line: (line.order_by or date.min, line.supplier or "", line.part, line.phase))
    return tuple(PurchaseRow(line=line, late_days=_late_days(line.order_by, today)) for line in lines)


def _late_days(order_by: date | None, today: date) -> int | None:
    if order_by is None or order_by >= today:
        return None
    return (today - order_by) // timedelta(days=1)


def sure_rows(handed: Handed) -> tuple[SureRow, ...]:
    """Return one line a phase that has something left to do, in the order of their dates."""
    return tuple(
        SureRow(
            outlook=phase,
            planned=handed.local(None, phase.planned),
            half=handed.local(None, phase.p50),
            most=handed.local(None, phase.p80),
        )
        for phase in (handed.outlook.phases if handed.outlook else ())
    )


def risky_rows(handed: Handed) -> tuple[OrderOutlook, ...]:
    """Return the orders that overran or were put off in some course, the likeliest first."""
    orders = handed.outlook.orders if handed.outlook else ()
    return tuple(one for one in orders if one.overruns > 0 or one.put_off > 0)


def downtime_rows(handed: Handed) -> tuple[DowntimeRow, ...]:
    """Return one line an order, in the order of the sheet Orders."""
    return tuple(_downtime_row(handed, row) for row in order_rows(handed))


def _downtime_row(handed: Handed, row: OrderRow) -> DowntimeRow:
    found = handed.windows_of.get(row.order.key)
    spans = found.windows if found is not None else ()
    return DowntimeRow(
        row=row,
        windows=found,
        earliest=handed.local(row.order.building, min((span.start for span in spans), default=None)),
        latest=handed.local(row.order.building, max((span.end for span in spans), default=None)),
    )


def landing_rows(handed: Handed) -> tuple[MethodLanding, ...]:
    """Return the landing tables of the methods that orders use, or of all methods where no order uses any."""
    used = {method for order in handed.orders for method in order.methods}
    methods = handed.snapshot.catalogue.methods
    chosen = [method for method in methods if method.key in used] or list(methods)
    return tuple(row for method in chosen for row in _landings(method))


def _landings(method: Method) -> list[MethodLanding]:
    table = landing_table(method)
    faults = check_landing(table)
    return [
        MethodLanding(method=method, landing=landing, faults=faults if number == 0 else ())
        for number, landing in enumerate(table)
    ]


def survey_rows(handed: Handed) -> tuple[SurveyRow, ...]:
    """Return every open question, building by building."""
    reports = sorted(handed.reports, key=lambda report: (report.building or "", report.segment))
    return tuple(
        SurveyRow(report=report, question=question, places=_places(handed, report))
        for report in reports
        for question in report.questions
    )


def _places(handed: Handed, report: SegmentReport) -> str:
    return ", ".join(handed.room_label(building, room) for building, room in report.places)
