"""What each page is for, in one line, and where its figures come from: PURPOSES is the one table of it.

The line stands under the heading, the sources in the title block at the foot. An address that only takes a form shows the page
that the form stands on.
"""

from dataclasses import dataclass

RECORDS = "the records as of the day below"
VERDICTS = "records and verdicts as of the days below; limits: page Sources"
IN_PLAN = "the plan, as made from the verdicts of its day"
STOCK = "the take-off of the plan, stock and deliveries on record"


@dataclass(frozen=True, slots=True, kw_only=True)
class Purpose:
    """One line, and where the figures of the page come from; none where it shows none."""

    line: str
    figures: str = ""


def _for(line: str, figures: str = "") -> Purpose:
    return Purpose(line=line, figures=figures)


PURPOSES: dict[str, Purpose] = {
    # Campus
    "campus": _for(
        "How the campus stands: what is judged, converted, overdue, and what holds the rest back.",
        "records and verdicts as of the days below; converted and overdue: orders of the plan in force; risk: page Ageing",
    ),
    "ageing": _for(
        "Which stations and rooms are likely to fail next, and what the failures on record say of each model.",
        "failures and days of installation on record, by the reckoning described here",
    ),
    "building": _for("What stands in this building, how it is judged, and the orders for it.", VERDICTS),
    "room": _for("What hangs in this room, and what is to be done about it.", VERDICTS),
    # Stations
    "stations": _for(
        "Every wall station: where it is, how old, how it is judged. Narrow, sort, and keep what is shown.", VERDICTS
    ),
    "station": _for(
        "All about this piece of equipment: its facts, verdict, order and failures.",
        "the records; risk: page Ageing; verdict: page of its segment",
    ),
    # Segments
    "segments": _for("What can be converted, and what is in the way where it cannot.", VERDICTS),
    "segment": _for(
        "Why this segment is judged so: wiring, rules, ways out, and what to land and measure where.",
        "the records; limits: page Sources; expected readings: the records by the copper tables on page Sources",
    ),
    "segment-drawing": _for("The wiring of this segment before and after the change.", RECORDS),
    "survey": _for("What somebody must find out on site before verdicts can be relied on.", VERDICTS),
    "survey-sheets": _for("The questions to be asked on site, room by room, to print and take along.", VERDICTS),
    "taken-ways": _for(
        "The ways out that planners have taken: what each changes, what it costs, and whether it still holds.",
        "parts and prices on record; rates of the brief",
    ),
    # Plans
    "plans": _for("The plans made so far, the one in force, and the briefs behind them.", "each plan, as it was made"),
    "brief": _for("Decide what a plan must obey, and have it made. A blank field keeps its default."),
    "scenario": _for("The crews, phases and closures that this brief plans with."),
    "scenario-copy": _for("Copy a brief, to try something without touching the first."),
    "order-choices": _for("Say which segments are done in one outage, and which never are.", VERDICTS),
    "plan": _for("When, by whom and for how much the work is done, what is left out and why.", IN_PLAN),
    "plan-compare": _for("Plans side by side: what each comes to, and what differs between them.", IN_PLAN),
    "plan-orders": _for(
        "The orders of this plan: where, when, by whom, for how much; why some are not dated.", IN_PLAN
    ),
    "plan-spares": _for(
        "How long the spares of each old model last along this plan.",
        "stock and failures on record, the plan's orders, simulated courses; page Ageing says how lives are reckoned",
    ),
    "plan-how-sure": _for(
        "How likely the dates of this plan are to hold.", "simulated courses, by the times of the methods' steps"
    ),
    "plan-packs": _for(
        "Work packs to print: one order begins on each new sheet.", "order, methods and records of today"
    ),
    "plan-notices": _for("One notice for each dated order, to print and hang up at the doors.", IN_PLAN),
    "orders": _for("The orders of the current plan: what is done where, when and by whom.", IN_PLAN),
    "order": _for(
        "This order: when, who, what goes dark, what it takes and costs.", "the plan; parts and prices of its day"
    ),
    "order-move": _for("Look what breaks if this order is moved, then keep it or put it off.", IN_PLAN),
    "order-work": _for(
        "Do this order step by step at the wall box: tick, measure, photograph, accept or back out.",
        "methods on record; expected readings: the records by the copper tables on page Sources",
    ),
    "order-pack": _for("The work pack of this order, to print and take along.", "order, methods and records of today"),
    "feeds": _for("Have orders shown in a calendar program, by an address of your own."),
    # Materials
    "materials": _for("What to buy, by when and from whom; what is late stands in front.", STOCK),
    "material": _for("What there is of this part, what is due, and what the plan takes, day by day.", STOCK),
    # Intake
    "intake": _for("Take the records of the campus in from a workbook, or take the last intake back."),
    "intake-job": _for(
        "What this workbook would change and what is wrong with it, before anything is stored.", "the workbook"
    ),
    "intake-back": _for("Take an intake back: see what would go and what would stay, then decide."),
    # Background work
    "job": _for("How far this work is. It goes on without this page: leave it and come back."),
    # Reference
    "records": _for("What is on file about the campus, one list for each sheet of the workbook.", RECORDS),
    "audit": _for("Who did what, newest first."),
    "search": _for(
        "Find any building, room, node, bus, segment, order, part or model by part of its name, and the orders of a crew."
    ),
    "words": _for("One word for one thing, on every page, in every file and on every printed sheet."),
    "sources": _for(
        "Every limit that a verdict is measured against, and where it comes from.", "the document beside each"
    ),
    "workbook": _for("What each sheet and column of the workbook holds, and the workbook itself, blank or filled."),
    "crew-people": _for(
        "Say who is on which crew: people with the role crew see and carry out its orders, and no others."
    ),
    "password": _for("Change your own password."),
}

RECORD_PAGES: dict[str, Purpose] = {  # of each sheet: the last part of the address's name
    "records": _for("Every record of this sheet: narrow, sort, keep what is shown, or change it.", RECORDS),
    "record": _for("This record: its facts, and who changed what when.", RECORDS),
    "new": _for("Put a new record on file; the verdicts that hang on it are judged again."),
    "change": _for("Change this record; the verdicts that hang on it are judged again."),
    "remove": _for("Take this record off file; what hangs on it is named first."),
    "bulk": _for("Give one fact of all records shown the same value; what changes is shown first."),
}

SHOWN_BY: dict[str, str] = {  # an address that takes a form -> the page on which the form stands
    "report-failure": "station",
    "segment-read": "segment",
    "scenario-keep": "scenario",
    "order-entry": "order-work",
    "order-after": "order",
    "order-put-off": "order-move",
    "order-mended": "order",
    "order-choice-keep": "order-choices",
    "material-ordered": "material",
    "material-delivered": "material",
    "material-expected": "material",
    "intake-calendars": "intake",
    "intake-take": "intake-job",
    "job-again": "job",
    "crew-people-keep": "crew-people",
    "feed-open": "feeds",
    "take-below": "segments",
}


def purpose_of(name: str) -> Purpose | None:
    """Return what the page behind the name of an address is for; None where it is no page, or one that every site has.

    Examples
    --------
    >>> purpose_of("report-failure") == purpose_of("station"), purpose_of("rooms-bulk") == RECORD_PAGES["bulk"]
    (True, True)

    """
    name = SHOWN_BY.get(name, name)
    return PURPOSES.get(name) or RECORD_PAGES.get(name.rpartition("-")[2])
