"""THE table of the workbook: every sheet, heading, type, unit, meaning and example.

The reader, the blank workbook, the filled workbook, the help page and the checks all go by it. Sheets stand in the
order in which they can be stored: a sheet refers only to itself or to sheets above it.
"""

from inventory.workbook.columns import Column, Kind, OtherUnit, Sheet

FOOT_M = 0.3048  # exact, international foot (1959)
LONGEST_RUN_M = 100_000.0  # a longer figure is a slip of the pen

NODE_KINDS = ("station", "gateway", "panel", "controller", "sensor", "supply", "junction", "other")
LAYOUTS = ("line", "tree", "any")
ENDS_ITS_BUS = ("yes", "no", "switch")
CONDUCTOR_CLASSES = ("solid", "stranded", "class 1", "class 2", "class 5")
EXTRAS = ("end resistor", "local supply", "box adapter", "larger supply", "lower bit rate")
PER = ("station", "cable end", "segment", "gateway", "order")
OUTCOMES = ("repaired", "replaced", "removed")
CLOSURE_KINDS = ("keep out", "welcome")


def _key(heading: str, meaning: str, example: str) -> Column:
    return Column(name="key", heading=heading, kind=Kind.KEY, required=True, meaning=meaning, example=example)


def _text(name: str, heading: str, meaning: str, example: str, *, required: bool = False) -> Column:
    return Column(name=name, heading=heading, kind=Kind.TEXT, meaning=meaning, example=example, required=required)


def _number(  # noqa: PLR0913 - one argument a fact of the column
    name: str,
    heading: str,
    unit: str | None,
    meaning: str,
    example: str,
    *,
    highest: float | None = None,
    lowest: float | None = 0.0,
) -> Column:
    return Column(
        name=name,
        heading=heading,
        kind=Kind.NUMBER,
        unit=unit,
        meaning=meaning,
        example=example,
        lowest=lowest,
        highest=highest,
    )


def _metres(name: str, stem: str, meaning: str, example: str, *, signed: bool = False) -> Column:
    """Return a column of lengths that is read in feet too."""
    return Column(
        name=name,
        heading=f"{stem} (m)",
        kind=Kind.NUMBER,
        unit="m",
        meaning=meaning,
        example=example,
        lowest=None if signed else 0.0,
        highest=LONGEST_RUN_M,
        other_units=(OtherUnit(heading=f"{stem} (ft)", factor=FOOT_M),),
    )


def _whole(  # noqa: PLR0913 - one argument a fact of the column
    name: str,
    heading: str,
    meaning: str,
    example: str,
    *,
    unit: str | None = None,
    required: bool = False,
    lowest: float = 0,
    highest: float | None = None,
) -> Column:
    return Column(
        name=name,
        heading=heading,
        kind=Kind.WHOLE,
        unit=unit,
        meaning=meaning,
        example=example,
        required=required,
        lowest=lowest,
        highest=highest,
    )


def _date(name: str, heading: str, meaning: str, example: str, *, required: bool = False) -> Column:
    return Column(name=name, heading=heading, kind=Kind.DATE, meaning=meaning, example=example, required=required)


def _moment(name: str, heading: str, meaning: str, example: str) -> Column:
    return Column(name=name, heading=heading, kind=Kind.MOMENT, meaning=meaning, example=example, required=True)


def _yes_no(name: str, heading: str, meaning: str, example: str = "yes") -> Column:
    return Column(name=name, heading=heading, kind=Kind.YES_NO, meaning=meaning, example=example)


def _choice(  # noqa: PLR0913 - one argument a fact of the column
    name: str, heading: str, choices: tuple[str, ...], meaning: str, example: str, *, required: bool = False
) -> Column:
    return Column(
        name=name,
        heading=heading,
        kind=Kind.CHOICE,
        choices=choices,
        meaning=meaning,
        example=example,
        required=required,
    )


def _ref(  # noqa: PLR0913 - one argument a fact of the column
    name: str,
    heading: str,
    refers_to: str,
    meaning: str,
    example: str,
    *,
    required: bool = False,
    within: str | None = None,
) -> Column:
    return Column(
        name=name,
        heading=heading,
        kind=Kind.REFERENCE,
        refers_to=refers_to,
        within=within,
        meaning=meaning,
        example=example,
        required=required,
    )


BUILDINGS = Sheet(
    code="buildings",
    title="Buildings",
    meaning="Every building of the campus, one row each.",
    key=("key",),
    columns=(
        _key("Building", "Short name of the building, as on the door plates", "B04"),
        _text("name", "Name", "Full name", "Weir House"),
        _text("district", "District", "Part of the campus; crews need travel time between districts", "North bank"),
        _text("time_zone", "Time zone", "IANA name of the time zone the building keeps", "Europe/Lisbon"),
        _text("holidays", "Holidays", "ISO 3166 code whose public holidays the building keeps", "PT"),
        _whole("outages_at_once", "Outages at once", "How many orders may be open at one time", "1", lowest=1),
    ),
)

ROOMS = Sheet(
    code="rooms",
    title="Rooms",
    meaning="Every room that has a station or is served by one.",
    key=("building", "key"),
    columns=(
        _ref("building", "Building", "buildings", "Building the room is in", "B04", required=True),
        _key("Room", "Room number, unique in its building", "1.07"),
        _text("floor", "Floor", "Floor as people say it", "1"),
        _text("name", "Name", "What people call the room", "Model workshop"),
        _text("use", "Use", "What the room is for", "workshop"),
        _whole("importance", "Importance", "1 low to 5 must not fail", "3", lowest=1, highest=5),
        _text("calendar", "Calendar", "File name of the .ics with the room's bookings", "B04-1.07.ics"),
    ),
)

PROTOCOLS = Sheet(
    code="protocols",
    title="Protocols",
    meaning="Limits of each bus, one row per bit rate. Open standards come built in, each with its source.",
    key=("protocol", "bit_rate_kbit_s"),
    columns=(
        _ref(
            "protocol",
            "Protocol",
            "protocol_names",
            "Name of the bus standard or in-house bus",
            "PAIRBUS",
            required=True,
        ),
        _number(
            "bit_rate_kbit_s",
            "Bit rate (kbit/s)",
            "kbit/s",
            "Bit rate this row is for; blank where there is one",
            "125",
        ),
        _choice("layout", "Layout", LAYOUTS, "Layout the wiring may have", "line"),
        _metres("longest_bus_m", "Longest bus", "Longest trunk from end to end", "500"),
        _metres("longest_stub_m", "Longest stub", "Longest single branch off the trunk", "22"),
        _metres("all_stubs_m", "All stubs", "Sum of all branches off the trunk", "110"),
        _metres("farthest_pair_m", "Farthest pair", "Longest way along the wire between any two nodes", "300"),
        _metres("total_wire_m", "Total wire", "Sum of all wire of the segment", "450"),
        _metres("less_per_node_m", "Less per node", "Length taken off the longest bus for each node", "6"),
        _number(
            "less_per_stub_m",
            "Less per stub metre",
            "m/m",
            "Length taken off the longest bus for each metre of stub",
            "2",
        ),
        _whole("most_nodes", "Most nodes", "Most nodes on one segment", "64"),
        _number("most_unit_loads", "Most unit loads", None, "Most receiver unit loads on one segment", "32"),
        _whole("ends", "Ends", "How many end resistors the bus needs: 0, 1 or 2", "2", highest=2),
        _number("end_ohm", "End resistance (ohm)", "ohm", "Resistance of one end resistor", "120"),
        _number("lowest_impedance_ohm", "Lowest impedance (ohm)", "ohm", "Lowest cable impedance that serves", "95"),
        _number(
            "highest_impedance_ohm", "Highest impedance (ohm)", "ohm", "Highest cable impedance that serves", "140"
        ),
        _yes_no("power_on_bus", "Power on bus", "Whether the cable carries the stations' power as well"),
        _text("source", "Source", "Document, edition and clause the limits come from", "ISO 11898-2"),
    ),
)

CABLES = Sheet(
    code="cables",
    title="Cables",
    meaning="Kinds of cable in the walls and on the shelf.",
    key=("key",),
    columns=(
        _key("Cable", "Name of the cable kind", "2x2 18AWG"),
        _text("power_conductor", "Power conductor", "Size of one power conductor, `18 AWG` or `0.75 mm2`", "18 AWG"),
        _whole("power_pairs", "Power pairs", "Pairs in parallel that carry power", "1"),
        _choice("conductor_class", "Conductor class", CONDUCTOR_CLASSES, "Make-up of the conductor", "stranded"),
        _whole("data_pairs", "Data pairs", "Twisted pairs for data", "1"),
        _number("impedance_ohm", "Impedance (ohm)", "ohm", "Characteristic impedance of the data pair", "120"),
        _yes_no("screened", "Screened", "Whether the cable has a screen"),
        _text("category", "Category", "Category of balanced cable, where it is one", "5e"),
    ),
)

PARTS = Sheet(
    code="parts",
    title="Parts",
    meaning="What purchasing buys.",
    key=("key",),
    columns=(
        _key("Part", "Part number", "P-1001"),
        _text("description", "Description", "What it is", "Breakout, screw terminals to RJ45"),
        _text("unit", "Unit", "Unit it is counted in", "piece"),
        _number("pack", "Pack", None, "Units in one pack, the least that can be bought", "10"),
        Column(
            name="price",
            heading="Price",
            kind=Kind.MONEY,
            meaning="Price of one unit",
            example="7.40",
        ),
        _text("currency", "Currency", "ISO 4217 code of the price", "EUR"),
        _whole("lead_time_days", "Lead time (days)", "Calendar days from order to delivery", "28", unit="d"),
        _text("supplier", "Supplier", "Who sells it", "Northquay Supply"),
        _number("on_hand", "On hand", None, "Units on the shelf now", "14"),
        _number("spare_allowance_pct", "Spare allowance (%)", "%", "Extra to buy against breakage", "5"),
    ),
)

MODELS = Sheet(
    code="models",
    title="Models",
    meaning="The catalogue: what a node is.",
    key=("key",),
    columns=(
        _key("Model", "Model name", "WS-20"),
        _choice("kind", "Kind", NODE_KINDS, "Kind of node", "station", required=True),
        _text("description", "Description", "What it is", "Wall station, 4 sliders"),
        _ref("protocol", "Protocol", "protocol_names", "Bus it speaks", "PAIRBUS"),
        _ref("protocol_2", "Protocol 2", "protocol_names", "Second bus it speaks or can be set to", "OPENPAIR"),
        _number("draw_w", "Draw (W)", "W", "Most power it draws from the bus", "1.8"),
        _number("lowest_supply_v", "Lowest supply (V)", "V", "Lowest voltage at which it works", "9"),
        _number("supply_v", "Supply (V)", "V", "Voltage it feeds into the bus, if it does", "24"),
        _number("supply_rating_w", "Supply rating (W)", "W", "Most power it can feed into the bus", "60"),
        _number("unit_loads", "Unit loads", None, "Load on the data pair in receiver unit loads", "0.25"),
        _choice("ends_bus", "Ends its bus", ENDS_ITS_BUS, "Whether an end resistor is built in", "switch"),
        _whole("zones", "Zones", "Zones it can command", "8"),
        _whole("scenes", "Scenes", "Scenes it can store", "16"),
        _whole("box_gangs", "Box gangs", "Width of the wall box it needs", "2"),
        _date("last_sold", "Last sold", "End of sale", "2011-06-30"),
        _date("supported_until", "Supported until", "End of support", "2021-06-30"),
        _number("service_life_years", "Service life (years)", "a", "Service life to expect", "20"),
        _ref("part", "Part", "parts", "Part number under which it is bought", "P-2001"),
    ),
)

BUSES = Sheet(
    code="buses",
    title="Buses",
    meaning="What the records call one line. A claim, checked against the wiring.",
    key=("key",),
    columns=(
        _key("Bus", "Name of the bus, unique on the campus", "B04-L07"),
        _ref("building", "Building", "buildings", "Building it runs in", "B04", required=True),
        _ref("protocol", "Protocol", "protocol_names", "Protocol it carries today", "PAIRBUS"),
        _number("bit_rate_kbit_s", "Bit rate (kbit/s)", "kbit/s", "Bit rate it runs at", "9.6"),
    ),
)

NODES = Sheet(
    code="nodes",
    title="Nodes",
    meaning="Every piece of equipment on a bus.",
    key=("key",),
    columns=(
        _key("Node", "Name of the node, unique on the campus", "B04-S107"),
        _ref("building", "Building", "buildings", "Building it is in", "B04", required=True),
        _ref("room", "Room", "rooms", "Room it is in", "1.07", within="building"),
        _ref("model", "Model", "models", "Model of the node", "WS-20", required=True),
        _ref("bus", "Bus", "buses", "Bus it is on", "B04-L07"),
        _ref("bus_2", "Bus 2", "buses", "Second bus (gateways only)", "B04-M01"),
        _ref("bus_3", "Bus 3", "buses", "Third bus (gateways only)", ""),
        _ref("bus_4", "Bus 4", "buses", "Fourth bus (gateways only)", ""),
        _text("serial", "Serial", "Serial number", "20-004417"),
        _date("installed", "Installed", "Day it was installed", "2004-09-01"),
        _whole("condition", "Condition", "1 good to 5 failed", "3", lowest=1, highest=5),
        _whole("zones_used", "Zones used", "Zones in use", "4"),
        _whole("scenes_used", "Scenes used", "Scenes in use", "6"),
        _whole("box_gangs", "Box gangs", "Width of the opening it sits in", "2"),
        _choice("ends_bus", "Ends its bus", ENDS_ITS_BUS, "Whether its end resistor is in circuit", "no"),
        _text("note", "Note", "Anything worth knowing", "behind the bookcase"),
    ),
)

RUNS = Sheet(
    code="runs",
    title="Runs",
    meaning="Every cable between two nodes on a bus.",
    key=("key",),
    columns=(
        _key("Run", "Name of the run, unique on the campus", "B04-R113"),
        _ref("bus", "Bus", "buses", "Bus it belongs to", "B04-L07", required=True),
        _ref("from_node", "From", "nodes", "Node at one end", "B04-G01", required=True),
        _ref("to_node", "To", "nodes", "Node at the other end", "B04-S107", required=True),
        _ref("cable", "Cable", "cables", "Kind of cable", "2x2 18AWG"),
        _metres("length_m", "Length", "Length of the cable", "38.5"),
        _date("surveyed", "Surveyed", "Day someone saw it with their own eyes", "2026-03-02"),
    ),
)

ZONES = Sheet(
    code="zones",
    title="Zones",
    meaning="What each slider or button of a station does.",
    key=("node", "key"),
    columns=(
        _ref("node", "Node", "nodes", "Station", "B04-S107", required=True),
        _key("Zone", "Number of the slider or button", "1"),
        _text("label", "Label", "Label the room's people chose", "Front row"),
        _ref("panel", "Panel", "nodes", "Node that carries it out", "B04-P02"),
        _text("circuit", "Circuit", "Circuit it acts on", "14"),
        _number("lowest_pct", "Lowest (%)", "%", "Lowest level it may be set to", "0", highest=100),
        _number("highest_pct", "Highest (%)", "%", "Highest level it may be set to", "100", highest=100),
    ),
)

SCENES = Sheet(
    code="scenes",
    title="Scenes",
    meaning="What is re-entered on the new station.",
    key=("node", "key"),
    columns=(
        _ref("node", "Node", "nodes", "Station", "B04-S107", required=True),
        _key("Scene", "Number of the scene", "1"),
        _text("label", "Label", "Label the room's people chose", "Slides"),
        _text("levels", "Levels", "Level of each zone, `1=80, 2=40`", "1=80, 2=40"),
    ),
)

METHODS = Sheet(
    code="methods",
    title="Methods",
    meaning="Each way to replace an old model by a new one.",
    key=("key",),
    columns=(
        _key("Method", "Name of the method", "M-20-A"),
        _ref("old_model", "Old model", "models", "Model that is replaced", "WS-20", required=True),
        _ref("new_model", "New model", "models", "Model that takes its place", "WS-70", required=True),
        _ref(
            "new_protocol",
            "New protocol",
            "protocol_names",
            "Protocol the segment carries afterwards",
            "OPENPAIR",
            required=True,
        ),
        _number(
            "bit_rate_kbit_s", "Bit rate (kbit/s)", "kbit/s", "Bit rate afterwards; blank leaves the choice", "125"
        ),
        _ref("old_gateway_model", "Old gateway model", "models", "Gateway it starts from", "GW-2"),
        _ref(
            "new_gateway_model",
            "New gateway model",
            "models",
            "Gateway put in; blank: the same unit is set over",
            "GW-7",
        ),
        _ref("patch_cable", "Patch cable", "cables", "Cable of the patch leads", "Cat 6 patch"),
        _metres("patch_lead_m", "Patch lead", "Length of one patch lead", "1"),
        _text("caution", "Caution", "What can hurt someone here", "Mains in the same box: isolate first"),
    ),
)

METHOD_PARTS = Sheet(
    code="method_parts",
    title="Method parts",
    meaning="Parts a method uses.",
    key=("method", "part", "per", "when"),
    columns=(
        _ref("method", "Method", "methods", "Method", "M-20-A", required=True),
        _ref("part", "Part", "parts", "Part", "P-1001", required=True),
        Column(
            name="quantity",
            heading="Quantity",
            kind=Kind.NUMBER,
            meaning="How many",
            example="1",
            required=True,
        ),
        _choice("per", "Per", PER, "What it is counted by", "cable end", required=True),
        _choice("when", "When", ("always", *EXTRAS), "Always, or only with this extra", "always"),
    ),
)

METHOD_STEPS = Sheet(
    code="method_steps",
    title="Method steps",
    meaning="What the crew does, in order.",
    key=("method", "step"),
    columns=(
        _ref("method", "Method", "methods", "Method", "M-20-A", required=True),
        _whole("step", "Step", "Place in the order of work", "3", required=True, lowest=1),
        _text("text", "Text", "What to do", "Land the data pair on terminals 1 and 2", required=True),
        _number("minutes", "Minutes", "min", "Time for one station", "12"),
        _whole("people", "People", "People needed", "2", lowest=1),
        _yes_no("outage", "Outage", "Whether the room is dark meanwhile"),
        _yes_no("hold_point", "Hold point", "Whether the crew stops until someone has checked", "no"),
    ),
)

METHOD_PINS = Sheet(
    code="method_pins",
    title="Method pins",
    meaning="What lands where on the breakout.",
    key=("method", "signal", "rj45_pin"),
    columns=(
        _ref("method", "Method", "methods", "Method", "M-20-A", required=True),
        _text("signal", "Signal", "Signal of the new bus", "CAN_H", required=True),
        _text("old_conductor", "Old conductor", "Conductor of the old cable", "data pair, white"),
        _text("terminal", "Terminal", "Screw terminal of the breakout", "1"),
        _whole("rj45_pin", "RJ45 pin", "Pin of the jack", "1", lowest=1, highest=8),
        _text("source", "Source", "Document the assignment comes from", "CiA 303-1"),
    ),
)

SPARES = Sheet(
    code="spares",
    title="Spares",
    meaning="Units of old models kept to replace failed ones.",
    key=("model", "store"),
    columns=(
        _ref("model", "Model", "models", "Model", "WS-20", required=True),
        _whole("on_hand", "On hand", "Units in the store", "6", required=True),
        _text("store", "Store", "Where they lie", "Main store"),
    ),
)

FAILURES = Sheet(
    code="failures",
    title="Failures",
    meaning="What failed, when, and what became of it.",
    key=("node", "date", "what_failed"),
    columns=(
        _ref("node", "Node", "nodes", "Node that failed", "B04-S107", required=True),
        _date("date", "Date", "Day it failed", "2025-11-19", required=True),
        _text("what_failed", "What failed", "What was wrong", "slider 2 jumps"),
        _choice("outcome", "Outcome", OUTCOMES, "What became of it", "repaired"),
    ),
)

CREWS = Sheet(
    code="crews",
    title="Crews",
    meaning="People who work together on one order at a time.",
    key=("key",),
    columns=(
        _key("Crew", "Name of the crew", "Night A"),
        _whole("people", "People", "How many people", "3", required=True, lowest=1),
        _text("days", "Days", "Days on which a shift starts", "Mon Tue Wed Thu"),
        Column(
            name="shift_from",
            heading="From",
            kind=Kind.CLOCK,
            meaning="Start of the shift, local time",
            example="21:00",
        ),
        Column(
            name="shift_to", heading="To", kind=Kind.CLOCK, meaning="End of the shift, may be next day", example="06:00"
        ),
    ),
)

PHASES = Sheet(
    code="phases",
    title="Phases",
    meaning="Spans of dates with a budget.",
    key=("key",),
    columns=(
        _key("Phase", "Name of the phase", "Phase 1"),
        _date("start", "Start", "First day", "2027-02-01", required=True),
        _date("end", "End", "Last day", "2027-04-30", required=True),
        Column(
            name="budget",
            heading="Budget",
            kind=Kind.MONEY,
            meaning="Money for parts, labour and outages",
            example="60000",
        ),
        _date("materials_ordered_on", "Materials ordered on", "Day its materials are ordered", "2026-12-14"),
        _text(
            "districts", "Districts", "Districts it may work in, separated by commas; blank: all", "North bank, Quay"
        ),
    ),
)

CLOSURES = Sheet(
    code="closures",
    title="Closures",
    meaning="When work must keep out, or is welcome.",
    key=("building", "room", "start", "end", "kind"),
    columns=(
        _ref("building", "Building", "buildings", "Building; blank: the whole campus", "B04"),
        _ref("room", "Room", "rooms", "Room; blank: the whole building", "1.07", within="building"),
        _moment("start", "From", "Start", "2027-03-01 08:00"),
        _moment("end", "To", "End", "2027-03-05 18:00"),
        _choice("kind", "Kind", CLOSURE_KINDS, "Keep out, or welcome", "keep out"),
        _text("why", "Why", "Reason", "examinations"),
    ),
)

BRIEF = Sheet(
    code="brief",
    title="Brief",
    meaning="What the planner decides for the first plan.",
    key=("setting",),
    columns=(
        _text(
            "setting", "Setting", "Name of the setting, as in the table of settings", "Longest outage", required=True
        ),
        _text("value", "Value", "Its value; blank: the default", "240"),
    ),
)

SHEETS: tuple[Sheet, ...] = (
    BUILDINGS,
    ROOMS,
    PROTOCOLS,
    CABLES,
    PARTS,
    MODELS,
    BUSES,
    NODES,
    RUNS,
    ZONES,
    SCENES,
    METHODS,
    METHOD_PARTS,
    METHOD_STEPS,
    METHOD_PINS,
    SPARES,
    FAILURES,
    CREWS,
    PHASES,
    CLOSURES,
    BRIEF,
)

BY_CODE: dict[str, Sheet] = {sheet.code: sheet for sheet in SHEETS}
