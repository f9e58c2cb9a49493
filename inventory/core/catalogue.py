"""The catalogue as records: protocols, cables, models, methods, parts.

Unknown is None everywhere; never 0, an empty text or infinity. Units stand in the names.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum


class NodeKind(StrEnum):
    """Kinds of node."""

    STATION = "station"
    GATEWAY = "gateway"
    PANEL = "panel"
    CONTROLLER = "controller"
    SENSOR = "sensor"
    SUPPLY = "supply"
    JUNCTION = "junction"
    OTHER = "other"


class Layout(StrEnum):
    """Layouts a protocol allows."""

    LINE = "line"
    TREE = "tree"
    ANY = "any"


class EndsBus(StrEnum):
    """Whether a node has an end resistor in circuit; SWITCH has one that can be put in or out."""

    YES = "yes"
    NO = "no"
    SWITCH = "switch"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProtocolRow:
    """Limits of one protocol at one bit rate; lengths in metres, a limit the standard does not set is None."""

    protocol: str
    bit_rate_kbit_s: float | None = None
    layout: Layout | None = None
    longest_bus_m: float | None = None
    longest_stub_m: float | None = None
    all_stubs_m: float | None = None
    farthest_pair_m: float | None = None
    total_wire_m: float | None = None
    less_per_node_m: float | None = None
    less_per_stub_m: float | None = None  # metres taken off the longest bus for each metre of stub
    most_nodes: int | None = None
    most_unit_loads: float | None = None
    ends: int | None = None
    end_ohm: float | None = None
    lowest_impedance_ohm: float | None = None
    highest_impedance_ohm: float | None = None
    data_conductor: str | None = None  # the thinnest that the lengths hold for
    power_on_bus: bool | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cable:
    """One kind of cable."""

    key: str
    power_conductor: str | None = None  # `18 AWG` or `0.75 mm2`
    power_pairs: int | None = None
    conductor_class: str | None = None
    data_pairs: int | None = None
    data_conductor: str | None = None  # `22 AWG` or `0.5 mm2`
    impedance_ohm: float | None = None
    screened: bool | None = None
    category: str | None = None
    part: str | None = None  # the part, counted in metres, under which it is bought


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """One model of equipment."""

    key: str
    kind: NodeKind
    description: str | None = None
    protocol: str | None = None
    protocol_2: str | None = None
    draw_w: float | None = None
    lowest_supply_v: float | None = None
    supply_v: float | None = None
    supply_rating_w: float | None = None
    unit_loads: float | None = None
    ends_bus: EndsBus | None = None
    zones: int | None = None
    scenes: int | None = None
    box_gangs: int | None = None
    last_sold: date | None = None
    supported_until: date | None = None
    service_life_years: float | None = None
    part: str | None = None

    def speaks(self, protocol: str) -> bool:
        """Tell whether the records say that the model can be on `protocol`."""
        return protocol in (self.protocol, self.protocol_2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """Units of a part that are ordered and still to come."""

    part: str
    due: date
    quantity: Decimal
    reference: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part; `price` is for one unit, in `currency`; `deliveries` are still to come, by day."""

    key: str
    description: str | None = None
    unit: str | None = None
    pack: Decimal | None = None
    price: Decimal | None = None
    currency: str | None = None
    lead_time_days: int | None = None
    supplier: str | None = None
    on_hand: Decimal | None = None
    spare_allowance_pct: Decimal | None = None
    deliveries: tuple[Delivery, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodPart:
    """One line of a method's parts list."""

    part: str
    quantity: Decimal
    per: str  # station, cable end, segment, gateway, order
    when: str = "always"  # always, or the name of an extra


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodStep:
    """One step of a method; `per` is what it is done once for, None each station; `reading` a Quantity measured at it."""

    step: int
    text: str
    per: str | None = None
    minutes: float | None = None
    shortest_min: float | None = None
    longest_min: float | None = None
    people: int | None = None
    outage: bool | None = None
    hold_point: bool | None = None
    reading: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodPin:
    """Where one signal of the new bus lands."""

    signal: str
    old_conductor: str | None = None
    terminal: str | None = None
    rj45_pin: int | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """One way to replace an old model by a new one."""

    key: str
    old_model: str
    new_model: str
    new_protocol: str
    bit_rate_kbit_s: float | None = None
    old_gateway_model: str | None = None
    new_gateway_model: str | None = None
    patch_cable: str | None = None
    patch_lead_m: float | None = None
    caution: str | None = None
    parts: tuple[MethodPart, ...] = ()
    steps: tuple[MethodStep, ...] = ()
    pins: tuple[MethodPin, ...] = ()

    @property
    def extras(self) -> frozenset[str]:
        """Extras the method lists parts for."""
        return frozenset(part.when for part in self.parts) - {"always"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """Units of an old model in one store."""

    model: str
    on_hand: int
    store: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """Everything that is not on a wall, in tuples sorted by key."""

    protocols: tuple[ProtocolRow, ...] = ()
    cables: tuple[Cable, ...] = ()
    models: tuple[Model, ...] = ()
    methods: tuple[Method, ...] = ()
    parts: tuple[Part, ...] = ()
    spares: tuple[Spare, ...] = ()
