"""Ways out in words and prices."""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from inventory.core.saying import money_words, number_words
from planner.core.changes import EXTRA_WORDS, LEAVE_OUT, MOVE, NEW_LINE, PULL
from planner.core.findings import Change, Outcome, SegmentReport, WayOut
from planner.core.money import to_cents
from planner.core.reliefs.prices import NOTHING, Price, total
from planner.core.reliefs.search import Answer
from planner.core.reliefs.trying import is_wrong, key_of
from planner.core.reliefs.view import MOST_NODES, View
from planner.core.rules.columns import known
from planner.core.rules.reports import voltages_of
from planner.core.rules.table import RATE

AGAIN = "{} has old stations itself: before it is converted {} must move again, for {} more."
IF_AS_ALLOWED = "its wire is no longer than the {} that {} allows"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One change with its price, and what it costs at most: the same, but for lengths that nobody recorded.

    metre : what each metre of those costs.
    """

    change: Change
    price: Price
    most: Price
    metre: Price = NOTHING


def all_anew(view: View, report: SegmentReport) -> WayOut:
    """Return the price of pulling every run anew, where nothing can be searched, and what stays open."""
    label = view.labels[report.segment]
    cases = [one.settled.case for one in view.judged.get(label, [])]
    cables = view.cables(cases)
    wires = slice(view.segments.first_wire[label], view.segments.first_wire[label + 1])
    lengths = [float(view.snapshot.runs.length_m[run]) for run in view.segments.run[wires].tolist()]
    name = view.snapshot.catalogue.cables[cables[0]].key if cables else "cable"
    price = view.prices.cable(cables[0], _all_m(lengths)) if cables else Price(1)
    most = view.prices.cable(cables[0], _most_m(view, report.segment, lengths)) if cables else Price(1)
    change = Change(
        what=PULL,
        about=report.segment,
        words=f"every run, {_metres(_all_m(lengths))} of {name}",
        price=price.amount,
    )
    is_large = len(report.nodes) > MOST_NODES
    too_large = (f"size: more than {MOST_NODES} nodes, so that sets of changes were not searched",)
    still = tuple(f"{one.rule}: {one.why}" for one in report.findings if is_wrong(one) and not one.cured_by)
    metre = view.prices.metre(cables[0]) if cables else NOTHING
    sums = _summed(view, report.segment, [_Line(change=change, price=price, most=most, metre=metre)])
    return replace(sums, still=(*(too_large if is_large else ()), *still), limited=is_large)


def _summed(view: View, segment: str, lines: Sequence[_Line]) -> WayOut:
    """Return some changes with what they come to, and at most where only lengths are missing; nothing said of the rules."""
    unpriced = tuple(line.change.words for line in lines if line.price.unknown)
    priced = sum((to_cents(line.price.known) for line in lines), Decimal(0))  # so that the lines add up
    allowed = view.allowed_m(segment)
    most = total(line.most for line in lines).amount if unpriced and allowed is not None else None
    return WayOut(
        passes=False,
        price=None if unpriced else priced,
        currency=view.prices.currency,
        changes=tuple(line.change for line in lines),
        priced=priced,
        unpriced=unpriced,
        at_most=most,
        a_metre=_a_metre(lines) if unpriced and most is None else None,
        at_most_if=""
        if most is None or allowed is None
        else IF_AS_ALLOWED.format(number_words(allowed[0], "m"), allowed[1]),
    )


def _a_metre(lines: Sequence[_Line]) -> Decimal | None:
    """Return what each metre costs of the wire whose length is not known, None where something else has no price."""
    metres = {line.metre for line in lines if line.price.unknown}
    (metre, *others) = metres or {NOTHING}
    return metre.amount if metre.known and not others else None


def _all_m(lengths: Sequence[float]) -> float:
    """Return the length of all runs together [m], NaN where one is not known or there is none."""
    return sum(lengths) if lengths and all(known(length_m) is not None for length_m in lengths) else math.nan


def _most_m(view: View, segment: str, lengths: Sequence[float]) -> float:
    """Return how long all runs of a segment are together at most [m], NaN where nothing says.

    Where a length is missing they are taken to be as long as the bus of today allows, or as what is known.
    """
    if not math.isnan(_all_m(lengths)):
        return _all_m(lengths)
    allowed = view.allowed_m(segment)
    return math.nan if allowed is None else max(allowed[0], sum(known(length_m) or 0.0 for length_m in lengths))


def _metres(length_m: float) -> str:
    return number_words(length_m, "m") if known(length_m) is not None else "length not known"


class Words:
    """One answer in words and prices."""

    def __init__(self, view: View, report: SegmentReport, answer: Answer) -> None:
        self.view, self.snapshot, self.prices = view, view.snapshot, view.prices
        self.report, self.answer = report, answer

    def way_out(self) -> WayOut:
        """Return the way out."""
        lines = [*self._extras(), *self._moves(), *self._left_out(), *self._line(), *self._pulled()]
        findings = self.answer.trial.findings
        return replace(
            _summed(self.view, self.report.segment, lines),
            passes=self.answer.wrong == 0,
            parts=self.prices.parts(self.answer.trial.case, frozenset()).amount,
            methods=key_of(self.answer.trial.case),
            moves_again=tuple(self._moves_again()),
            leaves_close=tuple(f"{one.rule}: {one.why}" for one in findings if one.outcome is Outcome.CLOSE),
            still=tuple(f"{one.rule}: {one.why}" for one in findings if is_wrong(one)),
            voltages=tuple(voltages_of(self.answer.trial.case)) if self.answer.wrong == 0 else (),
        )

    def _change(  # noqa: PLR0917 - what is changed, in words, and its price
        self,
        what: str,
        about: str,
        words: str,
        price: Price,
        most: Price | None = None,
        metre: Price = NOTHING,
        **facts: Any,
    ) -> _Line:
        change = Change(what=what, about=about, words=words, price=price.amount, **facts)
        return _Line(change=change, price=price, most=price if most is None else most, metre=metre)

    def _extras(self) -> Iterator[_Line]:
        case = self.answer.trial.case
        put_in: frozenset[str] = frozenset()
        for extra in sorted(case.extras):
            price = self.prices.parts(case, put_in | {extra}).less(self.prices.parts(case, put_in))
            put_in |= {extra}
            rate = case.row.bit_rate_kbit_s if case.row is not None else None
            words = (
                f"to {number_words(rate, 'kbit/s')}"
                if extra == RATE and rate is not None
                else EXTRA_WORDS.get(extra, extra)
            )
            yield self._change(extra, self.report.segment, words, price, rate_kbit_s=rate if extra == RATE else None)

    def _moves(self) -> Iterator[_Line]:
        for node, target in self.answer.shape.moved:
            key = self.snapshot.nodes.key[node]
            yield self._change(MOVE, key, f"{key} to segment {target}", self.prices.moves(1), to=target)

    def _moves_again(self) -> Iterator[str]:
        """Say of each segment that takes nodes and has old stations itself that it holds them for a while only."""
        taken: dict[str, list[str]] = defaultdict(list)
        for node, target in self.answer.shape.moved:
            taken[target].append(self.snapshot.nodes.key[node])
        for target, nodes in sorted(taken.items()):
            if self.view.has_old(target):
                names = " and ".join(filter(None, (", ".join(nodes[:-1]), nodes[-1])))
                price = to_cents(self.prices.moves(len(nodes)).known)
                yield AGAIN.format(target, names, money_words(price, self.prices.currency))

    def _left_out(self) -> Iterator[_Line]:
        for run in self.answer.shape.left_out:
            key = self.snapshot.runs.key[run]
            yield self._change(LEAVE_OUT, key, f"run {key}, left unconnected and capped at both ends", Price())

    def _line(self) -> Iterator[_Line]:
        shape = self.answer.shape
        if shape.line is not None:
            name = self.snapshot.catalogue.cables[shape.line].key
            words = f"one new line through all nodes by the old ways, {_metres(shape.line_m)} of {name}"
            price = self.prices.cable(shape.line, shape.line_m)
            names = self.snapshot.nodes.key
            line = tuple((names[link.tail], names[link.head], link.length_m) for link in shape.piece.links)
            facts: dict[str, Any] = {"to": name, "length_m": known(shape.line_m), "places": len(line), "line": line}
            yield self._change(NEW_LINE, self.report.segment, words, price, **facts)

    def _pulled(self) -> Iterator[_Line]:
        cable = self.answer.cable
        if cable is None:
            return
        name = self.snapshot.catalogue.cables[cable].key
        pulled, links = set(self.answer.pulled), self.answer.shape.piece.links
        if self.answer.wrong:  # nothing passes: one price for all of it
            lengths = [link.length_m for link in links]
            price = total(self.prices.cable(cable, length_m) for length_m in lengths)
            most = self.prices.cable(cable, _most_m(self.view, self.report.segment, lengths))
            words = f"every run, {_metres(_all_m(lengths))} of {name}"
            yield self._change(PULL, self.report.segment, words, price, most, self.prices.metre(cable))
            return
        for link in links:
            if link.run in pulled:
                key = self.snapshot.runs.key[link.run]
                price = self.prices.cable(cable, link.length_m)
                words = f"run {key}, {_metres(link.length_m)} of {name}"
                yield self._change(PULL, key, words, price, to=name, length_m=known(link.length_m))
