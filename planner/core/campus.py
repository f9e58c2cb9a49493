"""What all segments share while they are judged: who is old, protocols, options, neighbours across gateways.

Everything that is asked of many segments at once is a column; words are made for the segments that are asked for.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.brief import Brief
from planner.core.grouped import begins_of, order_by, spread
from planner.core.rules.doubts import Open, open_points
from planner.core.rules.options import Option, old_models, options_for
from planner.core.segments import Segments
from planner.core.sides import Flags, Longs, is_gateway

_Key = tuple[frozenset[str], str | None, float | None]  # old models, protocol now, bit rate now


@dataclass(frozen=True, slots=True, kw_only=True)
class Gateways:
    """Which segments each gateway joins: sides at gateways sorted by gateway, and by segment.

    label, node : int64[g], of each such side. first_of_node : int64[n + 1]. by_label, first_of_label : int64[g],
    int64[k + 1], the same sides sorted by segment.
    """

    label: Longs
    node: Longs
    first_of_node: Longs
    by_label: Longs
    first_of_label: Longs

    def of(self, label: int) -> list[int]:
        """Return the gateways of a segment."""
        sides = self.by_label[self.first_of_label[label] : self.first_of_label[label + 1]]
        found: list[int] = self.node[sides].tolist()
        return found

    def labels(self, node: int) -> list[int]:
        """Return the segments that a gateway is on."""
        found: list[int] = self.label[self.first_of_node[node] : self.first_of_node[node + 1]].tolist()
        return found


class Campus:
    """What all segments share while they are judged."""

    def __init__(self, snapshot: Snapshot, segments: Segments, brief: Brief) -> None:
        self.snapshot, self.segments, self.brief = snapshot, segments, brief
        self._protocol_codes, self._protocol_names = self._carried()
        groups, self.models_of = self._old_models()
        self.protocols = self._protocols(groups)
        self.options, self.tries = self._options()
        self.gateways = _gateways(snapshot, segments)

    @property
    def old(self) -> Flags:
        """Tell for each model whether a station of it is an old one; the last row stands for no model."""
        catalogue = self.snapshot.catalogue
        old = old_models(catalogue)
        return np.array([*(model.key in old for model in catalogue.models), False], dtype=bool)

    @cached_property
    def stations(self) -> Longs:
        """Return the number of old stations on each segment."""
        old = self.old[self.snapshot.nodes.model[self.segments.side_node]]
        return np.bincount(self.segments.label[old], minlength=len(self.segments)).astype(np.int64)

    @property
    def protocols_now(self) -> tuple[Longs, list[str]]:
        """Return the protocol of each segment as a code (-1 not known), and the names of the codes."""
        return self._protocol_codes, self._protocol_names

    def _old_models(self) -> tuple[dict[int, int], dict[int, frozenset[str]]]:
        """Return the old models on each segment that has any, and a number that equal sets of them share."""
        segments, models = self.segments, self.snapshot.catalogue.models
        model = self.snapshot.nodes.model[segments.side_node]
        sides = np.flatnonzero(self.old[model])
        width = len(models) + 1
        pairs = np.unique(segments.label[sides] * width + model[sides])
        label = pairs // width
        place = (pairs - label * width).tolist()
        begins = np.flatnonzero(np.r_[True, label[1:] != label[:-1]][: len(label)]).tolist()
        sets: dict[tuple[int, ...], int] = {}
        names: list[frozenset[str]] = []
        groups: dict[int, int] = {}
        for start, stop in pairwise([*begins, len(place)]):
            key = tuple(place[start:stop])
            if key not in sets:
                sets[key] = len(names)
                names.append(frozenset(models[one].key for one in key))
            groups[int(label[start])] = sets[key]
        return groups, {one: names[group] for one, group in groups.items()}

    def _carried(self) -> tuple[Longs, list[str]]:
        """Return the protocol that each segment's buses agree on, as a code: -1 where they are silent, -2 where not."""
        names = sorted({bus.protocol for bus in self.snapshot.buses if bus.protocol is not None})
        code = {name: place for place, name in enumerate(names)}
        of_bus = np.array([*(code.get(bus.protocol or "", UNKNOWN) for bus in self.snapshot.buses), UNKNOWN])
        return _agreed(of_bus[self.segments.side_bus], self.segments), names

    def _protocols(self, groups: dict[int, int]) -> list[str | None]:
        """Return the protocol that each segment carries now, by its buses, else by its old stations; None not known."""
        by_model = {model.key: model.protocol for model in self.snapshot.catalogue.models}
        codes, names = self._protocol_codes, self._protocol_names
        found: list[str | None] = [names[code] if code >= 0 else None for code in codes.tolist()]
        silent = codes == UNKNOWN
        for label in groups:
            if silent[label]:
                own = {by_model[key] for key in self.models_of[label]}
                found[label] = own.pop() if len(own) == 1 else None
                if (name := found[label]) is not None:
                    if name not in names:
                        names.append(name)
                    codes[label] = names.index(name)
        codes[codes < 0] = UNKNOWN
        return found

    def _rates(self) -> list[float | None]:
        """Return the bit rate that each segment's buses agree on."""
        rates = sorted({bus.bit_rate_kbit_s for bus in self.snapshot.buses if bus.bit_rate_kbit_s is not None})
        code = {rate: place for place, rate in enumerate(rates)}
        unsaid = len(rates)  # a bus without a rate disagrees with one that has a rate
        of_bus = [unsaid if bus.bit_rate_kbit_s is None else code[bus.bit_rate_kbit_s] for bus in self.snapshot.buses]
        agreed = _agreed(np.array([*of_bus, UNKNOWN])[self.segments.side_bus], self.segments)
        return [rates[one] if 0 <= one < unsaid else None for one in agreed.tolist()]

    def _options(self) -> tuple[list[Option], Longs]:
        """Return all options that occur, and as pairs which of them are open to which segment."""
        options: list[Option] = []
        places: dict[_Key, range] = {}
        tries: list[tuple[int, int]] = []
        rates = self._rates()
        for label, models in self.models_of.items():
            key = (models, self.protocols[label], rates[label])
            if key not in places:
                found = options_for(*key, self.snapshot.catalogue, self.brief)
                places[key] = range(len(options), len(options) + len(found))
                options += found
            tries += [(label, place) for place in places[key]]
        return options, np.array(tries, dtype=np.int64).reshape(-1, 2)

    def tries_of(self, labels: Collection[int]) -> Longs:
        """Return the pairs of segment and option of some segments."""
        return self.tries[np.isin(self.tries[:, 0], np.fromiter(labels, dtype=np.int64, count=len(labels)))]

    def open_points(self, labels: Collection[int]) -> dict[int, Open]:
        """Return what the records leave open about some segments."""
        return open_points(self.snapshot, self.segments, labels)

    def neighbours(self, label: int) -> tuple[int, ...]:
        """Return the other segments of the segment's gateways."""
        found = {other for gateway in self.gateways.of(label) for other in self.gateways.labels(gateway)}
        return tuple(sorted(found - {label}))

    def with_neighbours(self, labels: Iterable[int]) -> set[int]:
        """Return segments with all that share a gateway with them."""
        found = set(labels)
        gateways = {gateway for label in found for gateway in self.gateways.of(label)}
        return found.union(*(self.gateways.labels(gateway) for gateway in gateways))

    def tried_near(self, labels: Longs) -> Longs:
        """Return segments with all that have old stations and share a gateway with them."""
        gateways, tried = self.gateways, np.zeros(len(self.segments), dtype=bool)
        tried[self.tries[:, 0]] = True
        sides, _, _ = spread(gateways.first_of_label, labels)
        others, _, _ = spread(gateways.first_of_node, np.unique(gateways.node[gateways.by_label[sides]]))
        near = gateways.label[others]
        return np.union1d(labels, near[tried[near]])


def _agreed(code: Longs, segments: Segments) -> Longs:
    """Return the code that all sides of each segment agree on which have one: -1 where none has, -2 where they differ."""
    if not len(code):
        return np.full(len(segments), UNKNOWN, dtype=np.int64)
    begins = segments.first_side[:-1]
    most = np.maximum.reduceat(code, begins)
    least = np.minimum.reduceat(np.where(code < 0, np.iinfo(np.int64).max, code), begins)
    return np.where(most < 0, UNKNOWN, np.where(most == least, most, UNKNOWN - 1)).astype(np.int64)


def _gateways(snapshot: Snapshot, segments: Segments) -> Gateways:
    sides = np.flatnonzero(is_gateway(snapshot)[segments.side_node])
    label, node = segments.label[sides], segments.side_node[sides]
    order = order_by(node, len(snapshot.nodes))
    label, node = label[order], node[order]
    return Gateways(
        label=label,
        node=node,
        first_of_node=begins_of(np.bincount(node, minlength=len(snapshot.nodes)).astype(np.int64)),
        by_label=order_by(label, len(segments)),
        first_of_label=begins_of(np.bincount(label, minlength=len(segments)).astype(np.int64)),
    )
