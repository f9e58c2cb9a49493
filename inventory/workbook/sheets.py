"""THE table of the workbook: every sheet, heading, type, unit, meaning and example.

The reader, the blank workbook, the filled workbook, the help page and the checks all go by it. Sheets stand in the
order in which they can be stored: a sheet refers only to itself or to sheets above it.
"""

from inventory.workbook import choices
from inventory.workbook.columns import (
    Kind,
    Sheet,
    amount_column,
    choice_column,
    clock_column,
    date_column,
    key_column,
    metres_column,
    moment_column,
    number_column,
    reference_column,
    text_column,
    whole_column,
    yes_no_column,
)

BUILDINGS = Sheet(
    code="buildings",
    title="Buildings",
    meaning="Every building of the campus, one row each.",
    key=("key",),
    columns=(
        key_column("Building", "Short name of the building, as on the door plates", "B04"),
        text_column("name", "Name", "Full name", "Weir House"),
        text_column("district", "District", "Part of the campus; travel between districts takes time", "North bank"),
        text_column("time_zone", "Time zone", "IANA name of the time zone the building keeps", "Europe/Lisbon"),
        text_column("holidays", "Holidays", "ISO 3166 code whose public holidays the building keeps", "PT"),
        whole_column("outages_at_once", "Outages at once", "How many orders may be open at one time", "1", lowest=1),
        text_column(
            "crews_admitted",
            "Crews admitted",
            "Hours at which crews may be inside, by weekday; days not named: never; blank: whenever the brief works",
            "Mon-Thu 18:00-07:00, Sat Sun 00:00-24:00",
        ),
    ),
)

ROOMS = Sheet(
    code="rooms",
    title="Rooms",
    meaning="Every room that has a station or is served by one.",
    key=("building", "key"),
    columns=(
        reference_column("building", "Building", "buildings", "Building the room is in", "B04", required=True),
        key_column("Room", "Room number, unique in its building", "1.07"),
        text_column("floor", "Floor", "Floor as people say it", "1"),
        text_column("name", "Name", "What people call the room", "Model workshop"),
        text_column("use", "Use", "What the room is for", "workshop"),
        whole_column("importance", "Importance", "1 low to 5 must not fail", "3", lowest=1, highest=5),
        text_column("calendar", "Calendar", "File name of the .ics with the room's bookings", "B04-1.07.ics"),
    ),
)

PROTOCOLS = Sheet(
    code="protocols",
    title="Protocols",
    meaning="Limits of each bus, one row per bit rate. Open standards come built in, each with its source.",
    key=("protocol", "bit_rate_kbit_s"),
    columns=(
        reference_column(
            "protocol",
            "Protocol",
            "protocol_names",
            "Name of the bus standard or in-house bus",
            "PAIRBUS",
            required=True,
        ),
        number_column(
            "bit_rate_kbit_s",
            "Bit rate (kbit/s)",
            "kbit/s",
            "Bit rate this row is for; blank where there is one",
            "125",
        ),
        choice_column("layout", "Layout", choices.LAYOUTS, "Layout the wiring may have", "line"),
        metres_column("longest_bus_m", "Longest bus", "Longest trunk from end to end", "500"),
        metres_column("longest_stub_m", "Longest stub", "Longest single branch off the trunk", "22"),
        metres_column("all_stubs_m", "All stubs", "Sum of all branches off the trunk", "110"),
        metres_column("farthest_pair_m", "Farthest pair", "Longest way along the wire between any two nodes", "300"),
        metres_column("total_wire_m", "Total wire", "Sum of all wire of the segment", "450"),
        metres_column("less_per_node_m", "Less per node", "Length taken off the longest bus for each node", "6"),
        number_column(
            "less_per_stub_m",
            "Less per stub metre",
            "m/m",
            "Length taken off the longest bus for each metre of stub",
            "2",
        ),
        whole_column("most_nodes", "Most nodes", "Most nodes on one segment", "64"),
        number_column("most_unit_loads", "Most unit loads", None, "Most receiver unit loads on one segment", "32"),
        whole_column("ends", "Ends", "How many end resistors the bus needs: 0, 1 or 2", "2", highest=2),
        number_column("end_ohm", "End resistance (ohm)", "ohm", "Resistance of one end resistor", "120"),
        number_column("lowest_impedance_ohm", "Lowest impedance (ohm)", "ohm", "Lowest of a cable that serves", "95"),
        number_column(
            "highest_impedance_ohm", "Highest impedance (ohm)", "ohm", "Highest cable impedance that serves", "140"
        ),
        text_column("data_conductor", "Data conductor", "Thinnest data conductor the lengths hold for", "0.5 mm2"),
        yes_no_column("power_on_bus", "Power on bus", "Whether the cable carries the stations' power as well"),
        text_column("source", "Source", "Document, edition and clause the limits come from", "ISO 11898-2"),
    ),
)

PARTS = Sheet(
    code="parts",
    title="Parts",
    meaning="What purchasing buys.",
    key=("key",),
    columns=(
        key_column("Part", "Part number", "P-1001"),
        text_column("description", "Description", "What it is", "Breakout, screw terminals to RJ45"),
        text_column("unit", "Unit", "Unit it is counted in", "piece"),
        amount_column("pack", "Pack", Kind.DECIMAL, "Units in one pack, the least that can be bought", "10"),
        amount_column("price", "Price", Kind.MONEY, "Price of one unit", "7.40"),
        text_column("currency", "Currency", "ISO 4217 code of the price", "EUR"),
        whole_column("lead_time_days", "Lead time (days)", "Calendar days from order to delivery", "28", unit="d"),
        text_column("supplier", "Supplier", "Who sells it", "Northquay Supply"),
        amount_column("on_hand", "On hand", Kind.DECIMAL, "Units on the shelf now", "14"),
        amount_column(
            "spare_allowance_pct",
            "Spare allowance (%)",
            Kind.DECIMAL,
            "Extra to buy against breakage",
            "5",
            unit="%",
            highest=1000,
            decimals=3,
        ),
    ),
)

DELIVERIES = Sheet(
    code="deliveries",
    title="Deliveries",
    meaning="What is ordered and still to come.",
    key=("part", "due", "reference"),
    columns=(
        reference_column("part", "Part", "parts", "Part", "P-1001", required=True),
        date_column("due", "Due", "Day on which it is expected", "2027-01-18", required=True),
        amount_column("quantity", "Quantity", Kind.DECIMAL, "Units still to come", "40", required=True),
        text_column("reference", "Reference", "Number of the purchase", "PO-2216"),
    ),
)

CABLES = Sheet(
    code="cables",
    title="Cables",
    meaning="Kinds of cable in the walls and on the shelf.",
    key=("key",),
    columns=(
        key_column("Cable", "Name of the cable kind", "2x2 18AWG"),
        text_column(
            "power_conductor", "Power conductor", "Size of one power conductor, `18 AWG` or `0.75 mm2`", "18 AWG"
        ),
        whole_column(
            "power_pairs",
            "Power pairs",
            "Pairs in parallel that carry power; 2 in a category patch lead",
            "1",
            highest=100,
        ),
        choice_column(
            "conductor_class", "Conductor class", choices.CONDUCTOR_CLASSES, "Make-up of the conductor", "stranded"
        ),
        whole_column("data_pairs", "Data pairs", "Twisted pairs for data", "1", highest=100),
        text_column("data_conductor", "Data conductor", "Size of one data conductor, `22 AWG` or `0.5 mm2`", "22 AWG"),
        number_column("impedance_ohm", "Impedance (ohm)", "ohm", "Characteristic impedance of the data pair", "120"),
        yes_no_column("screened", "Screened", "Whether the cable has a screen"),
        text_column("category", "Category", "Category of balanced cable, where it is one", "5e"),
        reference_column("part", "Part", "parts", "Part in metres under which cable of this kind is bought", "P-5101"),
    ),
)

MODELS = Sheet(
    code="models",
    title="Models",
    meaning="The catalogue: what a node is.",
    key=("key",),
    columns=(
        key_column("Model", "Model name", "WS-20"),
        choice_column("kind", "Kind", choices.NODE_KINDS, "Kind of node", "station", required=True),
        text_column("description", "Description", "What it is", "Wall station, 4 sliders"),
        reference_column("protocol", "Protocol", "protocol_names", "Bus it speaks", "PAIRBUS"),
        reference_column(
            "protocol_2", "Protocol 2", "protocol_names", "Second bus it speaks or can be set to", "OPENPAIR"
        ),
        number_column("draw_w", "Draw (W)", "W", "Most power it draws from the bus", "1.8"),
        number_column("lowest_supply_v", "Lowest supply (V)", "V", "Lowest voltage at which it works", "9"),
        number_column("supply_v", "Supply (V)", "V", "Voltage it feeds into the bus, 0 where it feeds none", "24"),
        number_column("supply_rating_w", "Supply rating (W)", "W", "Most power it can feed into all its buses", "60"),
        number_column("unit_loads", "Unit loads", None, "Load on the data pair in receiver unit loads", "0.25"),
        choice_column(
            "ends_bus", "Ends its bus", choices.ENDS_ITS_BUS, "Whether an end resistor is built in", "switch"
        ),
        whole_column("zones", "Zones", "Zones it can command", "8"),
        whole_column("scenes", "Scenes", "Scenes it can store", "16"),
        whole_column("box_gangs", "Box gangs", "Width of the wall box it needs", "2"),
        date_column("last_sold", "Last sold", "End of sale", "2011-06-30"),
        date_column("supported_until", "Supported until", "End of support", "2021-06-30"),
        number_column("service_life_years", "Service life (years)", "a", "Service life to expect", "20"),
        reference_column("part", "Part", "parts", "Part number under which it is bought", "P-2001"),
    ),
)

BUSES = Sheet(
    code="buses",
    title="Buses",
    meaning="What the records call one line. A claim, checked against the wiring.",
    key=("key",),
    columns=(
        key_column("Bus", "Name of the bus, unique on the campus", "B04-L07"),
        reference_column("building", "Building", "buildings", "Building it runs in", "B04", required=True),
        reference_column("protocol", "Protocol", "protocol_names", "Protocol it carries today", "PAIRBUS"),
        number_column("bit_rate_kbit_s", "Bit rate (kbit/s)", "kbit/s", "Bit rate it runs at", "9.6"),
    ),
)

NODES = Sheet(
    code="nodes",
    title="Nodes",
    meaning="Every piece of equipment on a bus.",
    key=("key",),
    columns=(
        key_column("Node", "Name of the node, unique on the campus", "B04-S107"),
        reference_column("building", "Building", "buildings", "Building it is in", "B04", required=True),
        reference_column("room", "Room", "rooms", "Room it is in", "1.07", within="building"),
        reference_column("model", "Model", "models", "Model of the node", "WS-20", required=True),
        reference_column("bus", "Bus", "buses", "Bus it is on", "B04-L07"),
        reference_column("bus_2", "Bus 2", "buses", "Second bus (gateways only)", "B04-M01"),
        reference_column("bus_3", "Bus 3", "buses", "Third bus (gateways only)", ""),
        reference_column("bus_4", "Bus 4", "buses", "Fourth bus (gateways only)", ""),
        text_column("serial", "Serial", "Serial number", "20-004417"),
        date_column("installed", "Installed", "Day it was installed", "2004-09-01"),
        whole_column("condition", "Condition", "1 good to 5 failed", "3", lowest=1, highest=5),
        whole_column("zones_used", "Zones used", "Zones in use", "4"),
        whole_column("scenes_used", "Scenes used", "Scenes in use", "6"),
        whole_column("box_gangs", "Box gangs", "Width of the opening it sits in", "2"),
        choice_column("ends_bus", "Ends its bus", choices.ENDS_ITS_BUS, "Whether its end resistor is in circuit", "no"),
        text_column("note", "Note", "Anything worth knowing", "behind the bookcase"),
    ),
)

RUNS = Sheet(
    code="runs",
    title="Runs",
    meaning="Every cable between two nodes on a bus.",
    key=("key",),
    columns=(
        key_column("Run", "Name of the run, unique on the campus", "B04-R113"),
        reference_column("bus", "Bus", "buses", "Bus it belongs to", "B04-L07", required=True),
        reference_column("from_node", "From", "nodes", "Node at one end", "B04-G01", required=True),
        reference_column("to_node", "To", "nodes", "Node at the other end", "B04-S107", required=True),
        reference_column("cable", "Cable", "cables", "Kind of cable", "2x2 18AWG"),
        metres_column("length_m", "Length", "Length of the cable", "38.5"),
        date_column("surveyed", "Surveyed", "Day someone saw it with their own eyes", "2026-03-02"),
    ),
)

ZONES = Sheet(
    code="zones",
    title="Zones",
    meaning="What each slider or button of a station does.",
    key=("node", "key"),
    columns=(
        reference_column("node", "Node", "nodes", "Station", "B04-S107", required=True),
        key_column("Zone", "Number of the slider or button", "1"),
        text_column("label", "Label", "Label the room's people chose", "Front row"),
        reference_column("panel", "Panel", "nodes", "Node that carries it out", "B04-P02"),
        text_column("circuit", "Circuit", "Circuit it acts on", "14"),
        number_column("lowest_pct", "Lowest (%)", "%", "Lowest level it may be set to", "0", highest=100),
        number_column("highest_pct", "Highest (%)", "%", "Highest level it may be set to", "100", highest=100),
    ),
)

SCENES = Sheet(
    code="scenes",
    title="Scenes",
    meaning="What is re-entered on the new station.",
    key=("node", "key"),
    columns=(
        reference_column("node", "Node", "nodes", "Station", "B04-S107", required=True),
        key_column("Scene", "Number of the scene", "1"),
        text_column("label", "Label", "Label the room's people chose", "Slides"),
        text_column("levels", "Levels", "Level of each zone, `1=80, 2=40`", "1=80, 2=40"),
    ),
)

METHODS = Sheet(
    code="methods",
    title="Methods",
    meaning="Each way to replace an old model by a new one.",
    key=("key",),
    columns=(
        key_column("Method", "Name of the method", "M-20-A"),
        reference_column("old_model", "Old model", "models", "Model that is replaced", "WS-20", required=True),
        reference_column("new_model", "New model", "models", "Model that takes its place", "WS-70", required=True),
        reference_column(
            "new_protocol",
            "New protocol",
            "protocol_names",
            "Protocol the segment carries afterwards",
            "OPENPAIR",
            required=True,
        ),
        number_column(
            "bit_rate_kbit_s", "Bit rate (kbit/s)", "kbit/s", "Bit rate afterwards; blank leaves the choice", "125"
        ),
        reference_column("old_gateway_model", "Old gateway model", "models", "Gateway it starts from", "GW-2"),
        reference_column(
            "new_gateway_model",
            "New gateway model",
            "models",
            "Gateway put in; blank: the same unit is set over",
            "GW-7",
        ),
        reference_column("patch_cable", "Patch cable", "cables", "Cable of the patch leads", "Cat 6 patch"),
        metres_column("patch_lead_m", "Patch lead", "Length of one patch lead", "1"),
        text_column("caution", "Caution", "What can hurt someone here", "Mains in the same box: isolate first"),
    ),
)

METHOD_PARTS = Sheet(
    code="method_parts",
    title="Method parts",
    meaning="Parts a method uses.",
    key=("method", "part", "per", "when"),
    columns=(
        reference_column("method", "Method", "methods", "Method", "M-20-A", required=True),
        reference_column("part", "Part", "parts", "Part", "P-1001", required=True),
        amount_column("quantity", "Quantity", Kind.DECIMAL, "How many", "1", required=True),
        choice_column("per", "Per", choices.PER, "What it is counted by", "cable end", required=True),
        choice_column(
            "when",
            "When",
            ("always", *choices.EXTRAS),
            "Always, or with this extra only; blank: always",
            "always",
            default="always",
        ),
    ),
)

METHOD_STEPS = Sheet(
    code="method_steps",
    title="Method steps",
    meaning="What the crew does, in order.",
    key=("method", "step"),
    columns=(
        reference_column("method", "Method", "methods", "Method", "M-20-A", required=True),
        whole_column("step", "Step", "Place in the order of work", "3", required=True, lowest=1),
        text_column("text", "Text", "What to do", "Land the data pair on terminals 1 and 2", required=True),
        choice_column("per", "Per", choices.STEP_PER, "What it is done once for; blank: each station", "station"),
        number_column("minutes", "Minutes", "min", "Time it takes once, most likely", "12"),
        number_column("shortest_min", "Shortest (min)", "min", "Least time it takes once; blank: by the brief", "9"),
        number_column("longest_min", "Longest (min)", "min", "Most time it takes once; blank: by the brief", "25"),
        whole_column("people", "People", "People needed", "2", lowest=1),
        yes_no_column("outage", "Outage", "Whether the room is dark meanwhile"),
        yes_no_column("hold_point", "Hold point", "Whether the crew stops until someone has checked", "no"),
        choice_column("reading", "Reading", choices.READINGS, "What is measured at this step", "loop resistance"),
    ),
)

METHOD_PINS = Sheet(
    code="method_pins",
    title="Method pins",
    meaning="What lands where on the breakout.",
    key=("method", "signal", "rj45_pin"),
    columns=(
        reference_column("method", "Method", "methods", "Method", "M-20-A", required=True),
        text_column("signal", "Signal", "Signal of the new bus", "CAN_H", required=True),
        text_column("old_conductor", "Old conductor", "Conductor of the old cable", "data pair, white"),
        text_column("terminal", "Terminal", "Screw terminal of the breakout", "1"),
        whole_column("rj45_pin", "RJ45 pin", "Pin of the jack", "1", lowest=1, highest=8),
        text_column("source", "Source", "Document the assignment comes from", "CiA 303-1"),
    ),
)

SPARES = Sheet(
    code="spares",
    title="Spares",
    meaning="Units of old models kept to replace failed ones.",
    key=("model", "store"),
    columns=(
        reference_column("model", "Model", "models", "Model", "WS-20", required=True),
        whole_column("on_hand", "On hand", "Units in the store", "6", required=True),
        text_column("store", "Store", "Where they lie", "Main store"),
    ),
)

FAILURES = Sheet(
    code="failures",
    title="Failures",
    meaning="What failed, when, and what became of it.",
    key=("node", "date", "what_failed"),
    columns=(
        reference_column("node", "Node", "nodes", "Node that failed", "B04-S107", required=True),
        date_column("date", "Date", "Day it failed", "2025-11-19", required=True),
        text_column("what_failed", "What failed", "What was wrong", "slider 2 jumps"),
        choice_column("outcome", "Outcome", choices.OUTCOMES, "What became of it", "repaired"),
    ),
)

CREWS = Sheet(
    code="crews",
    title="Crews",
    meaning="People who work together on one order at a time.",
    key=("key",),
    columns=(
        key_column("Crew", "Name of the crew", "Night A"),
        whole_column("people", "People", "How many people", "3", required=True, lowest=1),
        text_column("days", "Days", "Days on which a shift starts", "Mon Tue Wed Thu"),
        clock_column("shift_from", "From", "Start of the shift, local time", "21:00"),
        clock_column("shift_to", "To", "End of the shift, may be next day", "06:00"),
    ),
)

PHASES = Sheet(
    code="phases",
    title="Phases",
    meaning="Spans of dates with a budget.",
    key=("key",),
    columns=(
        key_column("Phase", "Name of the phase", "Phase 1"),
        date_column("start", "Start", "First day", "2027-02-01", required=True),
        date_column("end", "End", "Last day", "2027-04-30", required=True),
        amount_column("budget", "Budget", Kind.MONEY, "Money for parts, labour and outages", "60000", decimals=2),
        date_column("materials_ordered_on", "Materials ordered on", "Day its materials are ordered", "2026-12-14"),
        text_column(
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
        reference_column("building", "Building", "buildings", "Building; blank: the whole campus", "B04"),
        reference_column("room", "Room", "rooms", "Room; blank: the whole building", "1.07", within="building"),
        moment_column("start", "From", "Start", "2027-03-01 08:00"),
        moment_column("end", "To", "End", "2027-03-05 18:00"),
        choice_column(
            "kind",
            "Kind",
            choices.CLOSURE_KINDS,
            "Keep out, or welcome; blank: keep out",
            "keep out",
            default="keep out",
        ),
        text_column("why", "Why", "Reason", "examinations"),
    ),
)

BRIEF = Sheet(
    code="brief",
    title="Brief",
    meaning="What the planner decides for the first plan.",
    key=("setting",),
    columns=(
        text_column("setting", "Setting", "Name of a setting; the page Words lists them", "Work from", required=True),
        text_column("value", "Value", "Its value; blank: the default", "240"),
    ),
)

SHEETS: tuple[Sheet, ...] = (
    BUILDINGS,
    ROOMS,
    PROTOCOLS,
    PARTS,
    DELIVERIES,
    CABLES,
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
