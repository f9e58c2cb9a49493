"""Limits and constants that are no column of a protocol's row, each with its source: the rules and the page Sources go by them.

What is keyed by a protocol binds lines that are to carry it and nothing else. Figures that were not read in the document
or in a text that cites it say "from memory".
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from inventory.core.conductors import parse_conductor

RJ45_CAN, KNX, DALI = "CAN over RJ45 (NMRA S-9.7.1.1)", "KNX TP1", "DALI (IEC 62386)"
DMX = "DMX512-A"
MODBUS, MODBUS_CATEGORY = "Modbus serial", "Modbus serial, category 5 cable"
THICK, THIN = "DeviceNet, thick trunk", "DeviceNet, thin trunk"
FREE, BUS = "TP/FT-10 free topology", "TP/FT-10 bus topology"
NMRA, DEVICENET, MODBUS_SOURCE = "NMRA S-9.7.1.1", "IEC 62026-3", "Modbus over serial line V1.02"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One figure: what it bounds, its value and unit, and who says so."""

    what: str
    value: float
    unit: str
    source: str


def _limit(what: str, value: float, unit: str, source: str) -> Limit:
    return Limit(what=what, value=value, unit=unit, source=source)


CONTACT = _limit("Current in one contact of an RJ45, at 60 C", 0.75, "A", "IEC 60603-7, from memory")
DENSITY = _limit(
    "Current in a conductor of bundled control cable", 4.0, "A/mm2", "common practice: 4 A/mm2 in bundled control cable"
)
CLASS_2_SOURCE = "NEC chapter 9 Tables 11(A) and 11(B): Class 2, 100 VA and 30 V; local code decides"
CLASS_2_VA = _limit("Power of a power-limited source (caution)", 100.0, "VA", CLASS_2_SOURCE)
CLASS_2_V = _limit("Voltage of a power-limited source (caution)", 30.0, "V", CLASS_2_SOURCE)

CONNECTOR: Mapping[str, Limit] = {
    RJ45_CAN: _limit("Current through one connector", 0.5, "A", f"{NMRA}: 0.5 A a connector"),
}
SECTION: Mapping[str, Limit] = {
    RJ45_CAN: _limit("Current in any section of the line", 1.0, "A", f"{NMRA}: 1 A in any section"),
    THICK: _limit("Current in the trunk", 8.0, "A", f"{DEVICENET}: 8 A in a thick trunk"),
    THIN: _limit("Current in the trunk", 3.0, "A", f"{DEVICENET}: 3 A in a thin trunk"),
}
_DROP = _limit("Current in a drop times its length", 4.57, "A m", f"{DEVICENET}: 4.57 A divided by the drop's metres")
DROP: Mapping[str, Limit] = {THICK: _DROP, THIN: _DROP}
_DROP_MOST = _limit("Current in a drop", 3.0, "A", f"{DEVICENET}: 3 A in a drop")
DROP_MOST: Mapping[str, Limit] = {THICK: _DROP_MOST, THIN: _DROP_MOST}
LEAST_SUPPLY: Mapping[str, Limit] = {
    RJ45_CAN: _limit("Voltage of the source, at least", 9.0, "V", f"{NMRA}: 9 to 15 V"),
}
MOST_SUPPLY: Mapping[str, Limit] = {
    RJ45_CAN: _limit("Voltage of the source, at most", 15.0, "V", f"{NMRA}: 9 to 15 V"),
}
MOST_SOURCE: Mapping[str, Limit] = {
    DALI: _limit("Current that the source may feed into the bus", 0.25, "A", "IEC 62386-101: 250 mA"),
}
SUPPLY_REACH: Mapping[str, Limit] = {
    KNX: _limit("Way from the supply to a device", 350.0, "m", "ISO/IEC 14543-3-6, from memory"),
    RJ45_CAN: _limit("Way from the supply to a device that draws from the bus", 6.0, "m", f"{NMRA}, technical note"),
}
SHORTEST_RUN: Mapping[str, Limit] = {
    RJ45_CAN: _limit("Cable between two nodes, at least", 0.3, "m", f"{NMRA}, technical note"),
}
FAR_END: Mapping[str, Limit] = {
    DMX: _limit("End resistors, all at the end of the line that is not the gateway's", 1.0, "", "ANSI E1.11"),
}
_TAP = _limit(
    "Each derivation of a tap with several, times how many it has", 40.0, "m", f"{MODBUS_SOURCE}: 40 m divided by n"
)
TAP: Mapping[str, Limit] = {MODBUS: _TAP, MODBUS_CATEGORY: _TAP}
CIA_NAMES = ("CAN (CiA 301)", "CAN (ISO 11898-2)", "CAN (SAE J1939/11)", "CAN (SAE J1939/15)")
MANY_NODES = 24  # without any margin the longest row of CiA 303-1 (1000 m at 26 mohm/m) still reads with 23 nodes
HOT_OHM_MM2_M = 0.0255  # of a data conductor at its hottest: no length of CiA 303-1 for many nodes is then exceeded
_MANY_SOURCE = "CiA 303-1, formula with its margin of 20 % and lengths from memory"


def can_conductor_ohm(nodes: float, margin: float = 0.2) -> float:
    """Return the most that each data conductor of a CAN line may resist, by its count of nodes [ohm].

    Every node loads the line with 20 kohm; what a driver puts on it (1.5 V) must reach the far end of 118 ohm above the
    threshold of 1.0 V and the margin, a share of what lies between the two. CiA 303-1, its formula from memory.

    Examples
    --------
    >>> round(can_conductor_ohm(32), 2), round(can_conductor_ohm(32, margin=0.1), 2)
    (18.14, 21.38)

    """
    end_ohm, node_ohm, driver_v, threshold_v = 118.0, 20_000.0, 1.5, 1.0
    loaded = end_ohm * node_ohm / (node_ohm + (nodes - 1) * end_ohm)
    return 0.5 * loaded * (driver_v / (threshold_v + margin * (driver_v - threshold_v)) - 1)


_MANY = _limit(
    "Each data conductor of a line of 32 nodes, at most", round(can_conductor_ohm(32), 1), "ohm", _MANY_SOURCE
)
MANY: Mapping[str, Limit] = dict.fromkeys(CIA_NAMES, _MANY)
BY_NODES = (
    f"From {MANY_NODES} nodes on, CAN lengths are also bound by what each data conductor resists: the more nodes, the less "
    "(CiA 303-1, from memory); a longer line is asked about"
)
PROPORTION = (
    "Lengths that hold from a conductor size on hold on thinner wire in proportion to its copper, so that the data pair "
    "resists no more (common practice; IEC 62386-101 guidance for DALI: 2 V at 250 mA)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sort:
    """One sort of cable for which a standard publishes lengths of its own: its protocol rows, and its thinnest data conductor."""

    protocol: str
    least_mm2: float


AWG_26, AWG_24, AWG_22, AWG_18, AWG_16 = (parse_conductor(f"{gauge} AWG").area_mm2 for gauge in (26, 24, 22, 18, 16))
CATEGORY_MOST_MM2 = 0.30  # between 22 and 23 AWG: wire that is no thicker may be a category cable (common practice)
# Standards whose lengths differ by the sort of cable, thinnest first. A cable counts as the thickest sort that is no thicker.
SORTS: tuple[tuple[Sort, ...], ...] = (
    (
        Sort(protocol=MODBUS_CATEGORY, least_mm2=AWG_26),
        Sort(protocol=MODBUS, least_mm2=CATEGORY_MOST_MM2),
    ),
    (Sort(protocol=THIN, least_mm2=AWG_24), Sort(protocol=THICK, least_mm2=AWG_18)),
    *(
        (
            Sort(protocol=f"{topology}, category 5 cable", least_mm2=AWG_24),
            Sort(protocol=f"{topology}, 22 AWG", least_mm2=AWG_22),
            Sort(protocol=f"{topology}, 0.8 mm", least_mm2=0.5),
            Sort(protocol=f"{topology}, 16 AWG", least_mm2=AWG_16),
        )
        for topology in (FREE, BUS)
    ),
)
# A trunk under the first row may be of both its sorts; a metre of the other counts as often as its length goes into the row's.
MIXED: Mapping[str, str] = {THICK: THIN}
MIXED_SOURCE = f"{DEVICENET}: thick and thin cable in one trunk"
MIXED_TRUNK = (
    "A trunk of both sorts of DeviceNet cable is as long as its thick cable and so many times its thin: 5 at 125 kbit/s, "
    f"2.5 at 250, 1 at 500 ({DEVICENET})"
)
SORTS_OF: Mapping[str, tuple[Sort, ...]] = {sort.protocol: sorts for sorts in SORTS for sort in sorts}

COPPER = (
    _limit("Resistivity of annealed copper at 20 C", 1.0 / 58.0, "ohm mm2/m", "NBS Handbook 100, IEC 60028"),
    _limit(
        "Rise of copper's resistance for each kelvin, at 20 C",
        0.00393,
        "1/K",
        "NBS Handbook 100, IEC 60028, from memory",
    ),
    _limit("Conductor of a category cable at 20 C, at most", 9.38, "ohm/100 m", "TIA-568"),
    _limit(
        "Stranded gauges that NEC chapter 9 Table 8 has no row for, above solid",
        2.5,
        "%",
        "common practice, from its rows",
    ),
)
TABLES = (
    "ASTM B258 (diameters of gauges), NEC chapter 9 Table 8 (stranded copper at 75 C), IEC 60228 (greatest resistance by area "
    "and class), TIA-568 (pins, pairs and colours; pair numbers from memory), CiA 303-1 (pins)"
)


def by_protocol() -> Iterator[tuple[str, Limit]]:
    """Yield every limit that binds one protocol, with its name, by protocol."""
    tables = (
        LEAST_SUPPLY,
        MOST_SUPPLY,
        MOST_SOURCE,
        SUPPLY_REACH,
        CONNECTOR,
        SECTION,
        DROP,
        DROP_MOST,
        SHORTEST_RUN,
        FAR_END,
        TAP,
        MANY,
    )
    yield from sorted(
        ((protocol, limit) for table in tables for protocol, limit in table.items()), key=lambda one: one[0]
    )


def for_any() -> tuple[Limit, ...]:
    """Return the limits that bind every bus that carries power."""
    return CONTACT, DENSITY, CLASS_2_V, CLASS_2_VA
