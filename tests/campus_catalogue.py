"""The invented catalogue of the test campuses: protocols, cables, models, parts, methods."""

from datetime import date
from decimal import Decimal

from inventory.core.catalogue import (
    Cable,
    Catalogue,
    EndsBus,
    Layout,
    Method,
    MethodPart,
    MethodPin,
    MethodStep,
    Model,
    NodeKind,
    Part,
    ProtocolRow,
    Spare,
)

PROTOCOLS = (
    ProtocolRow(protocol="CAMPUSNET", layout=Layout.ANY, power_on_bus=False, source="invented"),
    ProtocolRow(
        protocol="OPENPAIR",
        bit_rate_kbit_s=125.0,
        layout=Layout.LINE,
        longest_bus_m=500.0,
        longest_stub_m=22.0,
        all_stubs_m=110.0,
        most_nodes=64,
        most_unit_loads=32.0,
        ends=2,
        end_ohm=120.0,
        lowest_impedance_ohm=95.0,
        highest_impedance_ohm=140.0,
        power_on_bus=True,
        source="invented, shaped after CiA 303-1",
    ),
    ProtocolRow(
        protocol="OPENPAIR",
        bit_rate_kbit_s=250.0,
        layout=Layout.LINE,
        longest_bus_m=250.0,
        longest_stub_m=11.0,
        all_stubs_m=55.0,
        most_nodes=64,
        most_unit_loads=32.0,
        ends=2,
        end_ohm=120.0,
        lowest_impedance_ohm=95.0,
        highest_impedance_ohm=140.0,
        power_on_bus=True,
        source="invented, shaped after CiA 303-1",
    ),
    ProtocolRow(
        protocol="PAIRBUS",
        bit_rate_kbit_s=9.6,
        layout=Layout.ANY,
        total_wire_m=2000.0,
        most_nodes=32,
        ends=0,
        power_on_bus=True,
        source="invented",
    ),
)
CABLES = (
    Cable(
        key="2x2 18AWG",
        power_conductor="18 AWG",
        power_pairs=1,
        conductor_class="stranded",
        data_pairs=1,
        data_conductor="18 AWG",
        impedance_ohm=120.0,
    ),
    Cable(
        key="2x2 24AWG",
        power_conductor="24 AWG",
        power_pairs=1,
        conductor_class="solid",
        data_pairs=1,
        data_conductor="24 AWG",
        impedance_ohm=120.0,
    ),
    Cable(
        key="Cat 6 patch",
        power_conductor="24 AWG",
        power_pairs=2,
        conductor_class="stranded",
        data_pairs=1,
        data_conductor="24 AWG",
        impedance_ohm=100.0,
        category="6",
    ),
    Cable(
        key="bell wire",
        power_conductor="22 AWG",
        power_pairs=1,
        conductor_class="solid",
        data_pairs=0,
    ),
)
_OLD = {"protocol": "PAIRBUS", "draw_w": 1.8, "lowest_supply_v": 9.0, "ends_bus": EndsBus.NO, "unit_loads": 1.0}
_NEW = {"protocol": "OPENPAIR", "lowest_supply_v": 12.0, "ends_bus": EndsBus.SWITCH, "unit_loads": 0.25}
MODELS = (
    Model(
        key="CT-1",
        kind=NodeKind.CONTROLLER,
        protocol="CAMPUSNET",
        draw_w=0.0,
        ends_bus=EndsBus.NO,
    ),
    Model(
        key="GW-2",
        kind=NodeKind.GATEWAY,
        protocol="PAIRBUS",
        protocol_2="CAMPUSNET",
        supply_v=24.0,
        supply_rating_w=60.0,
        unit_loads=1.0,
        ends_bus=EndsBus.NO,
        last_sold=date(2012, 6, 30),
        part="P-2102",
    ),
    Model(
        key="GW-7",
        kind=NodeKind.GATEWAY,
        protocol="OPENPAIR",
        protocol_2="CAMPUSNET",
        supply_v=24.0,
        supply_rating_w=60.0,
        unit_loads=1.0,
        ends_bus=EndsBus.YES,
        part="P-2107",
    ),
    Model(key="JB-1", kind=NodeKind.JUNCTION, draw_w=0.0, unit_loads=0.0, ends_bus=EndsBus.NO),
    Model(key="PN-1", kind=NodeKind.PANEL, **_OLD),  # type: ignore[arg-type]
    Model(
        key="SN-5",
        kind=NodeKind.SENSOR,
        protocol="PAIRBUS",
        protocol_2="OPENPAIR",
        draw_w=0.5,
        lowest_supply_v=9.0,
        unit_loads=0.25,
        ends_bus=EndsBus.NO,
    ),
    Model(
        key="SU-3",
        kind=NodeKind.SUPPLY,
        draw_w=0.0,
        supply_v=24.0,
        supply_rating_w=40.0,
        unit_loads=0.0,
        ends_bus=EndsBus.NO,
    ),
    Model(
        key="WS-20",
        kind=NodeKind.STATION,
        zones=8,
        scenes=8,
        box_gangs=2,
        last_sold=date(2011, 6, 30),
        supported_until=date(2021, 6, 30),
        service_life_years=20.0,
        part="P-2020",
        **_OLD,  # type: ignore[arg-type]
    ),
    Model(
        key="WS-21",
        kind=NodeKind.STATION,
        zones=12,
        scenes=16,
        box_gangs=1,
        last_sold=date(2014, 6, 30),
        supported_until=date(2024, 6, 30),
        service_life_years=20.0,
        part="P-2021",
        **_OLD,  # type: ignore[arg-type]
    ),
    Model(
        key="WS-70",
        kind=NodeKind.STATION,
        draw_w=3.0,
        zones=8,
        scenes=16,
        box_gangs=2,
        service_life_years=20.0,
        part="P-2070",
        **_NEW,  # type: ignore[arg-type]
    ),
)


def _part(key: str, description: str, price: str, lead: int, on_hand: str) -> Part:
    return Part(
        key=key,
        description=description,
        unit="piece",
        pack=Decimal(5),
        price=Decimal(price),
        currency="EUR",
        lead_time_days=lead,
        supplier="Northquay Supply",
        on_hand=Decimal(on_hand),
        spare_allowance_pct=Decimal(5),
    )


PARTS = (
    _part("P-1001", "Breakout, screw terminals to RJ45", "7.40", 14, "10"),
    _part("P-1002", "Patch lead, 1 m", "2.10", 7, "40"),
    _part("P-1003", "End resistor, 120 ohm", "0.80", 7, "5"),
    _part("P-1004", "Local supply, 24 V 15 W", "31.00", 21, "0"),
    _part("P-1005", "Box adapter, 1 to 2 gangs", "12.50", 21, "0"),
    _part("P-2020", "Wall station WS-20", "0.00", 0, "0"),
    _part("P-2021", "Wall station WS-21", "0.00", 0, "0"),
    _part("P-2070", "Wall station WS-70", "210.00", 42, "2"),
    _part("P-2102", "Gateway GW-2", "0.00", 0, "0"),
    _part("P-2107", "Gateway GW-7", "480.00", 56, "0"),
)
_ALWAYS = (
    MethodPart(part="P-1001", quantity=Decimal(1), per="cable end"),
    MethodPart(part="P-1002", quantity=Decimal(1), per="cable end"),
    MethodPart(part="P-2070", quantity=Decimal(1), per="station"),
    MethodPart(part="P-2107", quantity=Decimal(1), per="gateway"),
)
_STEPS = (
    MethodStep(step=1, text="Isolate the line and prove it dead", minutes=10, people=1, outage=True, hold_point=True),
    MethodStep(step=2, text="Land both cable ends on breakouts", minutes=25, people=2, outage=True, hold_point=True),
    MethodStep(step=3, text="Fit the new station, power up, test", minutes=20, people=1, outage=True, hold_point=False),
)
_PINS = tuple(
    MethodPin(signal=signal, old_conductor=conductor, terminal=str(place), rj45_pin=pin, source="invented")
    for place, (signal, conductor, pin) in enumerate(
        (
            ("DATA_H", "data pair, white", 1),
            ("DATA_L", "data pair, blue", 2),
            ("V-", "power pair, black", 7),
            ("V+", "power pair, red", 8),
        ),
        start=1,
    )
)
METHODS = (
    Method(
        key="M-20",
        old_model="WS-20",
        new_model="WS-70",
        new_protocol="OPENPAIR",
        bit_rate_kbit_s=125.0,
        old_gateway_model="GW-2",
        new_gateway_model="GW-7",
        patch_cable="Cat 6 patch",
        patch_lead_m=1.0,
        parts=(*_ALWAYS, MethodPart(part="P-1004", quantity=Decimal(1), per="station", when="local supply")),
        steps=_STEPS,
        pins=_PINS,
    ),
    Method(
        key="M-21",
        old_model="WS-21",
        new_model="WS-70",
        new_protocol="OPENPAIR",
        old_gateway_model="GW-2",
        new_gateway_model="GW-7",
        patch_cable="Cat 6 patch",
        patch_lead_m=1.0,
        parts=(*_ALWAYS, MethodPart(part="P-1005", quantity=Decimal(1), per="station", when="box adapter")),
        steps=_STEPS,
        pins=_PINS,
    ),
)


def catalogue() -> Catalogue:
    """Return the invented catalogue of the campus by hand."""
    return Catalogue(
        protocols=PROTOCOLS,
        cables=CABLES,
        models=MODELS,
        methods=METHODS,
        parts=PARTS,
        spares=(Spare(model="WS-20", on_hand=3, store="Main store"),),
    )
