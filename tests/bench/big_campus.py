"""Campuses of any size from a seed, made as columns: nobody waits for a million rows by name.

Segments of 2 to 30 nodes: 90 in 100 are lines, the others trees and rings, and one is a rogue line of 2,000. Every
gateway hangs on its building's backbone too; one in twenty serves two lines. Of every hundred runs, two lack a fact.
"""

from dataclasses import dataclass, fields, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from inventory.core.snapshot import BUS_COLUMNS, UNKNOWN, Building, Bus, Nodes, Room, Runs, Snapshot
from tests.campus_catalogue import catalogue

Longs = NDArray[np.int64]
ROGUE = 2_000
LINES_A_BUILDING = 40
FLOORS = 4
LINE, TREE, RING = 0, 1, 2
OTHERS = ("JB-1", "SN-5", "PN-1")
OTHERS_SHARE = (0.69, 0.3, 0.01)
CABLES = ("2x2 18AWG", "2x2 24AWG")
NO_DAY = np.datetime64("NaT")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lines:
    """Sizes and shapes of all segments but backbones; the first is the rogue line, if there is one."""

    size: Longs
    shape: Longs
    building: Longs
    first: Longs  # place of its first node among the nodes of all lines
    served_by: Longs  # the line whose first node is its gateway: mostly its own
    line: Longs  # of each of those nodes: its line
    step: Longs  # of each of those nodes: its number on the line, 0 is the first
    origin: Longs  # of each of those nodes: where the run to it comes from, -1 at the first


def big_campus(seed: int, sides: int) -> Snapshot:
    """Return an invented campus of about `sides` sides."""
    rng = np.random.default_rng(seed)
    lines = _lines(rng, sides)
    buildings = int(lines.building[-1]) + 1
    place = np.arange(len(lines.line)) + lines.building[lines.line] + 1  # the controller of each building comes first
    return Snapshot(
        buildings=tuple(
            Building(key=f"B{number:05d}", district=("North bank", "Quay")[number % 2], outages_at_once=1)
            for number in range(buildings)
        ),
        rooms=tuple(
            Room(building=number, key=str(floor), floor=str(floor), importance=1 + floor)
            for number in range(buildings)
            for floor in range(FLOORS)
        ),
        buses=_buses(lines, buildings),
        catalogue=catalogue(),
        nodes=_nodes(rng, lines, buildings, place),
        runs=_runs(rng, lines, buildings, place),
        taken_on=date(2026, 11, 2),
    )


def _lines(rng: np.random.Generator, sides: int) -> _Lines:
    size = rng.integers(2, 31, size=max(sides // 17, 1))
    shape = rng.choice((LINE, TREE, RING), p=(0.9, 0.06, 0.04), size=len(size))
    if sides > 2 * ROGUE:
        size[0], shape[0] = ROGUE, LINE
    building = np.arange(len(size)) // LINES_A_BUILDING
    first = np.cumsum(size) - size
    served_by = np.arange(len(size))
    shares = np.flatnonzero((rng.random(len(size)) < 0.05) & (served_by % 2 == 0))[:-1]
    served_by[shares + 1] = np.where(building[shares + 1] == building[shares], shares, shares + 1)
    line = np.repeat(np.arange(len(size)), size)
    step = np.arange(len(line)) - first[line]
    back = np.where(shape[line] == TREE, (rng.random(len(line)) * step).astype(np.int64), step - 1)
    return _Lines(
        size=size,
        shape=shape,
        building=building,
        first=first,
        served_by=served_by,
        line=line,
        step=step,
        origin=np.where(step > 0, first[line] + back, UNKNOWN),
    )


def _bus_place(lines: _Lines) -> Longs:
    """Return the bus of each line; each building's backbone comes behind its lines."""
    return np.arange(len(lines.size)) + lines.building


def _backbone(lines: _Lines, buildings: int) -> Longs:
    return np.searchsorted(lines.building, np.arange(buildings), side="right") + np.arange(buildings)


def _buses(lines: _Lines, buildings: int) -> tuple[Bus, ...]:
    found = [
        (f"B{number:05d}-L{line:06d}", number, "PAIRBUS") for line, number in enumerate(lines.building.tolist())
    ] + [(f"B{number:05d}-N", number, "CAMPUSNET") for number in range(buildings)]
    return tuple(Bus(key=key, building=building, protocol=protocol) for key, building, protocol in sorted(found))


def _names(lines: _Lines) -> list[str]:
    where = lines.building[lines.line].tolist()
    return [
        f"B{building:05d}-L{line:06d}-{step:05d}"
        for building, line, step in zip(where, lines.line.tolist(), lines.step.tolist(), strict=True)
    ]


def _models(rng: np.random.Generator, lines: _Lines) -> Longs:
    """Return the model of each node of a line: the gateway, one to three stations, and what else hangs there."""
    of_model = {model.key: number for number, model in enumerate(catalogue().models)}
    count = len(lines.line)
    model = np.array([of_model[key] for key in OTHERS])[rng.choice(3, p=OTHERS_SHARE, size=count)]
    leaf = np.ones(count, dtype=bool)
    leaf[lines.origin[lines.step > 0]] = False
    model = np.where(leaf & (model == of_model["JB-1"]), of_model["SN-5"], model)
    stations = rng.integers(1, 4, size=len(lines.size))
    near_end = lines.size[lines.line] - lines.step <= stations[lines.line]
    old = np.where(rng.random(count) < 0.7, of_model["WS-20"], of_model["WS-21"])
    model = np.where(near_end, old, model)
    model[lines.first] = np.where(lines.served_by < np.arange(len(lines.size)), of_model["JB-1"], of_model["GW-2"])
    return model


def _nodes(rng: np.random.Generator, lines: _Lines, buildings: int, place: Longs) -> Nodes:
    count = len(place) + buildings
    controller = np.searchsorted(lines.building, np.arange(buildings))  # the first line of each building
    controller = lines.first[controller] + np.arange(buildings)

    def column(value: int, dtype: type = np.int32) -> NDArray[np.int32]:
        return np.full(count, value, dtype=dtype)

    names = np.empty(count, dtype=object)
    names[place] = _names(lines)
    names[controller] = [f"B{number:05d}-C" for number in range(buildings)]
    building, bus, model, room = column(0), np.full((count, BUS_COLUMNS), UNKNOWN, np.int32), column(0), column(-1)
    building[place], building[controller] = lines.building[lines.line], np.arange(buildings)
    bus[place, 0] = _bus_place(lines)[lines.line]
    backbone, gateways = _backbone(lines, buildings), place[lines.first]
    bus[controller, 0] = backbone
    bus[gateways, 1] = backbone[lines.building]
    shared = lines.served_by < np.arange(len(lines.size))
    bus[gateways[shared], 1] = UNKNOWN
    bus[gateways[lines.served_by[shared]], 2] = bus[gateways[shared], 0]
    model[place] = _models(rng, lines)
    model[controller] = next(n for n, row in enumerate(catalogue().models) if row.key == "CT-1")
    room[place] = building[place] * FLOORS + rng.integers(0, FLOORS, size=len(place))
    return Nodes(
        key=tuple(names.tolist()),
        building=building,
        room=room,
        model=model,
        bus=bus,
        ends_bus=column(-1, np.int8).astype(np.int8),
        condition=column(3),
        zones_used=rng.integers(1, 9, size=count).astype(np.int32),
        scenes_used=rng.integers(0, 9, size=count).astype(np.int32),
        box_gangs=np.full(count, 2, dtype=np.int32),
        installed=np.full(count, NO_DAY, dtype="datetime64[D]"),
        failures=column(0),
    )


def _runs(rng: np.random.Generator, lines: _Lines, buildings: int, place: Longs) -> Runs:
    """Return one run to every node but the gateways from one before it, the ring's last, and those to the backbone."""
    fed = np.flatnonzero(lines.step > 0)
    rings = np.flatnonzero((lines.shape == RING) & (lines.size > 2))
    head = np.concatenate([fed, lines.first[rings], lines.first])
    tail = np.concatenate(
        [lines.origin[fed], lines.first[rings] + lines.size[rings] - 1, np.full(len(lines.size), UNKNOWN)]
    )
    names = _names(lines)
    kind = np.repeat((0, 1, 2), (len(fed), len(rings), len(lines.size)))
    keys = [
        f"R-{names[node]}{'-zz'[: which + (which > 0)]}"
        for node, which in zip(head.tolist(), kind.tolist(), strict=True)
    ]
    controller = np.searchsorted(lines.building, np.arange(buildings))
    controller = lines.first[controller] + np.arange(buildings)
    gateway = lines.served_by[lines.line[head]]
    at_gateway = (tail < 0) & (gateway < lines.line[head])
    tail = np.where(at_gateway, lines.first[gateway], tail)
    at_backbone = tail < 0
    bus = np.where(
        at_backbone, _backbone(lines, buildings)[lines.building[lines.line[head]]], _bus_place(lines)[lines.line[head]]
    )
    from_node = np.where(at_backbone, controller[lines.building[lines.line[head]]], place[tail])
    length = rng.uniform(2.0, 20.0, size=len(head)).round(1)
    length[rng.random(len(head)) < 0.01] = np.nan
    cable = rng.choice((0, 1), p=(0.8, 0.2), size=len(head))
    cable[rng.random(len(head)) < 0.01] = UNKNOWN
    order = np.array(sorted(range(len(keys)), key=keys.__getitem__))
    return Runs(
        key=tuple(keys[at] for at in order),
        bus=bus[order].astype(np.int32),
        from_node=from_node[order].astype(np.int32),
        to_node=place[head][order].astype(np.int32),
        cable=cable[order].astype(np.int32),
        length_m=length[order],
    )


def renamed_at_random(snapshot: Snapshot, seed: int) -> Snapshot:
    """Return the same campus with the names of nodes and runs given out at random, so that rows stand in another order."""
    rng = np.random.default_rng(seed)
    nodes, runs = snapshot.nodes, snapshot.runs
    old_node, old_run = rng.permutation(len(nodes)), rng.permutation(len(runs))
    place = np.empty_like(old_node)
    place[old_node] = np.arange(len(nodes))
    moved = {one.name: getattr(nodes, one.name)[old_node] for one in fields(nodes) if one.name != "key"}
    ends = {
        name: place[getattr(runs, name)[old_run]].astype(np.int32) for name in ("from_node", "to_node")
    }  # every end is known here
    kept = {name: getattr(runs, name)[old_run] for name in ("bus", "cable", "length_m")}
    return replace(snapshot, nodes=replace(nodes, **moved), runs=replace(runs, **ends, **kept))
