"""The search of one segment: by increasing price over sets of changes, each set judged by the rules.

Shape, bit rate, end resistors and box adapters are settled first, since no cable touches their rules. For each
that passes, the runs to pull anew are then searched: those whose data pairs do not fit must be, of the others only
those where new copper has less resistance can help, and more of them never harm. So the set of all of them tells
whether any set helps, and bounds the price. Where the new cable is thicker for power and thinner for data that does
not follow, and the search says that it is limited.
"""

import heapq
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Cable
from inventory.core.snapshot import Snapshot
from planner.core.findings import Finding
from planner.core.pieces import Piece
from planner.core.reliefs.pieces import pulled_anew
from planner.core.reliefs.prices import NOTHING, Price, PriceList, total
from planner.core.reliefs.shapes import Shape
from planner.core.reliefs.trying import (
    POWER,
    POWER_CURES,
    SHAPE_CURES,
    Methods,
    Trial,
    data_fits,
    is_wrong,
    key_of,
    open_rows,
)
from planner.core.rules.case import Case
from planner.core.rules.columns import data_mm2

MOST_SETS = 400  # sets of runs judged for one segment before the search is cut
AT_ONCE = 32
MOST_NOTED = 64  # attempts looked at to say what stays open where nothing passes

Rounds = Generator[list[Piece], list[list[Case]], "Found"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """One segment to be searched: its shapes, and of each option the findings that no change touches."""

    segment: str
    shapes: tuple[Shape, ...]
    fixed: dict[Methods, tuple[Finding, ...]]
    misfits: frozenset[int]  # cables in its walls whose data pairs do not fit every bus it may be set to
    limited: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """What all searches share: the campus, prices, the cables that can be pulled and the loop resistance of all cables."""

    snapshot: Snapshot
    prices: PriceList
    cables: tuple[int, ...]
    ohm_per_m: NDArray[np.float64]

    def cable(self, place: int) -> Cable | None:
        """Return a cable by position, None where it is not known."""
        return self.snapshot.catalogue.cables[place] if place >= 0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One set of changes that was judged: the shape, what is put in, the runs pulled anew, and prices."""

    shape: Shape
    trial: Trial
    pulled: tuple[int, ...] = ()  # runs
    cable: int | None = None
    price: Price = NOTHING  # parts of the conversion, extras and changes
    wrong: int = 0  # rules that do not pass

    @property
    def order(self) -> tuple[int, Price, int, tuple[str, ...], str, str]:
        """Return the order in which answers are taken: what passes, cheap, few changes, then names."""
        case = self.trial.case
        few = len(self.pulled) + len(self.shape.moved) + len(self.shape.left_out) + len(case.extras)
        rate = case.row.bit_rate_kbit_s if case.row is not None else None
        return self.wrong, self.price, few, tuple(sorted(case.extras)), repr((key_of(case), rate)), repr(self.pulled)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The cheapest answer that passes, or the nearest where none does."""

    best: Answer | None
    tried: int
    limited: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lattice:
    """Sets of runs to pull anew between those that must be and all that help, under one shape, option, rate and extras."""

    answer: Answer  # with nothing pulled
    cable: int
    must: tuple[int, ...]
    may: tuple[tuple[Price, int], ...]  # by price
    base: Price  # with what must be pulled

    def runs(self, chosen: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(sorted((*self.must, *(self.may[place][1] for place in chosen))))

    def price(self, chosen: tuple[int, ...]) -> Price:
        return self.base + total(self.may[place][0] for place in chosen)


@dataclass(slots=True, kw_only=True)
class _State:
    best: Answer | None = None
    tried: int = 0
    limited: bool = False
    lattices: list[_Lattice] = field(default_factory=list)
    attempts: list[tuple[Answer, dict[int, Case]]] = field(default_factory=list)

    def take(self, answer: Answer) -> None:
        if self.best is None or answer.order < self.best.order:
            self.best = answer


def search(shelf: Shelf, subject: Subject) -> Rounds:
    """Yield rounds of changed pieces, take their cases, and return the cheapest answer that passes."""
    plan = [*_first_round(shelf, subject)]
    cases = yield [piece for _, _, piece in plan]
    state = _State(tried=len(plan))
    full = {(shape, cable): by_option for (shape, cable, _), by_option in zip(plan, cases, strict=True)}
    for number, shape in enumerate(subject.shapes):
        for case in full[number, None]:
            fixed = subject.fixed.get(key_of(case))
            if fixed is not None:
                pulled = {
                    cable: next(one for one in full[number, cable] if key_of(one) == key_of(case))
                    for cable in (shelf.cables if shape.line is None else ())
                }
                _weigh(shelf, state, shape, Trial(case=case, fixed=fixed), pulled)
    limited = (yield from _search_runs(state)) or state.limited
    best = state.best or _nearest(shelf, state)
    return Found(best=best, tried=state.tried, limited=limited or subject.limited)


def _first_round(shelf: Shelf, subject: Subject) -> Iterator[tuple[int, int | None, Piece]]:
    """Yield each shape as it is, and with all its runs pulled anew that differ, for each cable."""
    for number, shape in enumerate(subject.shapes):
        yield number, None, shape.piece
        for cable in shelf.cables if shape.line is None else ():
            runs = frozenset(link.run for link in shape.piece.links if _gains(shelf, subject, link.cable, cable))
            yield number, cable, pulled_anew(shape.piece, runs, cable)


def _gains(shelf: Shelf, subject: Subject, old: int, new: int) -> bool:
    """Tell whether new cable in place of the old may help: fitting data pairs, or no more resistance than before."""
    return old != new and (old in subject.misfits or not shelf.ohm_per_m[old] < shelf.ohm_per_m[new])


def _weigh(shelf: Shelf, state: _State, shape: Shape, bare: Trial, pulled: dict[int, Case]) -> None:
    """Judge one shape under one option at every bit rate; keep what passes, and what may pass with runs pulled anew."""
    case = bare.case
    for row, rate in open_rows(case):
        trial = _shaped(replace(bare, case=replace(case, row=row, extras=rate)))
        stands = trial.stands
        for extras in POWER_CURES:
            if not extras <= case.option.extras:
                continue
            with_extras = trial.having(extras)
            answer = Answer(shape=shape, trial=with_extras, price=_price(shelf, shape, with_extras))
            state.attempts.append((answer, pulled))
            if stands:
                _weigh_runs(shelf, state, answer, pulled)


def _shaped(trial: Trial) -> Trial:
    """Put in end resistors and box adapters where they are needed and open; elsewhere they would only cost."""
    for rule, extra in SHAPE_CURES:
        if extra in trial.case.option.extras and not trial.pass_all((rule,)):
            trial = trial.having(frozenset({extra}))
    return trial


def _price(shelf: Shelf, shape: Shape, trial: Trial) -> Price:
    line = shelf.prices.cable(shape.line, shape.line_m) if shape.line is not None else NOTHING
    return shelf.prices.parts(trial.case, trial.case.extras) + shelf.prices.moves(len(shape.moved)) + line


def _weigh_runs(shelf: Shelf, state: _State, answer: Answer, pulled: dict[int, Case]) -> None:
    if answer.trial.pass_all(POWER):
        state.take(answer)
        return
    for cable, full in pulled.items():
        if data_fits(answer.trial.case, shelf.cable(cable)):
            _weigh_cable(shelf, state, answer, cable, full)


def _weigh_cable(shelf: Shelf, state: _State, answer: Answer, cable: int, full: Case) -> None:
    """Keep the sets of runs to pull anew with one cable, if pulling all of them helps."""
    case = answer.trial.case
    at_most = replace(answer.trial, case=replace(full, row=case.row, extras=case.extras))
    if not at_most.pass_all(POWER):
        state.limited |= _is_mixed(shelf, case, full, cable) and at_most.on_thick_data.pass_all(POWER)
        return
    new = {wire.key for wire, old in zip(full.wires, case.wires, strict=True) if wire.cable is not old.cable}
    links = [link for link in answer.shape.piece.links if shelf.snapshot.runs.key[link.run] in new]
    priced = {link.run: shelf.prices.cable(cable, link.length_m) for link in links}
    bad = {link.run for link in links if not data_fits(case, shelf.cable(link.cable))}
    base = answer.price + total(priced[run] for run in bad)
    may = tuple(sorted((price, run) for run, price in priced.items() if run not in bad))
    lattice = _Lattice(answer=answer, cable=cable, must=tuple(sorted(bad)), may=may, base=base)
    state.lattices.append(lattice)
    whole = tuple(range(len(may)))
    state.take(replace(answer, trial=at_most, pulled=lattice.runs(whole), cable=cable, price=lattice.price(whole)))


def _is_mixed(shelf: Shelf, case: Case, full: Case, cable: int) -> bool:
    """Tell whether some run is pulled anew although its data conductors get thinner, or is not although they would get thicker."""
    new = shelf.cable(cable)
    thick = data_mm2(new) if new is not None else None
    for now, then in zip(case.wires, full.wires, strict=True):
        thin = data_mm2(now.cable) if now.cable is not None else None
        if thin is not None and thick is not None and thin != thick and (now.cable is not then.cable) != (thick > thin):
            return True
    return False


def _nearest(shelf: Shelf, state: _State) -> Answer | None:
    """Return the answer nearest to passing, every run pulled anew where that helps; None where nothing was judged."""
    found = [one for answer, pulled in state.attempts[:MOST_NOTED] for one in _noted(shelf, answer, pulled)]
    return min(found, key=lambda one: one.order, default=None)


def _noted(shelf: Shelf, answer: Answer, pulled: dict[int, Case]) -> Iterator[Answer]:
    case, links = answer.trial.case, answer.shape.piece.links
    if not pulled:
        yield _counted(answer)
    for cable, full in pulled.items():
        price = answer.price + total(shelf.prices.cable(cable, link.length_m) for link in links)
        trial = replace(answer.trial, case=replace(full, row=case.row, extras=case.extras))
        runs = tuple(link.run for link in links)
        yield _counted(replace(answer, trial=trial, pulled=runs, cable=cable, price=price))


def _counted(answer: Answer) -> Answer:
    return replace(answer, wrong=sum(map(is_wrong, answer.trial.findings)))


def _search_runs(state: _State) -> Generator[list[Piece], list[list[Case]], bool]:
    """Try sets of runs by increasing price until none is cheaper than the best; tell whether a limit cut that."""
    heap: list[tuple[Price, int, int, tuple[int, ...]]] = []
    for number, lattice in enumerate(state.lattices):
        heapq.heappush(heap, (lattice.base, 0, number, ()))
    judged = 0
    while heap and state.best is not None and heap[0][0] < state.best.price:
        if judged >= MOST_SETS:
            return True
        batch = list(islice(_popped(heap, state.best.price), AT_ONCE))
        judged += len(batch)
        yield from _try_batch(state, batch, heap)
    return False


def _popped(heap: list[tuple[Price, int, int, tuple[int, ...]]], below: Price) -> Iterator[tuple[int, tuple[int, ...]]]:
    while heap and heap[0][0] < below:
        _, _, number, chosen = heapq.heappop(heap)
        yield number, chosen


def _try_batch(
    state: _State, batch: Sequence[tuple[int, tuple[int, ...]]], heap: list[tuple[Price, int, int, tuple[int, ...]]]
) -> Generator[list[Piece], list[list[Case]], None]:
    pieces = []
    for number, chosen in batch:
        lattice = state.lattices[number]
        pieces.append(pulled_anew(lattice.answer.shape.piece, frozenset(lattice.runs(chosen)), lattice.cable))
    found = yield pieces
    state.tried += len(batch)
    for (number, chosen), cases in zip(batch, found, strict=True):
        lattice = state.lattices[number]
        now = lattice.answer.trial.case
        case = next(one for one in cases if key_of(one) == key_of(now))
        trial = Trial(case=replace(case, row=now.row, extras=now.extras), fixed=lattice.answer.trial.fixed)
        price = lattice.price(chosen)
        if trial.pass_all(POWER):
            runs = lattice.runs(chosen)
            state.take(replace(lattice.answer, trial=trial, pulled=runs, cable=lattice.cable, price=price))
        else:
            for child in _children(chosen, len(lattice.may)):
                heapq.heappush(heap, (lattice.price(child), len(child), number, child))


def _children(chosen: tuple[int, ...], count: int) -> Iterator[tuple[int, ...]]:
    """Yield the sets that follow a set, so that each set follows exactly one and costs no less than that one."""
    last = chosen[-1] if chosen else -1
    if last + 1 < count:
        yield (*chosen, last + 1)
        if chosen:
            yield (*chosen[:-1], last + 1)
