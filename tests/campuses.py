"""Invented campuses for tests: one worked by hand, and one of any size from a seed.

`Draft` collects rows by name, in any order, and makes the sorted snapshot that the stages see.
"""

import random
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from inventory.core.catalogue import (
    Catalogue,
    EndsBus,
)
from inventory.core.snapshot import BUS_COLUMNS, Building, Bus, Nodes, Room, Runs, Scene, Snapshot, Zone
from tests.campus_catalogue import catalogue

_ENDS = {None: -1, EndsBus.NO: 0, EndsBus.YES: 1, EndsBus.SWITCH: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeRow:
    """One row of Nodes by names; None is not known."""

    key: str
    model: str | None
    building: str | None = "B1"
    room: str | None = None
    buses: tuple[str, ...] = ()
    ends_bus: EndsBus | None = None
    condition: int | None = None
    zones_used: int | None = None
    scenes_used: int | None = None
    box_gangs: int | None = None
    installed: str | None = None
    failures: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """One row of Runs by names; None is not known."""

    key: str
    bus: str | None
    from_node: str | None
    to_node: str | None
    cable: str | None = None
    length_m: float | None = None


@dataclass(slots=True, kw_only=True)
class Draft:
    """A campus in the making."""

    catalogue: Catalogue
    buildings: list[Building] = field(default_factory=list)
    rooms: list[tuple[str, Room]] = field(default_factory=list)  # building name, room (its position is filled in)
    buses: list[tuple[str, Bus]] = field(default_factory=list)
    nodes: list[NodeRow] = field(default_factory=list)
    runs: list[RunRow] = field(default_factory=list)
    zones: list[tuple[str, str, str | None]] = field(default_factory=list)  # station, zone, panel
    scenes: list[tuple[str, str]] = field(default_factory=list)

    def building(self, key: str, **facts: object) -> None:
        """Add a building."""
        self.buildings.append(Building(key=key, **facts))  # type: ignore[arg-type]

    def room(self, building: str, key: str, **facts: object) -> None:
        """Add a room."""
        self.rooms.append((building, Room(building=-1, key=key, **facts)))  # type: ignore[arg-type]

    def bus(self, key: str, building: str = "B1", protocol: str | None = "PAIRBUS") -> None:
        """Add a bus."""
        self.buses.append((building, Bus(key=key, building=-1, protocol=protocol)))

    def node(self, key: str, model: str | None, *buses: str, **facts: object) -> None:
        """Add a node."""
        self.nodes.append(NodeRow(key=key, model=model, buses=buses, **facts))  # type: ignore[arg-type]

    def run(self, key: str, bus: str | None, ends: tuple[str | None, str | None], **facts: object) -> None:
        """Add a run."""
        self.runs.append(RunRow(key=key, bus=bus, from_node=ends[0], to_node=ends[1], **facts))  # type: ignore[arg-type]

    def snapshot(self) -> Snapshot:
        """Return the campus with every table sorted by key."""
        buildings = tuple(sorted(self.buildings, key=lambda row: row.key))
        of_building = {row.key: place for place, row in enumerate(buildings)}
        rooms = sorted(
            (replace(room, building=of_building[name]) for name, room in self.rooms),
            key=lambda row: (row.building, row.key),
        )
        of_room = {(row.building, row.key): place for place, row in enumerate(rooms)}
        buses = sorted((replace(bus, building=of_building[name]) for name, bus in self.buses), key=lambda row: row.key)
        of_bus = {row.key: place for place, row in enumerate(buses)}
        nodes = sorted(self.nodes, key=lambda row: row.key)
        of_node = {row.key: place for place, row in enumerate(nodes)}
        return Snapshot(
            buildings=buildings,
            rooms=tuple(rooms),
            buses=tuple(buses),
            catalogue=self.catalogue,
            nodes=_nodes(nodes, of_building, of_room, of_bus, self.catalogue),
            runs=_runs(sorted(self.runs, key=lambda row: row.key), of_bus, of_node, self.catalogue),
            zones=tuple(
                Zone(node=of_node[station], key=zone, panel=of_node.get(panel or "", -1))
                for station, zone, panel in sorted(self.zones, key=lambda row: (row[0], row[1], row[2] or ""))
            ),
            scenes=tuple(Scene(node=of_node[station], key=scene) for station, scene in sorted(self.scenes)),
            taken_on=date(2026, 11, 2),
        )


def _ints(values: list[int | None]) -> np.ndarray:
    return np.array([-1 if value is None else value for value in values], dtype=np.int32)


def _bus_columns(rows: list[NodeRow], of_bus: dict[str, int]) -> np.ndarray:
    columns = np.full((len(rows), BUS_COLUMNS), -1, dtype=np.int32)
    for place, row in enumerate(rows):
        for column, name in enumerate(row.buses):
            columns[place, column] = of_bus.get(name, -1)
    return columns


def _nodes(
    rows: list[NodeRow],
    of_building: dict[str, int],
    of_room: dict[tuple[int, str], int],
    of_bus: dict[str, int],
    catalogue: Catalogue,
) -> Nodes:
    of_model = {model.key: place for place, model in enumerate(catalogue.models)}
    building = [of_building.get(row.building or "", -1) for row in rows]
    return Nodes(
        key=tuple(row.key for row in rows),
        building=_ints(list(building)),
        room=_ints([of_room.get((place, row.room or ""), -1) for place, row in zip(building, rows, strict=True)]),
        model=_ints([of_model.get(row.model or "", -1) for row in rows]),
        bus=_bus_columns(rows, of_bus),
        ends_bus=np.array([_ENDS[row.ends_bus] for row in rows], dtype=np.int8),
        condition=_ints([row.condition for row in rows]),
        zones_used=_ints([row.zones_used for row in rows]),
        scenes_used=_ints([row.scenes_used for row in rows]),
        box_gangs=_ints([row.box_gangs for row in rows]),
        installed=np.array([row.installed or "NaT" for row in rows], dtype="datetime64[D]"),
        failures=_ints([row.failures for row in rows]),
    )


def _runs(rows: list[RunRow], of_bus: dict[str, int], of_node: dict[str, int], catalogue: Catalogue) -> Runs:
    of_cable = {cable.key: place for place, cable in enumerate(catalogue.cables)}
    return Runs(
        key=tuple(row.key for row in rows),
        bus=_ints([of_bus.get(row.bus or "", -1) for row in rows]),
        from_node=_ints([of_node.get(row.from_node or "", -1) for row in rows]),
        to_node=_ints([of_node.get(row.to_node or "", -1) for row in rows]),
        cable=_ints([of_cable.get(row.cable or "", -1) for row in rows]),
        length_m=np.array([np.nan if row.length_m is None else row.length_m for row in rows], dtype=np.float64),
    )


def _buildings(draft: Draft) -> None:
    for key, name, district in (
        ("B1", "Weir House", "North bank"),
        ("B2", "Kiln Hall", "Quay"),
        ("B3", "Mill", "Quay"),
    ):
        draft.building(key, name=name, district=district, time_zone="Europe/Lisbon", holidays="PT", outages_at_once=1)
        draft.bus(f"{key}-N0", key, "CAMPUSNET")
        draft.node(f"{key}-C1", "CT-1", f"{key}-N0", building=key)


def add_line(draft: Draft, line: str, *, gateway: str | None = None, building: str = "B1") -> str:
    """Add a station line with its gateway, which also hangs on the building's backbone; return the gateway."""
    draft.bus(line, building)
    if gateway is None:
        gateway = f"{line}-G"
        draft.node(gateway, "GW-2", line, f"{building}-N0", building=building)
        draft.run(f"{line}-N", f"{building}-N0", (f"{building}-C1", gateway), cable="Cat 6 patch", length_m=30.0)
    return gateway


def add_station(  # noqa: PLR0913 - one argument a fact
    draft: Draft,
    line: str,
    name: str,
    origin: str,
    *,
    model: str = "WS-20",
    length_m: float | None = 40.0,
    cable: str | None = "2x2 18AWG",
    building: str = "B1",
    box_gangs: int | None = 2,
    zones_used: int | None = 6,
) -> None:
    """Add a station in a room of its own, and the run that reaches it from `origin`."""
    room = name[-3:]
    draft.room(building, room, floor=room[0], name=f"Room {room}", use="teaching", importance=3)
    draft.node(
        name,
        model,
        line,
        building=building,
        room=room,
        box_gangs=box_gangs,
        zones_used=zones_used,
        scenes_used=4,
        condition=3,
        installed="2004-05-01",
    )
    draft.run(f"R-{name}", line, (origin, name), cable=cable, length_m=length_m)


def hand_campus() -> Snapshot:
    """Return three buildings in which every verdict occurs; each line says which, and why.

    B1-L01 in place: one WS-20 at 40 m.                    B1-L02 together: two WS-20 in a row.
    B1-L03 clear first: a panel that speaks only PAIRBUS.  B1-L04 new cable: 700 m, 500 m allowed.
    B1-L05 other method: 12 zones in use, 8 fit.            B1-L06 survey first: length of the run not known.
    B2-L01 survey first (joined with B2-L02 by run B2-X).  B2-L03 in place with a local supply: 400 m of 24 AWG.
    B2-L05 and B2-L06 in place: two lines of one gateway.  B2-L07 in place with box adapter (WS-21, 1 gang).
    B3-L01 survey first: B3-S199 names no bus.             B1-N0, B2-N0, B3-N0 leave.
    """
    draft = Draft(catalogue=catalogue())
    _buildings(draft)
    _first_building(draft)
    _second_building(draft)
    add_station(draft, "B3-L01", "B3-S101", add_line(draft, "B3-L01", building="B3"), building="B3")
    draft.node("B3-S199", "WS-20", building="B3", zones_used=4, scenes_used=4, box_gangs=2)
    return draft.snapshot()


def _first_building(draft: Draft) -> None:
    add_station(draft, "B1-L01", "B1-S101", add_line(draft, "B1-L01"))
    add_station(draft, "B1-L02", "B1-S102", add_line(draft, "B1-L02"))
    add_station(draft, "B1-L02", "B1-S103", "B1-S102", length_m=12.0)
    add_station(draft, "B1-L03", "B1-S104", add_line(draft, "B1-L03"))
    draft.node("B1-P104", "PN-1", "B1-L03", room="104")
    draft.run("R-B1-P104", "B1-L03", ("B1-S104", "B1-P104"), cable="2x2 18AWG", length_m=5.0)
    add_station(draft, "B1-L04", "B1-S105", add_line(draft, "B1-L04"), length_m=700.0)
    add_station(draft, "B1-L05", "B1-S106", add_line(draft, "B1-L05"), model="WS-21", zones_used=12)
    add_station(draft, "B1-L06", "B1-S107", add_line(draft, "B1-L06"), length_m=None)
    draft.zones += [("B1-S104", "1", "B1-P104"), ("B1-S101", "1", None)]
    draft.scenes += [("B1-S101", "1")]


def _second_building(draft: Draft) -> None:
    for line, station in (("B2-L01", "B2-S101"), ("B2-L02", "B2-S102")):
        add_station(draft, line, station, add_line(draft, line, building="B2"), building="B2")
    draft.run("B2-X", "B2-L01", ("B2-S101", "B2-S102"), cable="2x2 18AWG", length_m=8.0)
    thin = add_line(draft, "B2-L03", building="B2")
    add_station(draft, "B2-L03", "B2-S103", thin, building="B2", length_m=400.0, cable="2x2 24AWG")
    shared = add_line(draft, "B2-L05", building="B2")
    add_line(draft, "B2-L06", gateway=shared, building="B2")
    place = next(place for place, row in enumerate(draft.nodes) if row.key == shared)
    draft.nodes[place] = replace(draft.nodes[place], buses=("B2-L05", "B2-N0", "B2-L06"))
    add_station(draft, "B2-L05", "B2-S105", shared, building="B2")
    add_station(draft, "B2-L06", "B2-S106", shared, building="B2", length_m=55.0)
    small = add_line(draft, "B2-L07", building="B2")
    add_station(draft, "B2-L07", "B2-S107", small, building="B2", model="WS-21", box_gangs=1)


_SHAPES = ("one", "one", "one", "two", "panel", "sensor", "junction", "long", "none")


def random_campus(seed: int, sides: int, *, rogue: bool = False) -> Snapshot:
    """Return an invented campus of about `sides` sides; with `rogue`, its records lack facts and contradict."""
    rng = random.Random(seed)
    draft = Draft(catalogue=catalogue())
    count = 0
    while count < sides:
        count += _random_building(draft, rng, f"B{len(draft.buildings) + 1:05d}", sides - count)
    if rogue:
        _muddle(draft, rng)
    return draft.snapshot()


def _random_building(draft: Draft, rng: random.Random, key: str, most: int) -> int:
    draft.building(key, district=rng.choice(("North bank", "Quay")), outages_at_once=1)
    draft.bus(f"{key}-N0", key, "CAMPUSNET")
    draft.node(f"{key}-C1", "CT-1", f"{key}-N0", building=key)
    for room in range(1, 21):
        draft.room(key, f"{room:03d}", floor=str(room // 10), importance=rng.randint(1, 5))
    count = 1
    for line in range(1, rng.randint(8, 60)):
        count += _random_line(draft, rng, key, f"{key}-L{line:03d}")
        if count >= most:
            break
    return count


def _random_line(draft: Draft, rng: random.Random, building: str, line: str) -> int:
    gateway = add_line(draft, line, building=building)
    shape = rng.choice(_SHAPES)
    stations = {"one": 1, "two": rng.randint(2, 6), "none": 0}.get(shape, 1)
    last, count = gateway, 2
    if shape == "junction":
        draft.node(f"{line}-J", "JB-1", line, building=building)
        _random_run(draft, rng, line, (gateway, f"{line}-J"))
        last, count = f"{line}-J", count + 1
    for number in range(stations):
        name = f"{line}-S{number}"
        _random_station(draft, rng, building, line, name)
        _random_run(draft, rng, line, (last, name), longest=900.0 if shape == "long" else 120.0)
        last, count = name, count + 1
    if shape in ("panel", "sensor"):
        draft.node(f"{line}-P", "PN-1" if shape == "panel" else "SN-5", line, building=building)
        _random_run(draft, rng, line, (last, f"{line}-P"))
        count += 1
    return count


def _random_station(draft: Draft, rng: random.Random, building: str, line: str, name: str) -> None:
    draft.node(
        name,
        rng.choice(("WS-20", "WS-20", "WS-21")),
        line,
        building=building,
        room=f"{rng.randint(1, 20):03d}",
        box_gangs=rng.choice((1, 2, 2, 2)),
        zones_used=rng.randint(1, 8),
        scenes_used=rng.randint(0, 8),
        condition=rng.randint(1, 5),
        installed=f"{rng.randint(1996, 2016)}-{rng.randint(1, 12):02d}-01",
        failures=rng.choice((0, 0, 0, 1, 2)),
    )


def _random_run(draft: Draft, rng: random.Random, line: str, ends: tuple[str, str], *, longest: float = 120.0) -> None:
    draft.run(
        f"{line}-R-{ends[1]}",
        line,
        ends,
        cable=rng.choice(("2x2 18AWG", "2x2 18AWG", "2x2 24AWG")),
        length_m=round(rng.uniform(3.0, longest), 1),
    )


def _muddle(draft: Draft, rng: random.Random) -> None:
    """Take facts away, cross lines, close loops, forget runs and add what nobody placed."""
    draft.nodes = [_muddled_node(row, rng) for row in draft.nodes]
    draft.runs = [_muddled_run(row, rng) for row in draft.runs if rng.random() > 0.03]
    names = [row.key for row in draft.nodes]
    buses = [bus.key for _, bus in draft.buses]
    for number in range(max(1, len(names) // 60)):
        ends = (rng.choice(names), rng.choice(names))
        if ends[0] != ends[1]:
            draft.run(f"X{number:06d}", rng.choice(buses), ends, cable="2x2 18AWG", length_m=rng.uniform(1.0, 50.0))
    for number, row in enumerate(rng.sample(draft.runs, k=min(len(draft.runs), max(1, len(draft.runs) // 50)))):
        draft.runs.append(replace(row, key=f"Y{number:06d}"))  # a second cable beside the first: a loop


def _muddled_node(row: NodeRow, rng: random.Random) -> NodeRow:
    if rng.random() < 0.03:
        row = replace(row, buses=row.buses[1:])
    if rng.random() < 0.03:
        row = replace(row, box_gangs=None, zones_used=None, room=None)
    return row


def _muddled_run(row: RunRow, rng: random.Random) -> RunRow:
    if rng.random() < 0.05:
        row = replace(row, length_m=None)
    if rng.random() < 0.05:
        row = replace(row, cable=None)
    return row
