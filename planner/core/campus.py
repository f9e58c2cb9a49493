"""What all segments share while they are judged: who is old, protocols, options, neighbours across gateways.

Everything that is asked of many segments at once is a column; words are made for the segments that are asked for.
"""

from collections.abc import Collection, Iterable
from copy import copy
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inventory.core.snapshot import UNKNOWN, Snapshot
from planner.core.beside import both
from planner.core.brief import Brief
from planner.core.grouped import begins_of, order_by, spread
from planner.core.rules.doubts import Open, open_points
from planner.core.rules.options import Option, old_models, options_for
from planner.core.segments import Segments
from planner.core.sides import Flags, Longs, is_gateway


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


def protocols_of_buses(snapshot: Snapshot) -> tuple[Longs, list[str]]:
    """Return the protocol of each bus as a code (-1 not known; the last row stands for no bus), and the names."""
    said = [bus.protocol for bus in snapshot.buses]
    names = sorted(name for name in set(said) if name is not None)
    code: dict[str | None, int] = {None: UNKNOWN, **{name: place for place, name in enumerate(names)}}
    return np.array([*[code[name] for name in said], UNKNOWN], dtype=np.int64), names


class Campus:
    """What all segments share while they are judged."""

    def __init__(self, snapshot: Snapshot, segments: Segments, brief: Brief) -> None:
        _refuse(brief)
        self.snapshot, self.segments, self.brief = snapshot, segments, brief
        self.protocol_of_bus, self._protocol_names = protocols_of_buses(
            snapshot
        )  # a code of each bus, the last row for none
        self._protocol_codes = _agreed(self.protocol_of_bus[segments.side_bus], segments)
        self.gateways, (self._group, self._sets) = both(
            lambda: _gateways(snapshot, segments), self._old_models, len(segments.label)
        )
        self.protocols = self._protocols()
        self.options, self.tries = self._options()

    def supposing(self, snapshot: Snapshot, tries: Longs) -> "Campus":
        """Return the campus with some cells of its snapshot supposed and some of its tries; nothing else may differ."""
        other = copy(self)
        other.snapshot, other.tries = snapshot, tries
        return other

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

    @cached_property
    def models_of(self) -> dict[int, frozenset[str]]:
        """Return the old models on each segment that has any."""
        tried = np.flatnonzero(self._group >= 0)
        groups = self._group[tried].tolist()
        return {label: self._sets[group] for label, group in zip(tried.tolist(), groups, strict=True)}

    def _old_models(self) -> tuple[Longs, list[frozenset[str]]]:
        """Return for each segment which set of old models is on it (-1 for none), and the sets."""
        segments, models = self.segments, self.snapshot.catalogue.models
        model = self.snapshot.nodes.model[segments.side_node]
        sides = np.flatnonzero(self.old[model])
        label, place = segments.label[sides], model[sides].astype(np.int64)
        group = np.zeros(len(segments), dtype=np.int64)
        sets: list[frozenset[str]] = [frozenset()]
        for one in np.unique(place).tolist():  # each old model splits the sets so far
            has = np.zeros(len(segments), dtype=bool)
            has[label[place == one]] = True
            found, group = np.unique(group * 2 + has, return_inverse=True)
            sets = [sets[old // 2] | ({models[one].key} if old % 2 else set()) for old in found.tolist()]
        numbers = np.array([number if one else UNKNOWN for number, one in enumerate(sets)], dtype=np.int64)
        return numbers[group], sets

    def _protocols(self) -> list[str | None]:
        """Return the protocol that each segment carries now, by its buses, else by its old stations; None not known.

        The codes that come from the buses are -1 where they are silent and -2 where they do not agree.
        """
        by_model = {model.key: model.protocol for model in self.snapshot.catalogue.models}
        codes, names = self._protocol_codes, self._protocol_names
        for group, models in enumerate(self._sets):
            own = {by_model[key] for key in models}
            name = own.pop() if len(own) == 1 else None
            if name is not None:
                if name not in names:
                    names.append(name)
                codes[(self._group == group) & (codes == UNKNOWN)] = names.index(name)
        codes[codes < 0] = UNKNOWN
        said = [*names, None]
        return [said[code] for code in codes.tolist()]

    def _rates(self) -> tuple[Longs, list[float | None]]:
        """Return the bit rate that each segment's buses agree on, as a code, and what the codes stand for."""
        rates = sorted({bus.bit_rate_kbit_s for bus in self.snapshot.buses if bus.bit_rate_kbit_s is not None})
        code = {rate: place for place, rate in enumerate(rates)}
        unsaid = len(rates)  # a bus without a rate disagrees with one that has a rate
        of_bus = [unsaid if bus.bit_rate_kbit_s is None else code[bus.bit_rate_kbit_s] for bus in self.snapshot.buses]
        agreed = _agreed(np.array([*of_bus, UNKNOWN])[self.segments.side_bus], self.segments)
        return np.where(agreed < 0, unsaid, agreed), [*rates, None]

    def _options(self) -> tuple[list[Option], Longs]:
        """Return all options that occur, and as pairs which of them are open to which segment."""
        options: list[Option] = []
        rate, rates = self._rates()
        tried = np.flatnonzero(self._group >= 0)
        names = [*self._protocol_names, None]
        key = (self._group[tried] * len(names) + self._protocol_codes[tried] + 1) * len(rates) + rate[tried]
        _, first, kind = np.unique(key, return_index=True, return_inverse=True)
        begins = []
        for label in tried[first].tolist():
            models = self._sets[int(self._group[label])]
            begins.append(len(options))
            about = models, self.protocols[label], rates[int(rate[label])]
            options += options_for(*about, self.snapshot.catalogue, self.brief)
        bounds = np.array([*begins, len(options)], dtype=np.int64)
        rows, copy, _ = spread(bounds, kind.astype(np.int64))
        return options, np.stack([tried[copy], rows], axis=1)

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


def _refuse(brief: Brief) -> None:
    """Refuse settings that would make every comparison pass."""
    for name in ("conductor_c", "reserve_pct", "supply_reserve_pct"):
        if not np.isfinite(getattr(brief, name)):
            raise ValueError(f"{name} of the brief is {getattr(brief, name)}: must be a finite number")


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
