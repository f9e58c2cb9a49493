"""The columns of every sheet of the hand-over, once: heading, width, how a value is written, where it comes from."""

from collections.abc import Callable
from typing import Any

from planner.core.findings import Outcome, SegmentReport, WayOut
from planner.core.materials import TakeoffLine
from planner.core.outlook import OrderOutlook
from planner.core.plans import Order, PhaseSummary
from planner.handover.columns import Column, Row, Shape, Table, Value
from planner.handover.facts import (
    DowntimeRow,
    FindingRow,
    Handed,
    MethodLanding,
    OrderRow,
    PurchaseRow,
    SureRow,
    SurveyRow,
    downtime_rows,
    finding_rows,
    landing_rows,
    order_rows,
    phase_rows,
    purchase_rows,
    risky_rows,
    sure_rows,
    survey_rows,
)


def _column(
    name: str, heading: str, width: int, shape: Shape, get: Callable[[Row], Value], *, total: bool = False
) -> Column[Row]:
    return Column(name=name, heading=heading, width=width, shape=shape, get=get, total=total)


def _reckoned(name: str, heading: str, width: int, shape: Shape, formula: str, *, total: bool = False) -> Column[Any]:
    return Column(name=name, heading=heading, width=width, shape=shape, formula=formula, total=total)


def _listed(names: tuple[str, ...]) -> str | None:
    return ", ".join(names) or None


def _freed(order: Order) -> str | None:
    return ", ".join(f"{count} {model}" for model, count in order.freed) or None


def _extras(order: Order) -> str | None:
    return ", ".join(f"{extra} on {segment}" for segment, extra in order.extras) or None


def _watches(order: Order) -> str | None:
    """Return the dark rooms that must not fail or lie on a way out, each with why."""
    return "; ".join(f"{one.building} {one.room}: {one.why}" for one in order.watches) or None


def _changes(order: Order) -> str | None:
    """Return what a way out that was taken asks for, extras aside: they have their own column."""
    own = {extra for _, extra in order.extras}
    return "; ".join(f"{step.what}: {step.words}" for step in order.changes if step.what not in own) or None


def _lowest_volts(report: SegmentReport) -> float | None:
    """Return the lowest voltage predicted, None where one load has no operating point or nothing was reckoned."""
    volts = [load.voltage_v for load in report.voltages]
    known = [value for value in volts if value is not None]
    return round(min(known), 2) if known and len(known) == len(volts) else None


def _sure_note(row: SureRow) -> str | None:
    """Say what a blank date means: in so many courses not all of it is done."""
    missing = [words for moment, words in ((row.half, "half"), (row.most, "four in five")) if moment is None]
    return f"not done within the windows known in {' and '.join(missing)} of the courses" if missing else None


def _way_out(report: SegmentReport) -> str | None:
    """Return the cheapest way out in one sentence; what is not looked for is left blank."""
    way = report.way_out
    if way is None:
        return None
    changes = "; ".join(f"{change.what}: {change.words}" for change in way.changes) or "no change of its own"
    with_others = f", along with {', '.join(way.along)}" if way.along else ""
    first = "questions first; then, if need be: " if way.questions_first else ""
    unpriced = "" if way.price is not None else f" ({_not_wholly_priced(way)})"
    said = f"{changes}{with_others}" if way.passes else f"nothing tried passes; {changes}"
    return " ".join((f"{first}{said}{unpriced}", *(f"({line})" for line in way.moves_again)))


def _not_wholly_priced(way: WayOut) -> str:
    """Say between which prices a way out lies where a length is missing."""
    if way.at_most is None:
        return "price not wholly known" if way.a_metre is None else _by_the_metre(way)
    return f"from {way.priced} to {way.at_most} {way.currency} if {way.at_most_if}"


def _by_the_metre(way: WayOut) -> str:
    return f"from {way.priced} {way.currency}, and {way.a_metre} {way.currency} for each metre of unknown length"


def _not_passed(report: SegmentReport) -> str | None:
    """Return the rules that do not plainly pass, with their outcome."""
    told = [
        f"{finding.rule} {finding.outcome.value}" for finding in report.findings if finding.outcome is not Outcome.PASS
    ]
    if told:
        return ", ".join(told)
    return "all pass" if report.findings else None


PHASES: tuple[Column[PhaseSummary], ...] = (
    _column("phase", "Phase", 14, Shape.TEXT, lambda row: row.phase),
    _column("start", "Start", 13, Shape.DATE, lambda row: row.start),
    _column("end", "End", 13, Shape.DATE, lambda row: row.end),
    _reckoned("orders", "Orders", 9, Shape.WHOLE, "=COUNTIF({Orders.phase},{phase})", total=True),
    _reckoned("stations", "Stations", 9, Shape.WHOLE, "=SUMIF({Orders.phase},{phase},{Orders.count})", total=True),
    _reckoned("cost", "Cost", 16, Shape.MONEY, "=SUMIF({Orders.phase},{phase},{Orders.cost})", total=True),
    _column("budget", "Budget", 16, Shape.MONEY, lambda row: row.budget, total=True),
    _reckoned("left", "Left", 16, Shape.MONEY, '=IF({budget}="","",{budget}-{cost})'),
    _column("currency", "Currency", 9, Shape.TEXT, lambda row: row.currency),
    _column("first", "First night", 13, Shape.DATE, lambda row: row.first_night),
    _column("last", "Last night", 13, Shape.DATE, lambda row: row.last_night),
    _column("order_by", "Materials ordered on", 13, Shape.DATE, lambda row: row.materials_order_by),
)

ORDERS: tuple[Column[OrderRow], ...] = (
    _column("order", "Order", 13, Shape.TEXT, lambda row: row.order.key),
    _column("phase", "Phase", 11, Shape.TEXT, lambda row: row.placed.phase if row.placed else None),
    _column("night", "Night of", 13, Shape.DATE, lambda row: row.placed.night if row.placed else None),
    _column("crew", "Crew", 14, Shape.TEXT, lambda row: row.placed.crew if row.placed else None),
    _column("start", "On site from (local)", 21, Shape.MOMENT, lambda row: row.start),
    _column("end", "On site to (local)", 21, Shape.MOMENT, lambda row: row.end),
    _column("building", "Building", 10, Shape.TEXT, lambda row: row.order.building),
    _column("building_name", "Name", 18, Shape.TEXT, lambda row: row.building_name),
    _column("rooms", "Rooms affected", 32, Shape.LONG_TEXT, lambda row: row.rooms),
    _column("watches", "Post a watch in", 32, Shape.LONG_TEXT, lambda row: _watches(row.order)),
    _column("segments", "Segments", 18, Shape.LONG_TEXT, lambda row: _listed(row.order.segments)),
    _column("after", "Comes after", 13, Shape.LONG_TEXT, lambda row: _listed(row.order.predecessors)),
    _column("count", "Stations", 9, Shape.WHOLE, lambda row: len(row.order.stations), total=True),
    _column("stations", "Stations by name", 26, Shape.LONG_TEXT, lambda row: _listed(row.order.stations)),
    _column("methods", "Methods", 12, Shape.TEXT, lambda row: _listed(row.order.methods)),
    _column("extras", "Extras", 22, Shape.LONG_TEXT, lambda row: _extras(row.order)),
    _column("changes", "Changes beside the conversion", 32, Shape.LONG_TEXT, lambda row: _changes(row.order)),
    _column("freed", "Freed for spares", 18, Shape.LONG_TEXT, lambda row: _freed(row.order)),
    _column("people", "People", 8, Shape.WHOLE, lambda row: row.order.people),
    _column("onsite", "On site (min)", 9, Shape.WHOLE, lambda row: row.order.onsite_min, total=True),
    _column("outage", "Outage (min)", 9, Shape.WHOLE, lambda row: row.order.outage_min, total=True),
    _column("parts", "Parts", 14, Shape.MONEY, lambda row: row.order.cost_parts, total=True),
    _column("changed", "Pulling and moving", 14, Shape.MONEY, lambda row: row.order.cost_changes, total=True),
    _column("labour", "Labour", 14, Shape.MONEY, lambda row: row.order.cost_labour, total=True),
    _column("dark", "Outage cost", 14, Shape.MONEY, lambda row: row.order.cost_outage, total=True),
    _column("call_out", "Call-out", 12, Shape.MONEY, lambda row: row.order.cost_call_out, total=True),
    _reckoned("cost", "Cost", 14, Shape.MONEY, "={parts}+{changed}+{labour}+{dark}+{call_out}", total=True),
    _column("currency", "Currency", 9, Shape.TEXT, lambda row: row.order.currency),
    _column("unpriced", "Price not known", 16, Shape.LONG_TEXT, lambda row: _listed(row.order.unpriced)),
    _column("benefit", "Benefit", 9, Shape.NUMBER, lambda row: row.order.benefit, total=True),
    _column("reason", "Not planned because", 40, Shape.LONG_TEXT, lambda row: row.reason),
)

SEGMENTS: tuple[Column[SegmentReport], ...] = (
    _column("segment", "Segment", 13, Shape.TEXT, lambda row: row.segment),
    _column("building", "Building", 10, Shape.TEXT, lambda row: row.building),
    _column("verdict", "Verdict", 14, Shape.TEXT, lambda row: row.verdict.value),
    _column("why", "Why", 48, Shape.LONG_TEXT, lambda row: row.why),
    _column("count", "Old stations", 9, Shape.WHOLE, lambda row: len(row.old_stations), total=True),
    _column("stations", "Old stations by name", 26, Shape.LONG_TEXT, lambda row: _listed(row.old_stations)),
    _column("gateways", "Gateways", 14, Shape.LONG_TEXT, lambda row: _listed(row.gateways)),
    _column("others", "Others on it", 16, Shape.LONG_TEXT, lambda row: _listed(row.others)),
    _column("extras", "Extras", 16, Shape.LONG_TEXT, lambda row: _listed(row.extras)),
    _column("methods", "Methods", 12, Shape.LONG_TEXT, lambda row: _listed(tuple(sorted({m for _, m in row.methods})))),
    _column("protocol", "New protocol", 20, Shape.TEXT, lambda row: row.new_protocol),
    _column("rate", "Bit rate (kbit/s)", 9, Shape.NUMBER, lambda row: row.bit_rate_kbit_s),
    _column("wire", "Wire (m)", 10, Shape.NUMBER, lambda row: row.wire_m, total=True),
    _column("volts", "Lowest voltage (V)", 10, Shape.NUMBER, _lowest_volts),
    _column("findings", "Findings", 30, Shape.LONG_TEXT, _not_passed),
    _column("questions", "Questions", 9, Shape.WHOLE, lambda row: len(row.questions), total=True),
    _column("way_out", "Way out", 40, Shape.LONG_TEXT, _way_out),
    _column(
        "way_price", "Price of the way out", 14, Shape.MONEY, lambda row: row.way_out.price if row.way_out else None
    ),
    _column(
        "way_most",
        "At most, where a length is missing",
        14,
        Shape.MONEY,
        lambda row: row.way_out.at_most if row.way_out else None,
    ),
    _column("way_currency", "Currency", 9, Shape.TEXT, lambda row: row.way_out.currency if row.way_out else None),
)


def _settled(row: FindingRow, figure: float | None) -> float | None:
    """Return a figure, None where a fact is missing: it is a bound then, and only the sentence says so."""
    return None if row.finding.outcome is Outcome.UNKNOWN else figure


FINDINGS: tuple[Column[FindingRow], ...] = (
    _column("segment", "Segment", 13, Shape.TEXT, lambda row: row.report.segment),
    _column("verdict", "Verdict", 14, Shape.TEXT, lambda row: row.report.verdict.value),
    _column("rule", "Rule", 12, Shape.TEXT, lambda row: row.finding.rule),
    _column("outcome", "Outcome", 10, Shape.TEXT, lambda row: row.finding.outcome.value),
    _column("measured", "Value", 11, Shape.NUMBER, lambda row: _settled(row, row.finding.measured)),
    _column("limit", "Limit", 11, Shape.NUMBER, lambda row: row.finding.limit),
    _column("margin", "Left to the limit", 11, Shape.NUMBER, lambda row: _settled(row, row.finding.margin)),
    _column("unit", "Unit", 8, Shape.TEXT, lambda row: row.finding.unit),
    _column("why", "Why", 56, Shape.LONG_TEXT, lambda row: row.finding.why),
    _column("cured", "Cured by", 14, Shape.TEXT, lambda row: row.finding.cured_by),
    _column("missing", "Not known", 28, Shape.LONG_TEXT, lambda row: _listed(row.finding.missing)),
    _column("source", "Limit from", 36, Shape.LONG_TEXT, lambda row: row.finding.source),
)

TAKEOFF: tuple[Column[TakeoffLine], ...] = (
    _column("phase", "Phase", 14, Shape.TEXT, lambda row: row.phase),
    _column("part", "Part", 12, Shape.TEXT, lambda row: row.part),
    _column("description", "Description", 36, Shape.LONG_TEXT, lambda row: row.description),
    _column("unit", "Unit", 8, Shape.TEXT, lambda row: row.unit),
    _column("gross", "Gross", 9, Shape.QUANTITY, lambda row: row.gross),
    _column("allowance", "Allowance", 10, Shape.QUANTITY, lambda row: row.allowance),
    _column("stock", "From stock", 10, Shape.QUANTITY, lambda row: row.from_stock),
    _column("freed", "Freed earlier", 10, Shape.QUANTITY, lambda row: row.from_freed),
    _column("due", "Due by then", 10, Shape.QUANTITY, lambda row: row.from_due),
    _reckoned("net", "Net", 9, Shape.QUANTITY, "={gross}+{allowance}-{stock}-{freed}-{due}"),
    _column("pack", "Pack", 7, Shape.QUANTITY, lambda row: row.pack),
    _column("packs", "Packs", 7, Shape.WHOLE, lambda row: row.packs),
    _reckoned("bought", "Bought", 9, Shape.QUANTITY, "={pack}*{packs}"),
    _column("price", "Price", 13, Shape.MONEY, lambda row: row.price),
    _column("currency", "Currency", 9, Shape.TEXT, lambda row: row.currency),
    _reckoned("cost", "Cost", 15, Shape.MONEY, '=IF({price}="","",{bought}*{price})', total=True),
    _column("need", "First need", 13, Shape.DATE, lambda row: row.first_need),
    _column("order_by", "Order by", 13, Shape.DATE, lambda row: row.order_by),
    _column("supplier", "Supplier", 22, Shape.TEXT, lambda row: row.supplier),
    _column("note", "Note", 30, Shape.LONG_TEXT, lambda row: row.note),
)

PURCHASES: tuple[Column[PurchaseRow], ...] = (
    _column("order_by", "Order by", 13, Shape.DATE, lambda row: row.line.order_by),
    _column("late", "Days late", 8, Shape.WHOLE, lambda row: row.late_days),
    _column("supplier", "Supplier", 22, Shape.TEXT, lambda row: row.line.supplier),
    _column("part", "Part", 12, Shape.TEXT, lambda row: row.line.part),
    _column("description", "Description", 36, Shape.LONG_TEXT, lambda row: row.line.description),
    _column("packs", "Packs", 7, Shape.WHOLE, lambda row: row.line.packs),
    _column("pack", "Pack", 7, Shape.QUANTITY, lambda row: row.line.pack),
    _reckoned("quantity", "Quantity", 9, Shape.QUANTITY, "={pack}*{packs}"),
    _column("unit", "Unit", 8, Shape.TEXT, lambda row: row.line.unit),
    _column("price", "Price", 13, Shape.MONEY, lambda row: row.line.price),
    _column("currency", "Currency", 9, Shape.TEXT, lambda row: row.line.currency),
    _reckoned("cost", "Cost", 15, Shape.MONEY, '=IF({price}="","",{quantity}*{price})', total=True),
    _column("phase", "For phase", 12, Shape.TEXT, lambda row: row.line.phase),
    _column("need", "First need", 13, Shape.DATE, lambda row: row.line.first_need),
    _column("note", "Note", 30, Shape.LONG_TEXT, lambda row: row.line.note),
)

DOWNTIME: tuple[Column[DowntimeRow], ...] = (
    _column("building", "Building", 10, Shape.TEXT, lambda row: row.row.order.building),
    _column("rooms", "Rooms", 40, Shape.LONG_TEXT, lambda row: row.row.rooms),
    _column("from", "Dark from (local)", 21, Shape.MOMENT, lambda row: row.row.dark_from),
    _column("to", "Dark to (local)", 21, Shape.MOMENT, lambda row: row.row.dark_to),
    _column("minutes", "Outage (min)", 9, Shape.WHOLE, lambda row: row.row.order.outage_min, total=True),
    _column("order", "Order", 13, Shape.TEXT, lambda row: row.row.order.key),
    _column("crew", "Crew", 14, Shape.TEXT, lambda row: row.row.placed.crew if row.row.placed else None),
    _column(
        "open", "Windows open to it", 10, Shape.WHOLE, lambda row: len(row.windows.windows) if row.windows else None
    ),
    _column("earliest", "First window (local)", 21, Shape.MOMENT, lambda row: row.earliest),
    _column("latest", "Last window ends (local)", 21, Shape.MOMENT, lambda row: row.latest),
    _column(
        "longest",
        "Longest free (min)",
        10,
        Shape.WHOLE,
        lambda row: row.windows.longest_free_min if row.windows else None,
    ),
    _column(
        "problems", "To settle", 40, Shape.LONG_TEXT, lambda row: _listed(row.windows.problems) if row.windows else None
    ),
)

SURE: tuple[Column[SureRow], ...] = (
    _column("phase", "Phase", 14, Shape.TEXT, lambda row: row.outlook.phase),
    _column("orders", "Orders to do", 9, Shape.WHOLE, lambda row: row.outlook.orders, total=True),
    _column("planned", "Done as planned (local)", 21, Shape.MOMENT, lambda row: row.planned),
    _column("half", "Half of the courses by", 21, Shape.MOMENT, lambda row: row.half),
    _column("most", "Four in five by", 21, Shape.MOMENT, lambda row: row.most),
    _column("closes", "Last day of the phase", 13, Shape.DATE, lambda row: row.outlook.closes),
    _column("spills", "Odds to run past it", 12, Shape.SHARE, lambda row: row.outlook.spills),
    _column("note", "Note", 44, Shape.LONG_TEXT, _sure_note),
)

RISKY: tuple[Column[OrderOutlook], ...] = (
    _column("order", "Order", 13, Shape.TEXT, lambda row: row.order),
    _column("building", "Building", 10, Shape.TEXT, lambda row: row.building),
    _column("night", "Night of", 13, Shape.DATE, lambda row: row.night),
    _column("planned", "On site as planned (min)", 11, Shape.WHOLE, lambda row: row.planned_min),
    _column("mean", "On the average (min)", 11, Shape.NUMBER, lambda row: row.mean_min),
    _column("room", "Room to the end of its window (min)", 12, Shape.NUMBER, lambda row: row.room_min),
    _column("overruns", "Odds to overrun", 10, Shape.SHARE, lambda row: row.overruns),
    _column("put_off", "Odds to be put off", 10, Shape.SHARE, lambda row: row.put_off),
    _column("not_done", "Odds not to be done", 10, Shape.SHARE, lambda row: row.not_done),
)

LANDINGS: tuple[Column[MethodLanding], ...] = (
    _column("method", "Method", 11, Shape.TEXT, lambda row: row.method.key),
    _column("old_model", "Old model", 11, Shape.TEXT, lambda row: row.method.old_model),
    _column("new_model", "New model", 11, Shape.TEXT, lambda row: row.method.new_model),
    _column("signal", "Signal", 12, Shape.TEXT, lambda row: row.landing.signal),
    _column("conductor", "Old conductor", 24, Shape.TEXT, lambda row: row.landing.conductor_words),
    _column("terminal", "Terminal", 10, Shape.TEXT, lambda row: row.landing.terminal_words),
    _column("bridge", "Bridge", 16, Shape.TEXT, lambda row: "to its second pin" if row.landing.bridged else None),
    _column("pin", "RJ45 pin", 8, Shape.WHOLE, lambda row: row.landing.rj45_pin),
    _column("colour_a", "Lead colour T568A", 16, Shape.TEXT, lambda row: row.landing.colour_t568a),
    _column("pair_a", "Pair T568A", 7, Shape.WHOLE, lambda row: row.landing.pair_t568a),
    _column("colour_b", "Lead colour T568B", 16, Shape.TEXT, lambda row: row.landing.colour_t568b),
    _column("pair_b", "Pair T568B", 7, Shape.WHOLE, lambda row: row.landing.pair_t568b),
    _column("source", "Assignment from", 22, Shape.TEXT, lambda row: row.landing.source),
    _column("caution", "Caution", 40, Shape.LONG_TEXT, lambda row: row.method.caution),
    _column("faults", "To settle before work", 40, Shape.LONG_TEXT, lambda row: _listed(row.faults)),
)

SURVEY: tuple[Column[SurveyRow], ...] = (
    _column("building", "Building", 10, Shape.TEXT, lambda row: row.report.building),
    _column("segment", "Segment", 13, Shape.TEXT, lambda row: row.report.segment),
    _column("places", "Rooms", 32, Shape.LONG_TEXT, lambda row: row.places),
    _column("question", "Question", 60, Shape.LONG_TEXT, lambda row: row.question),
    _column("stations", "Old stations waiting", 9, Shape.WHOLE, lambda row: len(row.report.old_stations)),
    _column("answer", "Answer", 30, Shape.LONG_TEXT, lambda _row: None),
    _column("seen_by", "Seen by", 14, Shape.TEXT, lambda _row: None),
    _column("seen_on", "Seen on", 13, Shape.DATE, lambda _row: None),
)


def handover_tables(handed: Handed) -> tuple[Table[Any], ...]:
    """Return the sheets that follow the Summary, in their order."""
    return (
        Table(
            title="Phases",
            columns=PHASES,
            rows=phase_rows(handed),
            currency=lambda row: row.currency,
            empty="no phase",
        ),
        Table(
            title="Orders",
            columns=ORDERS,
            rows=order_rows(handed),
            currency=lambda row: row.order.currency,
            empty="no segment can be converted yet",
        ),
        Table(title="Segments", columns=SEGMENTS, rows=handed.reports, empty="no segment"),
        Table(title="Findings", columns=FINDINGS, rows=finding_rows(handed), empty="no finding"),
        Table(
            title="Take-off",
            columns=TAKEOFF,
            rows=handed.takeoff.lines,
            currency=lambda row: row.currency,
            empty="nothing is used",
        ),
        Table(
            title="Purchases",
            columns=PURCHASES,
            rows=purchase_rows(handed),
            currency=lambda row: row.line.currency,
            empty="nothing to buy",
        ),
        Table(title="Downtime windows", columns=DOWNTIME, rows=downtime_rows(handed), empty="no outage"),
        Table(title="How sure", columns=SURE, rows=sure_rows(handed), empty="nothing is left to chance"),
        Table(
            title="Orders at risk",
            columns=RISKY,
            rows=risky_rows(handed),
            empty="no order overran its window or was put off in any course",
        ),
        Table(title="Landing tables", columns=LANDINGS, rows=landing_rows(handed), empty="no method has pins"),
        Table(title="Survey", columns=SURVEY, rows=survey_rows(handed), empty="no open question"),
    )
