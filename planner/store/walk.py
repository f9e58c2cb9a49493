"""From nodes and buses to the whole segments they are on, by the tables alone: a campus need not be read for one line.

The same joins as in planner.core.segments: a bus joins what names it and what its runs touch, a node that is no
gateway joins all its buses and runs, a gateway joins nothing.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain
from typing import TypeVar

from django.db.models import Q

from inventory.core.catalogue import NodeKind
from inventory.models import Node, Run

BUSES = ("bus_id", "bus_2_id", "bus_3_id", "bus_4_id")
Key = TypeVar("Key", int, str)
AT_ONCE = 5000  # ids in one question to the database

Vertex = tuple[str, int]  # ("bus" or "node", id)


@dataclass(frozen=True, slots=True)
class Spot:
    """One node as the walk sees it: ids of its places and of the buses it names."""

    pk: int
    key: str
    building: int
    room: int | None
    model: int
    gateway: bool
    buses: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Link:
    """One run as the walk sees it."""

    pk: int
    bus: int
    ends: tuple[int, int]


@dataclass(slots=True, kw_only=True)
class Part:
    """One whole segment: buses, nodes that are no gateways, and the gateways with a side on it."""

    buses: set[int] = field(default_factory=set)
    nodes: set[int] = field(default_factory=set)
    gateways: set[int] = field(default_factory=set)


def in_lots(ids: Collection[Key]) -> Iterator[list[Key]]:
    """Yield ids or keys in lots that one question to the database can name."""
    ordered = sorted(ids)
    for begin in range(0, len(ordered), AT_ONCE):
        yield ordered[begin : begin + AT_ONCE]


def spots_where(*conditions: Q) -> Iterator[Spot]:
    """Yield the nodes that meet all conditions."""
    rows = Node.objects.filter(*conditions).order_by("pk")
    wanted = ("pk", "key", "building_id", "room_id", "model_id", "model__kind", *BUSES)
    for pk, key, building, room, model, kind, *buses in rows.values_list(*wanted):
        named = tuple(bus for bus in buses if bus is not None)
        yield Spot(pk, key, building, room, model, kind == NodeKind.GATEWAY, named)


def links_where(condition: Q) -> Iterator[Link]:
    """Yield the runs that meet a condition."""
    rows = Run.objects.filter(condition).order_by("pk").values_list("pk", "bus_id", "from_node_id", "to_node_id")
    for pk, bus, *ends in rows:
        yield Link(pk, bus, (ends[0], ends[1]))


def spots_of(nodes: Collection[int]) -> Iterator[Spot]:
    """Yield nodes by id."""
    return chain.from_iterable(spots_where(Q(pk__in=some)) for some in in_lots(nodes))


def links_at(nodes: Collection[int]) -> Iterator[Link]:
    """Yield the runs that end at any of these nodes."""
    return chain.from_iterable(links_where(Q(from_node__in=some) | Q(to_node__in=some)) for some in in_lots(nodes))


def spots_on(buses: Collection[int]) -> Iterator[Spot]:
    """Yield the nodes that name any of these buses."""
    for some in in_lots(buses):
        yield from spots_where(Q(bus__in=some) | Q(bus_2__in=some) | Q(bus_3__in=some) | Q(bus_4__in=some))


def _along(buses: Collection[int]) -> Iterator[Link]:
    return chain.from_iterable(links_where(Q(bus__in=some)) for some in in_lots(buses))


class Walk:
    """Everything on the segments that were asked for; grows with each question."""

    def __init__(self) -> None:
        self.spots: dict[int, Spot] = {}
        self.links: dict[int, Link] = {}
        self.buses: set[int] = set()
        self.nodes: set[int] = set()  # no gateways
        self._sides: set[tuple[int, int]] = set()  # gateway, bus
        self._lone: set[int] = set()  # gateways on no bus at all
        self._joined: dict[Vertex, Vertex] = {}

    def follow(self, nodes: Iterable[int] = (), buses: Iterable[int] = ()) -> None:
        """Take in the whole segments of nodes and buses; of a gateway, those on all its sides."""
        new_nodes, of_gateways = self._begin(set(nodes))
        new_buses = (set(buses) | of_gateways) - self.buses
        while new_buses or new_nodes:
            links = [*_along(new_buses), *links_at(new_nodes)]
            spots = list(spots_on(new_buses))
            self.buses |= new_buses
            self.nodes |= new_nodes
            self._keep(spots, links)
            new_buses, new_nodes = self._next(spots, links, new_nodes)

    def _begin(self, nodes: set[int]) -> tuple[set[int], set[int]]:
        """Return those of the nodes to start from that are no gateways, and the buses of those that are."""
        asked = {spot.pk: spot for spot in spots_of(nodes - self.nodes)}
        self.spots |= asked
        gateways = {pk for pk, spot in asked.items() if spot.gateway}
        at = list(links_at(gateways))
        buses = {bus for pk in gateways for bus in asked[pk].buses} | {link.bus for link in at}
        reached = {end for link in at for end in link.ends}
        self._lone |= {pk for pk in gateways if not asked[pk].buses} - reached
        return set(asked) - gateways, buses

    def _keep(self, spots: Iterable[Spot], links: Iterable[Link]) -> None:
        self.spots |= {spot.pk: spot for spot in spots}
        self.links |= {link.pk: link for link in links}
        missing = {end for link in links for end in link.ends} - self.spots.keys()
        self.spots |= {spot.pk: spot for spot in spots_of(missing)}

    def _next(self, spots: list[Spot], links: list[Link], nodes: set[int]) -> tuple[set[int], set[int]]:
        """Join what was found, and return the buses and nodes that it leads to."""
        touched = {spot.pk for spot in spots} | nodes
        for link in links:
            for end in link.ends:
                self._join(end, link.bus)
            touched |= set(link.ends)
        plain = {pk for pk in touched if not self.spots[pk].gateway}
        for pk in touched:
            for bus in self.spots[pk].buses:
                self._join(pk, bus)
        buses = {bus for pk in plain for bus in self.spots[pk].buses} | {link.bus for link in links}
        return buses - self.buses, plain - self.nodes

    def _join(self, node: int, bus: int) -> None:
        if self.spots[node].gateway:
            self._sides.add((node, bus))
        else:
            self._joined[self._root(("node", node))] = self._root(("bus", bus))

    def _root(self, vertex: Vertex) -> Vertex:
        while (above := self._joined.get(vertex, vertex)) != vertex:
            self._joined[vertex] = vertex = self._joined.get(above, above)
        return vertex

    def parts(self) -> list[Part]:
        """Return the segments taken in so far."""
        found: dict[Vertex, Part] = defaultdict(Part)
        for bus in self.buses:
            found[self._root(("bus", bus))].buses.add(bus)
        for node in self.nodes:
            found[self._root(("node", node))].nodes.add(node)
        for gateway, bus in self._sides:
            if bus in self.buses:
                found[self._root(("bus", bus))].gateways.add(gateway)
        lone = [Part(gateways={gateway}) for gateway in sorted(self._lone)]
        return [part for part in found.values() if part.nodes or part.gateways] + lone
