"""One trial as the rules see it: a segment, an option, and all figures that were measured for it."""

from dataclasses import dataclass

from inventory.core.catalogue import Cable, Method, Model, NodeKind, ProtocolRow
from planner.core.brief import Brief
from planner.core.power import PowerState
from planner.core.rules.columns import PASSIVE, known
from planner.core.rules.options import Option


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One side of the segment: the node, its model now and afterwards, and what its own row says.

    `ends` is the end resistor afterwards (codes of Snapshot); `volts` the voltage there afterwards, None where there
    is none. `method` is the method of an old station, `lead` tells whether patch leads are put on its run ends.
    """

    key: str
    now: Model | None
    model: Model | None
    method: Method | None
    ends: int
    feeds: bool
    volts: float | None
    volts_local: float | None
    box_gangs: int | None
    zones_used: int | None
    scenes_used: int | None
    zone_rows: int
    scene_rows: int

    @property
    def kind(self) -> NodeKind | None:
        """Return the kind of the node, None where its model is not known."""
        return None if self.now is None else self.now.kind

    def asked(self, fact: str) -> str:
        """Return a fact of the model afterwards in words, or, where the model itself is not known, which it is."""
        if self.model is not None:
            return f"{fact} of model {self.model.key}"
        return f"Model of {self.key}" if self.method is None else f"Model {self.method.new_model} in the catalogue"

    @property
    def passive(self) -> bool:
        """Tell whether the node says nothing on the data pair."""
        return self.now is not None and self.now.kind in PASSIVE


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """One run: its recorded cable and length, the patch leads on it, its ends that are worked on, its current afterwards [A].

    `area_mm2` and `power_pairs` are those of its cable, None where they are not known.
    """

    key: str
    bus: str | None
    cable: Cable | None
    area_mm2: float | None
    power_pairs: int | None
    length_m: float | None
    leads: int
    cable_ends: int
    amps: float
    amps_local: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What feeds the segment and what is left of it; figures are the best that unknown facts allow."""

    source_v: float | None
    source_a: float
    loss_w: float
    load_w: float
    state: PowerState
    known: bool
    far_m: float = (
        0.0  # way from the source to the farthest load, where something asks for it; lengths not known count nothing
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """Another segment of the same gateway and what the change means to it.

    fate : "stays" (nothing changes for it), "converts" (in the same outage), "cut off", or "not known". `why` in words.
    watt : what it draws from the gateway afterwards: one that converts with losses, one that stays at the least, and
    most_w at the most; `missing` would tell better.
    """

    segment: str
    fate: str
    why: str
    watt: float = 0.0
    most_w: float = 0.0
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One segment under one option."""

    segment: str
    brief: Brief
    option: Option
    row: ProtocolRow | None
    protocol: str | None  # what it carries now
    members: tuple[Member, ...]
    old: tuple[Member, ...]  # of them: old stations
    gateways: tuple[Member, ...]
    sources: tuple[Member, ...]  # what feeds the power pair
    wires: tuple[Wire, ...]
    doubts: tuple[str, ...]  # facts that settle what the records leave open, in words
    doubtful: bool  # whether the membership itself is doubtful
    silent: tuple[str, ...]  # runs that are missing from the records, in words
    lost: tuple[str, ...]  # nodes nearby that name no bus
    loops: int
    pieces: int
    trunk_m: float
    total_m: float
    longest_stub_m: float
    all_stubs_m: float
    trunk_ends: tuple[int, int]  # members, -1 where nothing is wired
    branched: bool
    lengths_known: bool
    feed: Feed
    local: Feed
    patch: tuple[Cable | None, ...]  # cables of the patch leads in use
    taps: int = 0  # most branches at one place of the trunk, at most
    copper: float = 0.0  # of all wire, metre by mm2 of data conductor; NaN not known, 0 where nothing asks for it
    thin_m: float = 0.0  # of all wire, what is of the thinner sort of two that may be mixed; NaN not known
    shortest_m: float = float("inf")  # shortest run between two nodes that speak, where something asks for it
    bounded: bool = False  # too many loops to search: all wire stands for trunk and stubs
    extras: frozenset[str] = frozenset()  # extras put in
    contradicted: tuple[str, ...] = ()  # what was measured and contradicts the records, in words

    @property
    def has_local(self) -> bool:
        """Tell whether the old stations are fed where they are."""
        return "local supply" in self.extras

    @property
    def feeding(self) -> Feed:
        """Return the feed with the extras that are put in."""
        return self.local if self.has_local else self.feed

    @property
    def is_fed(self) -> bool:
        """Tell whether the bus carries power, as far as anyone knows."""
        return self.row is None or self.row.power_on_bus is not False

    def loads(self, member: Member) -> float | None:
        """Return what a member draws from the bus [W], None where it is not known."""
        if member.feeds or (self.has_local and member.method is not None and "local supply" in member.method.extras):
            return 0.0
        return None if member.model is None else known(member.model.draw_w)

    @property
    def from_gateway_w(self) -> float:
        """Return what the segment draws from its gateway, losses included [W]; 0 where something else feeds it."""
        if not self.is_fed or len(self.sources) != 1 or self.sources[0].kind is not NodeKind.GATEWAY:
            return 0.0
        watt = (self.feeding.source_v or 0.0) * self.feeding.source_a
        return watt if watt > 0 else 0.0  # NaN where nothing stands

    @property
    def from_gateway_at_most_w(self) -> float:
        """Return the same; where nothing stands, what the loads can draw at most once it does: at half the voltage."""
        if self.from_gateway_w > 0 or not self.is_fed or len(self.sources) != 1:
            return self.from_gateway_w
        return 2 * self.feeding.load_w if self.sources[0].kind is NodeKind.GATEWAY else 0.0

    def volts_at(self, member: Member) -> float | None:
        """Return the voltage at a member with the extras that are put in."""
        return member.volts_local if self.has_local else member.volts

    def amps_in(self, wire: Wire) -> float:
        """Return the current in a run with the extras that are put in [A]."""
        return wire.amps_local if self.has_local else wire.amps
