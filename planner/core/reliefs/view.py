"""What the searches of one campus share: rules' answers as it stands, cables, prices, and room for nodes that move."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from inventory.core.catalogue import Cable
from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.findings import CONVERTIBLE, Finding, SegmentReport
from planner.core.pieces import Piece, piece_of
from planner.core.reliefs.moves import Rooms, find_rooms
from planner.core.reliefs.prices import PriceList
from planner.core.reliefs.search import Answer, Found, Rounds, Shelf, Subject, search
from planner.core.reliefs.shapes import junctions_of, shapes_of, subsets
from planner.core.reliefs.trying import data_fits, fixed_of, is_wrong, key_of, may_move, must_move, open_rows
from planner.core.rules.answers import SLACK
from planner.core.rules.case import Case
from planner.core.rules.columns import cable_ohm_per_m, known
from planner.core.rules.copper import longest_m
from planner.core.rules.membership import judge_gateway, usable_w
from planner.core.rules.table import LARGER
from planner.core.segments import find_segments
from planner.core.verdicts import Campus, Judged, fates_of, judge_options

MOST_CABLES = 4  # kinds of cable that are tried, by price
MOST_NODES = 200  # a larger segment is not searched: pulling every run anew is priced
MOST_MOVES = 4  # other nodes that may stay and are tried elsewhere


class View:
    """What the searches of one campus share."""

    def __init__(
        self,
        snapshot: Snapshot,
        reports: Sequence[SegmentReport],
        brief: Brief,
        about: Iterable[str] | None = None,
    ) -> None:
        segments = find_segments(snapshot)
        self.snapshot, self.brief, self.segments = snapshot, brief, segments
        self.campus = Campus(snapshot, segments, brief)
        self.labels = {key: label for label, key in enumerate(segments.key)}
        wanted = None if about is None else self.campus.with_neighbours(self.labels[key] for key in about)
        self.judged: dict[int, list[Judged]] = judge_options(self.campus, wanted)
        self.rooms: Rooms = find_rooms(self.campus, reports)
        self.junctions = junctions_of(snapshot)
        self.nodes = {key: place for place, key in enumerate(snapshot.nodes.key)}
        self.prices = PriceList(snapshot, brief)
        self.ohm_per_m = cable_ohm_per_m(snapshot.catalogue, brief.conductor_c)

    def searches(self, reports: Iterable[SegmentReport], *, alone: bool) -> dict[str, Rounds]:
        """Return the searches of segments, but for those of which too little is known.

        With `alone`, what the change of the gateway does to its other segments counts as it stands; otherwise those
        that could take their own ways out in the same outage are taken to do so.
        """
        made = ((report.segment, self._search(report, alone=alone)) for report in reports)
        return {key: one for key, one in made if one is not None}

    def _search(self, report: SegmentReport, *, alone: bool) -> Rounds | None:
        """Return the search of a segment, None where nothing can be searched."""
        label = self.labels[report.segment]
        piece = piece_of(self.snapshot, self.segments, label)
        options = self.judged.get(label, [])
        if piece is None or not options or len(piece.nodes) > MOST_NODES:
            return None
        cases = [one.settled.case for one in options]
        if any(case.doubts or case.doubtful or case.silent or case.lost for case in cases):
            return None
        cables = self.cables(cases)
        shapes, limited = shapes_of(piece, self._moves(report, cases), self.root(cases[0]), self.junctions, cables)
        subject = Subject(
            segment=report.segment,
            shapes=tuple(shapes),
            fixed={key_of(one.settled.case): self.fixed(label, one, alone=alone) for one in options},
            misfits=self._misfits(piece, cases),
            limited=limited,
        )
        shelf = Shelf(snapshot=self.snapshot, prices=self.prices, cables=cables, ohm_per_m=self.ohm_per_m)
        return search(shelf, subject)

    def fixed(self, label: int, one: Judged, *, alone: bool) -> tuple[Finding, ...]:
        """Return the findings that no change touches; the gateway's as if its other segments went along, unless alone."""
        found = fixed_of(one.settled)
        if alone or not self.needs(label, one):
            return found
        return tuple(judge_gateway(one.settled.case) if finding.rule == "gateway" else finding for finding in found)

    def needs(self, label: int, one: Judged) -> tuple[str, ...]:
        """Return the segments that the change of the gateway cuts off unless they take their own ways out with it."""
        case, campus = one.settled.case, self.campus
        gateway = next(finding for finding in one.settled.findings if finding.rule == "gateway")
        after = case.gateways[0].model if len(case.gateways) == 1 else None
        if gateway.unit == "W":  # its lines together are too much for it: no way out of another line helps
            return ()
        if not is_wrong(gateway) or is_wrong(judge_gateway(case)) or after is None:
            return ()
        others = [(campus.segments.key[other], campus.protocols[other], other) for other in campus.neighbours(label)]
        if any(protocol is None for _, protocol, _ in others):
            return ()
        cut = [
            (key, other)
            for key, protocol, other in others
            if protocol is not None
            and not after.speaks(protocol)
            and (case.option.new_gateway is not None or protocol == case.protocol)
        ]
        return tuple(key for key, _ in cut) if all(other in self.judged for _, other in cut) else ()

    def cables(self, cases: Sequence[Case]) -> tuple[int, ...]:
        """Return the cables that new runs may be pulled with: those with a part, else the best there is."""
        fitting = [
            place
            for place, cable in enumerate(self.snapshot.catalogue.cables)
            if np.isfinite(self.ohm_per_m[place]) and (not cases or any(_fits(case, cable) for case in cases))
        ]
        bought = [place for place in fitting if self.snapshot.catalogue.cables[place].part is not None]
        if bought:
            return tuple(sorted(bought, key=lambda place: (self.prices.metre(place), place))[:MOST_CABLES])
        return tuple(sorted(fitting, key=lambda place: (float(self.ohm_per_m[place]), place))[:1])

    def _misfits(self, piece: Piece, cases: Sequence[Case]) -> frozenset[int]:
        kinds = {link.cable for link in piece.links}
        cables = self.snapshot.catalogue.cables
        return frozenset(
            place
            for place in kinds
            if not all(
                data_fits(replace(case, row=row), cables[place] if place >= 0 else None)
                for case in cases
                for row, _ in open_rows(case)
            )
        )

    def allowed_m(self, key: str) -> tuple[float, str] | None:
        """Return how long the wire of a segment may be by what it carries now [m], and the name of that; None not known."""
        label = self.labels[key]
        protocol = self.campus.protocols[label]
        lengths = [longest_m(row) for row in self.snapshot.catalogue.protocols if row.protocol == protocol]
        longest = max(lengths, default=math.inf)
        return None if protocol is None or math.isinf(longest) else (longest, protocol)

    def has_old(self, key: str) -> bool:
        """Tell whether old stations stand on a segment."""
        return self.labels[key] in self.campus.models_of

    def root(self, case: Case) -> int | None:
        """Return the node that a new line starts from: the gateway."""
        return self.nodes[case.gateways[0].key] if len(case.gateways) == 1 else None

    def _moves(self, report: SegmentReport, cases: Sequence[Case]) -> Iterator[dict[int, str]]:
        """Yield sets of nodes that can be moved, with where to; the least that must be first."""
        bound = sorted({self.nodes[key] for case in cases for key in must_move(case)})
        free = sorted({self.nodes[key] for case in cases for key in may_move(case)} - set(bound))
        protocol = cases[0].protocol
        barred = {report.segment, *report.gateway_neighbours}
        if not all(must_move(case) for case in cases):
            yield {}
        for more in subsets(tuple(free[:MOST_MOVES])):
            moving = (*bound, *more)
            found = self.rooms.place(self.snapshot, moving, barred, protocol)
            if moving and found is not None:
                yield found
        if bound and self.rooms.place(self.snapshot, bound, barred, protocol) is None:
            yield {}

    def along(self, key: str, best: Answer) -> tuple[str, ...]:
        """Return the segments that must go along with an answer."""
        label = self.labels[key]
        methods = key_of(best.trial.case)
        return next(self.needs(label, one) for one in self.judged[label] if key_of(one.settled.case) == methods)


def agreed_ways(view: View, found: Mapping[str, Found]) -> dict[str, tuple[str, ...]]:
    """Return the segments whose ways pass, each with those that must take theirs in the same outage.

    A way that needs another segment to go along falls with it: where that one has none to the same protocol and
    gateway, and does not convert by itself.
    """
    passing = {key: one.best for key, one in found.items() if one.best is not None and one.best.wrong == 0}
    along = {key: view.along(key, best) for key, best in passing.items()}
    while True:
        fallen = [
            key
            for key in along
            if not all(_goes_along(view, passing, along, key, other) for other in along[key])
            or _is_too_much(view, passing, along, key)
        ]
        if not fallen:
            return along
        for key in fallen:
            del along[key]


def _goes_along(view: View, passing: Mapping[str, Answer], along: Mapping[str, object], key: str, other: str) -> bool:
    signature = passing[key].trial.case.option.signature
    if other in along and passing[other].trial.case.option.signature == signature:
        return True
    options = view.judged[view.labels[other]]
    return any(one.verdict in CONVERTIBLE and one.signature == signature for one in options)


def _is_too_much(view: View, passing: Mapping[str, Answer], along: Mapping[str, tuple[str, ...]], key: str) -> bool:
    """Tell whether a segment draws more than its gateway can feed, with those that must go along and those that convert anyway."""
    own = passing[key].trial.case
    model = own.gateways[0].model if len(own.gateways) == 1 else None
    if model is None or LARGER in own.extras:
        return False
    if not along[key]:
        return False
    drawn = own.from_gateway_w + staying_w(view, view.labels[key], key_of(own))
    for label in view.campus.neighbours(view.labels[key]):
        other = view.segments.key[label]
        cases = [passing[other].trial.case] if other in along[key] and other in along else []
        cases += [one.settled.case for one in view.judged.get(label, ()) if one.verdict in CONVERTIBLE and not cases]
        drawn += max((one.from_gateway_w for one in cases if one.option.signature == own.option.signature), default=0.0)
    return drawn > usable_w(known(model.supply_rating_w), view.brief.supply_reserve_pct) + SLACK


def staying_w(view: View, label: int, methods: tuple[str, ...]) -> float:
    """Return the most that lines of the gateway draw which stay as they are, beside one option of a segment [W]."""
    one = next(one for one in view.judged[label] if key_of(one.settled.case) == methods)
    return sum(other.most_w for other in fates_of(view.campus, one, view.campus.neighbours(label), view.judged))


def _fits(case: Case, cable: Cable | None) -> bool:
    return any(data_fits(replace(case, row=row), cable) for row, _ in open_rows(case))
