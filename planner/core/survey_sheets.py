"""The survey on paper: one sheet a building and floor, each question with what to look at and how to write the answer.

Questions about the catalogue are answered from makers' sheets, so that they stand on a sheet of their own, for the desk.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from planner.core.surveys import Asked, Register, Spot, Stop

AT_DESK = ("models", "cables", "methods", "protocols")  # sheets of the catalogue


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a kind of question is answered: where to look, and in what form the answer is written."""

    pattern: str
    where: str
    answer: str


def _look(pattern: str, answer: str, where: str) -> Look:
    return Look(pattern=pattern, where=where, answer=answer)


LOOKS: tuple[Look, ...] = (
    _look(r"Length and cable of every run", "m, kind", "Sheath of each run: what is printed on it, and the metre marks at both ends."),
    _look(r"Length of ", "m", "Metre marks on the sheath at both ends, their difference; else measure the way the cable takes."),
    _look(r"Cable of ", "kind", "Print on the sheath, number of pairs, thickness of the conductors."),
    _look(r"Patch (lead|cable) of ", "m, kind", "Parts list of the method."),
    _look(r"Does run .* really end at ", "yes / no, else where", "Both ends: labels, colours; ring the pair through with the line dead."),
    _look(r"Is run .* a second cable", "second / same", "Both ends: count the cables that leave."),
    _look(r"Bus and both ends of run ", "bus, from, to", "Follow the cable to its next boxes; ring the pair through with the line dead."),
    _look(r"Which run reaches ", "run, from", "Box behind it: which cable comes in, and from where."),
    _look(r"How are the .* wired pieces", "runs, from, to", "Follow the cables out of the boxes at the ends of each piece."),
    _look(r"What is wired behind junction ", "node, or nothing", "Open the junction: every cable that leaves it, and where it goes."),
    _look(r"(Which of the buses|Is .* really on|Bus of |Which bus)", "bus", "Label at the terminals; else follow the cable back to the gateway."),
    _look(r"Gateway of ", "node", "Follow the bus back to where it starts."),
    _look(r"Other buses of gateway ", "buses", "Terminals of the gateway: every pair that leaves it, with its label."),
    _look(r"Model of ", "model", "Name plate, on the back of the unit or inside its cover."),
    _look(r"What feeds ", "node", "Terminals of the power pair at gateway, panels and supplies: which has an output on it."),
    _look(r"Supply \(0 V for none\) of ", "V", "Maker's sheet: whether it puts a voltage on the bus, 0 if it does not."),
    _look(r"End resistor of ", "yes / no / switch", "Terminals: a resistor between the data lines, or a switch for one."),
    _look(r"Box gangs at ", "gangs", "Width of the opening behind the plate: one gang is one switch wide."),
    _look(r"(Zones|Scenes) used at ", "number", "The station itself: how many sliders or buttons do something; ask who uses the room."),
    _look(r"Protocol of |Power on bus of |Limits of |Layout of |Bit rate of ", "as on the sheet", "Label at the gateway, or the maker's sheet."),
    _look(r"Longest line of .* with \d+ nodes", "m", "Maker's sheet for so many nodes; a bus of its own name on sheet Protocols, with length and conductor, settles it."),
    _look(r"Longest line of ", "m", "Maker's sheet of cable or bus; a row on sheet Protocols for that conductor settles it."),
    _look(r"Longest branch at the tap ", "m", "Metre marks on each branch that leaves the tap."),
    _look(r"Current in each drop ", "A", "What hangs on each drop: draws by the name plates, added up."),
    _look(r"How much thin cable ", "m", "Metre marks on the thin cable between its two ends; none of its drops."),
    _look(r"Whether a run on .* is really shorter ", "m", "Metre marks on the sheath at both ends, their difference."),
    _look(r".* of (model|cable|protocol|method) ", "as on the sheet", "Maker's sheet, or the print on the sheath."),
)  # fmt: skip
ANY_LOOK = Look(pattern="", where="Labels and terminals at the nodes named.", answer="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One question on paper; `between` are the two ends of the run that it is about, in words."""

    asked: Asked
    look: Look
    between: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One sheet of paper: a floor of a building with its questions room by room, or, at the desk, those of the catalogue."""

    building: str
    floor: str
    rooms: tuple[tuple[str, tuple[Line, ...]], ...]
    at_desk: bool = False

    @property
    def stations(self) -> int:
        """Return the most old stations that wait for one question of the sheet."""
        return max(line.asked.stations for _, lines in self.rooms for line in lines)

    @property
    def count(self) -> int:
        """Return how many questions the sheet has."""
        return sum(len(lines) for _, lines in self.rooms)


def look_at(question: str) -> Look:
    """Return how a question is answered."""
    return next((look for look in LOOKS if re.match(look.pattern, question)), ANY_LOOK)


def pages(stops: Iterable[Stop], register: Register) -> tuple[Page, ...]:
    """Return the walk as sheets of paper: what the desk can answer first, then building by building, floor by floor."""
    walked = list(stops)
    desk = sorted((one for stop in walked for one in stop.asked if is_for_desk(one)), key=lambda one: one.rank)
    lines = tuple(_line(one, register) for one in desk)
    first = (Page(building="", floor="", rooms=(("", lines),), at_desk=True),) if lines else ()
    return (*first, *_floors(walked, register))


def is_for_desk(asked: Asked) -> bool:
    """Tell whether a question is about the catalogue alone."""
    return bool(asked.rows) and all(sheet in AT_DESK for sheet, _ in asked.rows)


def _floors(stops: Sequence[Stop], register: Register) -> Iterator[Page]:
    for (building, floor), here in groupby(stops, key=lambda stop: (stop.spot.building, stop.spot.floor)):
        rooms = tuple(
            (stop.spot.room, lines)
            for stop in here
            if (lines := tuple(_line(one, register) for one in stop.asked if not is_for_desk(one)))
        )
        if rooms:
            yield Page(building=building, floor=floor, rooms=rooms)


def _line(asked: Asked, register: Register) -> Line:
    runs = [key for sheet, key in asked.rows if sheet == "runs"]
    ends = register.run_ends.get(runs[0], ()) if len(runs) == 1 else ()
    places = " and ".join(_with_room(end, register.spots.get(end), asked.spot) for end in reversed(ends))
    return Line(asked=asked, look=look_at(asked.question), between=f"between {places}" if len(ends) > 1 else "")


def _with_room(node: str, spot: Spot | None, here: Spot) -> str:
    """Return a node with the room that it is in, where that is another one."""
    return node if spot is None or spot == here else f"{node} in {spot.room}"
