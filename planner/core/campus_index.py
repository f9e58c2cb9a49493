"""A snapshot with what orders look up by name."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

import numpy as np

from inventory.core.catalogue import Method, Model, NodeKind, Part
from inventory.core.snapshot import UNKNOWN, Snapshot

RoomKey = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Campus:
    """A snapshot and its records by name."""

    snapshot: Snapshot
    node: dict[str, int]
    methods: dict[str, Method]
    parts: dict[str, Part]
    bus_protocol: dict[str, str | None]
    panels: dict[int, frozenset[str]]
    model_parts: dict[str, str | None]
    districts: dict[str, str | None]

    def model(self, node: int) -> Model | None:
        """Return the model of a node, None if not known."""
        at = int(self.snapshot.nodes.model[node])
        return None if at == UNKNOWN else self.snapshot.catalogue.models[at]

    def model_key(self, node: str) -> str | None:
        """Return the name of the model of a node by name, None if not known."""
        model = self.model(self.node[node])
        return None if model is None else model.key

    def room(self, node: int) -> int | None:
        """Return the position of the room of a node, None if not known."""
        at = int(self.snapshot.nodes.room[node])
        return None if at == UNKNOWN else at

    def room_key(self, room: int) -> RoomKey:
        """Return building and room by name."""
        record = self.snapshot.rooms[room]
        return self.snapshot.buildings[record.building].key, record.key

    def installed(self, node: int) -> date | None:
        """Return the day a node was installed, None if not known."""
        day = self.snapshot.nodes.installed[node]
        return None if np.isnat(day) else day.astype("datetime64[D]").item()

    def is_supply(self, node: str) -> bool:
        """Tell whether a node by name is known to be a supply."""
        model = self.model(self.node[node])
        return model is not None and model.kind is NodeKind.SUPPLY


def campus_of(snapshot: Snapshot) -> Campus:
    """Return a snapshot with its records by name."""
    panels: dict[int, set[str]] = defaultdict(set)
    for zone in snapshot.zones:
        if zone.panel != UNKNOWN:
            panels[zone.node].add(snapshot.nodes.key[zone.panel])
    return Campus(
        snapshot=snapshot,
        node={key: at for at, key in enumerate(snapshot.nodes.key)},
        methods={method.key: method for method in snapshot.catalogue.methods},
        parts={part.key: part for part in snapshot.catalogue.parts},
        bus_protocol={bus.key: bus.protocol for bus in snapshot.buses},
        panels={node: frozenset(found) for node, found in panels.items()},
        model_parts={model.key: model.part for model in snapshot.catalogue.models},
        districts={building.key: building.district for building in snapshot.buildings},
    )
