"""The questions of all surveys together: which answers settle the most stations, where to ask, on which rows.

A segment is settled once all its questions are answered. Questions are ranked as they are best asked: next come those
of the segment that settles the most stations for each question still open, until all are asked.
"""

import heapq
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from inventory.core.snapshot import Room, Snapshot
from planner.core.findings import SegmentReport

WAITS_FOR = re.compile(r"^\w+ segment (?P<segment>.+?)(?: can)? convert in the same outage\?$")
WORDS_OF = {"runs": "run", "models": "model", "cables": "cable", "methods": "method", "buses": "bus"}
SHEETS_ASKED = ("models", "cables", "buses", "nodes", "runs", "methods", "protocols")
Row = tuple[str, str]  # sheet code, key


@dataclass(frozen=True, slots=True, order=True)
class Spot:
    """Where a question is asked: building, floor and room, each blank where nobody knows."""

    building: str = ""
    floor: str = ""
    room: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question of the survey.

    rank : 1 for the first to ask. segments : those that wait for it; stations : old stations on them. settled : old
    stations that are settled once this and all before it are answered. rows : rows of the workbook to fill in.
    """

    rank: int
    question: str
    segments: tuple[str, ...]
    stations: int
    settled: int
    spot: Spot
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One room of the walk with its questions, the most useful first; `stations` wait for them."""

    spot: Spot
    asked: tuple[Asked, ...]
    stations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """What questions are looked up in: room and model of each node, ends of each run, and names by sheet code."""

    spots: Mapping[str, Spot]
    models: Mapping[str, str | None]
    run_ends: Mapping[str, tuple[str, ...]]
    names: Mapping[str, frozenset[str]]


def register_of(snapshot: Snapshot) -> Register:
    """Return the register of a whole campus."""
    nodes, runs, catalogue = snapshot.nodes, snapshot.runs, snapshot.catalogue
    kinds = [*(model.key for model in catalogue.models), None]
    ends = zip(runs.to_node.tolist(), runs.from_node.tolist(), strict=True)
    return Register(
        spots={
            key: spot_of(snapshot.buildings[snapshot.rooms[room].building].key, snapshot.rooms[room])
            for key, room in zip(nodes.key, nodes.room.tolist(), strict=True)
            if room >= 0
        },
        models={key: kinds[model] for key, model in zip(nodes.key, nodes.model.tolist(), strict=True)},
        run_ends={
            key: tuple(nodes.key[end] for end in pair if end >= 0) for key, pair in zip(runs.key, ends, strict=True)
        },
        names={
            "models": frozenset(one.key for one in catalogue.models),
            "cables": frozenset(one.key for one in catalogue.cables),
            "buses": frozenset(one.key for one in snapshot.buses),
            "runs": frozenset(runs.key),
            "methods": frozenset(one.key for one in catalogue.methods),
            "protocols": frozenset(one.protocol for one in catalogue.protocols),
        },
    )


def spot_of(building: str, room: Room) -> Spot:
    """Return where a room is."""
    return Spot(building, room.floor or "", room.key)


def open_questions(reports: Iterable[SegmentReport]) -> frozenset[str]:
    """Return all that must be found out on site, each question once; what waits for another segment asks what that one asks."""
    by_key = {report.segment: report for report in reports if report.questions}
    return frozenset().union(*(_questions(key, by_key) for key in by_key))


def ranked_questions(register: Register, reports: Iterable[SegmentReport]) -> tuple[Asked, ...]:
    """Return all open questions of a campus in the order in which their answers settle the most stations.

    Parameters
    ----------
    register : Register
        Where the nodes and runs of the reports are.
    reports : iterable of SegmentReport
        Reports of one assessment; those without questions play no part.

    Returns
    -------
    tuple of Asked
        Each question once, however many segments ask it.

    """
    by_key = {report.segment: report for report in reports}
    wanted = {key: found for key in by_key if (found := _questions(key, by_key))}
    stations = {key: len(by_key[key].old_stations) for key in wanted}
    waiting: dict[str, list[str]] = defaultdict(list)
    for key in sorted(wanted):
        for question in wanted[key]:
            waiting[question].append(key)
    index = _Index(register)
    return tuple(
        index.asked(question, [by_key[key] for key in waiting[question]], rank=rank, settled=settled)
        for rank, (question, settled) in enumerate(_in_order(wanted, waiting, stations), start=1)
    )


def _questions(key: str, by_key: Mapping[str, SegmentReport]) -> frozenset[str]:
    """Return what must be answered for a segment; where it waits for another segment, that one's questions too."""
    found: set[str] = set()
    waiting, seen = [key], {key}
    while waiting:
        for question in by_key[waiting.pop()].questions:
            waits = WAITS_FOR.match(question)
            other = waits["segment"] if waits else None
            if other is None or other not in by_key:
                found.add(question)
            elif other not in seen:
                seen.add(other)
                waiting.append(other)
    return frozenset(found)


def _in_order(
    wanted: Mapping[str, frozenset[str]], waiting: Mapping[str, Sequence[str]], stations: Mapping[str, int]
) -> Iterator[tuple[str, int]]:
    """Yield each question with the stations settled so far, the best segment first, its most shared question first."""
    open_ = {key: set(questions) for key, questions in wanted.items()}
    heap = [(-stations[key] / len(left), key) for key, left in open_.items()]
    heapq.heapify(heap)
    settled = 0
    while heap:
        _, key = heapq.heappop(heap)  # of several entries of one segment the newest is worth most and comes first
        left = open_[key]
        for question in sorted(left, key=lambda one: (-sum(stations[other] for other in waiting[one]), one)):
            for other in waiting[question]:
                open_[other].discard(question)
                if not open_[other]:
                    settled += stations[other]
                elif other != key:
                    heapq.heappush(heap, (-stations[other] / len(open_[other]), other))
            yield question, settled


class _Index:
    """Looks up what questions are about."""

    def __init__(self, register: Register) -> None:
        self._register = register

    def asked(self, question: str, reports: Sequence[SegmentReport], *, rank: int, settled: int) -> Asked:
        """Return a question with its rows and its room."""
        rows = self.rows(question, reports)
        return Asked(
            rank=rank,
            question=question,
            segments=tuple(report.segment for report in reports),
            stations=sum(len(report.old_stations) for report in reports),
            settled=settled,
            spot=self.spot(rows, reports[0]),
            rows=rows,
        )

    def rows(self, question: str, reports: Sequence[SegmentReport]) -> tuple[Row, ...]:
        """Return the rows that an answer is written on; all of the segment where the question names none."""
        found = {*self._by_word(question), *self._nodes(question, reports)}
        found |= {("models", key) for key in self._models_asked(question, found)}
        if question.startswith("Protocol of "):
            named = {*self._of_names("protocols", question), *self._of_names("buses", question)}
            if named and not found - named:
                return _sorted_rows(found | named)
            found |= {row for row in named if row[0] == "protocols"}
        if not found or not any(sheet != "buses" for sheet, _ in found):
            found |= {("nodes", key) for report in reports for key in report.nodes}
            found |= {("runs", key) for report in reports for key in report.runs}
        return _sorted_rows(found)

    def _of_names(self, sheet: str, question: str) -> Iterator[Row]:
        """Yield the rows of a sheet that a question names."""
        return ((sheet, key) for key in self._register.names[sheet] if _names(question, key))

    def _by_word(self, question: str) -> Iterator[Row]:
        """Yield what the question names after the word for it, as in run R; a bus in brackets only says where."""
        for sheet, word in WORDS_OF.items():
            for found in re.finditer(rf"(?<!\()\b{word} ", question, re.IGNORECASE):
                key = _longest(question[found.end() :], self._register.names[sheet])
                if key is not None:
                    yield sheet, key

    def _nodes(self, question: str, reports: Sequence[SegmentReport]) -> Iterator[Row]:
        """Yield the nodes that the question names: those of its segments, and the one that it ends on."""
        last = re.split(r" (?:of|at|reaches|junction|gateway) ", question.removesuffix("?"))[-1]
        near = {key for report in reports for key in report.nodes if _names(question, key)}
        longest = {key for key in near if not any(key != other and key in other for other in near)}
        yield from (("nodes", key) for key in sorted(longest | ({last} & self._register.models.keys())))

    def _models_asked(self, question: str, found: Iterable[Row]) -> Iterator[str]:
        """Yield the models of nodes whose protocol is asked for."""
        models = [self._register.models.get(key) for sheet, key in found if sheet == "nodes"]
        yield from (model for model in models if model is not None and question.startswith("Protocol of "))

    def spot(self, rows: Sequence[Row], report: SegmentReport) -> Spot:
        """Return where the question is asked: in the room of a node it is about, else in the segment's first room."""
        nodes = [key for sheet, key in rows if sheet == "nodes"]
        ends = [end for sheet, key in rows if sheet == "runs" for end in self._register.run_ends.get(key, ())]
        near = (*nodes, *ends, *report.old_stations, *report.nodes)
        spots = self._register.spots
        return next((spots[key] for key in near if key in spots), Spot(report.building or ""))


def _sorted_rows(found: Iterable[Row]) -> tuple[Row, ...]:
    return tuple(sorted(found, key=lambda row: (SHEETS_ASKED.index(row[0]), row[1])))


def _names(text: str, key: str) -> bool:
    """Tell whether a text names a key as a whole word."""
    return re.search(rf"(?<![\w-]){re.escape(key)}(?![\w-])", text) is not None


def _longest(text: str, keys: frozenset[str]) -> str | None:
    """Return the longest key that a text begins with."""
    for end in range(len(text), 0, -1):
        if text[:end] in keys and not re.match(r"[\w-]", text[end : end + 1]):
            return text[:end]
    return None


def walk(asked: Iterable[Asked], building: str | None = None) -> tuple[Stop, ...]:
    """Return the questions room by room: building by building, floor by floor, each room's best question first."""
    by_spot: dict[Spot, list[Asked]] = defaultdict(list)
    for one in asked:
        if building is None or one.spot.building == building:
            by_spot[one.spot].append(one)
    return tuple(
        Stop(
            spot=spot,
            asked=tuple(sorted(by_spot[spot], key=lambda one: one.rank)),
            stations=max(one.stations for one in by_spot[spot]),
        )
        for spot in sorted(by_spot, key=_in_the_building)
    )


def _in_the_building(spot: Spot) -> tuple[str, float, str, list[tuple[bool, int, str]]]:
    """Return the order of rooms as people walk: floors and room numbers by number where they are one."""
    try:
        floor = float(spot.floor)
    except ValueError:
        floor = float("inf")
    parts = [
        (not part.isdecimal(), int(part) if part.isdecimal() else 0, part) for part in re.split(r"(\d+)", spot.room)
    ]
    return spot.building, floor, spot.floor, parts
