"""Cases as they would be with some facts at an end of their range: many side by side, as one campus a catalogue."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from inventory.core.catalogue import Cable, Catalogue, Method, ProtocolRow
from inventory.core.snapshot import Snapshot
from planner.core.doubting.facts import Fact
from planner.core.doubting.ranges import AS_THICK_AS_ANY, USUAL, End, Of, Value, best_cable
from planner.core.pieces import Link, Piece, piece_of, stacked
from planner.core.rules.case import Case
from planner.core.segments import Segments

Methods = tuple[str, ...]
Supposed = Mapping[Fact, End]
CasesOf = Callable[[Snapshot], Iterator[tuple[str, Case]]]  # every case of a campus, with the name of its segment


def methods_of(case: Case) -> Methods:
    """Return the methods of a case, by which its option is told apart."""
    return tuple(method.key for method in case.option.methods)


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One case, the segment it is of, and what is supposed of it."""

    label: int
    case: Case
    supposed: Supposed

    @property
    def catalogue(self) -> frozenset[tuple[Fact, End]]:
        """Return what is supposed of the catalogue, and so of everything that stands on one campus with it."""
        return frozenset((fact, end) for fact, end in self.supposed.items() if fact.in_catalogue)


class Variants:
    """Makes cases of variants of the segments of one campus."""

    def __init__(self, snapshot: Snapshot, segments: Segments, cases_of: CasesOf) -> None:
        self._snapshot, self._segments, self._cases_of = snapshot, segments, cases_of
        self._best = best_cable(snapshot.catalogue.cables)
        self._pieces: dict[int, Piece | None] = {}

    def piece(self, label: int) -> Piece | None:
        """Return a segment cut out, None where that cannot be done."""
        if label not in self._pieces:
            self._pieces[label] = piece_of(self._snapshot, self._segments, label)
        return self._pieces[label]

    def cases(self, variants: Sequence[Variant]) -> list[Case]:
        """Return the case of each variant, in their order; each must have a piece."""
        together: dict[frozenset[tuple[Fact, End]], list[int]] = defaultdict(list)
        for place, variant in enumerate(variants):
            together[variant.catalogue].append(place)
        found: dict[int, Case] = {}
        for supposed, places in together.items():
            found |= self._side_by_side(dict(supposed), {place: variants[place] for place in places})
        return [found[place] for place in range(len(variants))]

    def _side_by_side(self, supposed: Supposed, variants: Mapping[int, Variant]) -> Iterator[tuple[int, Case]]:
        """Yield place and case of variants that suppose the same of the catalogue."""
        places = list(variants)
        catalogue = with_supposed(self._snapshot.catalogue, supposed, self._best)
        campus = stacked(
            replace(self._snapshot, catalogue=catalogue), [self._changed(variants[place]) for place in places]
        )
        for name, case in self._cases_of(campus):
            place = places[int(name)]
            if methods_of(case) == methods_of(variants[place].case):
                yield place, _standing_as(case, variants[place].case)

    def _changed(self, variant: Variant) -> Piece:
        """Return a segment with what is supposed of its runs and nodes."""
        piece = self.piece(variant.label)
        assert piece is not None  # noqa: S101 - the callers looked
        keys, nodes = self._snapshot.runs.key, self._snapshot.nodes.key
        of_run, of_node = (_by_key(variant.supposed, of) for of in (Of.RUN, Of.NODE))
        links = tuple(self._supposed_link(link, of_run.get(keys[link.run], {})) for link in piece.links)
        facts = tuple(
            (node, cell, int(value))
            for node in piece.nodes
            for cell, value in of_node.get(nodes[node], {}).items()
            if isinstance(value, int)
        )
        return replace(piece, links=links, facts=facts)

    def _supposed_link(self, link: Link, cells: Mapping[str, Value]) -> Link:
        length_m, cable = cells.get("length_m"), cells.get("cable")
        if isinstance(length_m, float):
            link = replace(link, length_m=length_m)
        if cable is not None:  # the two rows that follow those of the catalogue
            link = replace(link, cable=len(self._snapshot.catalogue.cables) + int(cable == USUAL.key))
        return link


def _by_key(supposed: Supposed, of: Of) -> dict[str, dict[str, Value]]:
    """Return the cells that are supposed of each row of one kind; those that are left open are left out."""
    found: dict[str, dict[str, Value]] = defaultdict(dict)
    for fact, end in supposed.items():
        if fact.range.of is of:
            cells = {cell: value for cell, value in fact.range.at(end).items() if value is not None}
            for key in fact.keys:
                found[key] |= cells
    return dict(found)


def with_supposed(catalogue: Catalogue, supposed: Supposed, best: Cable) -> Catalogue:
    """Return a catalogue with facts at ends of their ranges, and behind its cables the best one and a usual one."""
    ends = {(fact.range.of, key): end for fact, end in supposed.items() for key in fact.keys}
    models, cables, methods, protocols = (_by_key(supposed, of) for of in (Of.MODEL, Of.CABLE, Of.METHOD, Of.PROTOCOL))
    for key, cells in cables.items():
        if ends[Of.CABLE, key] is End.BEST:
            cables[key] = {cell: getattr(best, cell) if cell in AS_THICK_AS_ANY else cells[cell] for cell in cells}
    known_cables = frozenset(cable.key for cable in catalogue.cables)
    return replace(
        catalogue,
        models=tuple(replace(row, **_cells(models, row.key)) for row in catalogue.models),
        cables=(*(replace(row, **_cells(cables, row.key)) for row in catalogue.cables), best, USUAL),
        methods=tuple(_method(row, _cells(methods, row.key), known_cables) for row in catalogue.methods),
        protocols=tuple(_row(row, _cells(protocols, row.protocol)) for row in catalogue.protocols),
    )


def _cells(supposed: Mapping[str, Mapping[str, Value]], key: str) -> dict[str, Any]:
    return dict(supposed.get(key, {}))


def _method(method: Method, cells: dict[str, Any], cables: frozenset[str]) -> Method:
    """Return a method with what is supposed of it; a patch cable that is in the catalogue stays."""
    if method.patch_cable in cables:
        cells.pop("patch_cable", None)
    return replace(method, **cells)


def _row(row: ProtocolRow, cells: dict[str, Any]) -> ProtocolRow:
    """Return limits with what is supposed where they are silent."""
    return replace(row, **{cell: value for cell, value in cells.items() if getattr(row, cell) is None})


def _standing_as(case: Case, standing: Case) -> Case:
    """Return a case with what no supposition touches as it stands: names, doubts, what is written down beside a node."""
    members = {member.key: member for member in standing.members}
    buses = {wire.key: wire.bus for wire in standing.wires}
    own = tuple(
        replace(one, zone_rows=members[one.key].zone_rows, scene_rows=members[one.key].scene_rows)
        for one in case.members
    )
    by_key = {one.key: one for one in own}
    return replace(
        case,
        segment=standing.segment,
        members=own,
        old=tuple(by_key[one.key] for one in case.old),
        gateways=tuple(by_key[one.key] for one in case.gateways),
        sources=tuple(by_key[one.key] for one in case.sources),
        wires=tuple(replace(wire, bus=buses[wire.key]) for wire in case.wires),
        doubts=standing.doubts,
        doubtful=standing.doubtful,
        silent=standing.silent,
        lost=standing.lost,
    )
