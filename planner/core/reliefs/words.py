"""Ways out in words and prices."""

import math
from collections.abc import Iterator
from decimal import Decimal

from inventory.core.saying import number_words
from inventory.core.snapshot import Snapshot
from planner.core.changes import EXTRA_WORDS, LEAVE_OUT, MOVE, NEW_LINE, PULL
from planner.core.findings import Change, Outcome, SegmentReport, WayOut
from planner.core.money import to_cents
from planner.core.reliefs.prices import Price, PriceList, total
from planner.core.reliefs.search import Answer
from planner.core.reliefs.trying import is_wrong, key_of
from planner.core.reliefs.view import MOST_NODES, View
from planner.core.rules.columns import known
from planner.core.rules.reports import voltages_of
from planner.core.rules.table import RATE


def all_anew(view: View, report: SegmentReport) -> WayOut:
    """Return the price of pulling every run anew, where nothing can be searched, and what stays open."""
    label = view.labels[report.segment]
    cases = [one.settled.case for one in view.judged.get(label, [])]
    cables = view.cables(cases)
    wires = slice(view.segments.first_wire[label], view.segments.first_wire[label + 1])
    lengths = [float(view.snapshot.runs.length_m[run]) for run in view.segments.run[wires].tolist()]
    length_m = _all_m(lengths)
    price = view.prices.cable(cables[0], length_m) if cables else Price(1)
    name = view.snapshot.catalogue.cables[cables[0]].key if cables else "cable"
    change = Change(
        what=PULL,
        about=report.segment,
        words=f"every run, {_metres(length_m)} of {name}",
        price=price.amount,
    )
    is_large = len(report.nodes) > MOST_NODES
    too_large = (f"size: more than {MOST_NODES} nodes, so that sets of changes were not searched",)
    still = tuple(f"{one.rule}: {one.why}" for one in report.findings if is_wrong(one) and not one.cured_by)
    return WayOut(
        passes=False,
        price=price.amount,
        currency=view.prices.currency,
        changes=(change,),
        priced=to_cents(price.known),
        unpriced=() if price.amount is not None else (change.words,),
        still=(*(too_large if is_large else ()), *still),
        limited=is_large,
    )


def _all_m(lengths: list[float]) -> float:
    """Return the length of all runs together [m], NaN where one is not known or there is none."""
    return sum(lengths) if lengths and all(known(length_m) is not None for length_m in lengths) else math.nan


def _metres(length_m: float) -> str:
    return number_words(length_m, "m") if known(length_m) is not None else "length not known"


class Words:
    """One answer in words and prices."""

    def __init__(self, snapshot: Snapshot, prices: PriceList, report: SegmentReport, answer: Answer) -> None:
        self.snapshot, self.prices, self.report, self.answer = snapshot, prices, report, answer

    def way_out(self) -> WayOut:
        """Return the way out."""
        priced = [*self._extras(), *self._moves(), *self._left_out(), *self._line(), *self._pulled()]
        findings = self.answer.trial.findings
        unpriced = tuple(change.words for change, price in priced if price.unknown)
        priced_sum = sum((to_cents(price.known) for _, price in priced), Decimal(0))  # so that the lines add up
        return WayOut(
            passes=self.answer.wrong == 0,
            price=priced_sum if not unpriced else None,
            currency=self.prices.currency,
            changes=tuple(change for change, _ in priced),
            priced=priced_sum,
            unpriced=unpriced,
            parts=self.prices.parts(self.answer.trial.case, frozenset()).amount,
            methods=key_of(self.answer.trial.case),
            leaves_close=tuple(f"{one.rule}: {one.why}" for one in findings if one.outcome is Outcome.CLOSE),
            still=tuple(f"{one.rule}: {one.why}" for one in findings if is_wrong(one)),
            voltages=tuple(voltages_of(self.answer.trial.case)) if self.answer.wrong == 0 else (),
        )

    def _change(self, what: str, about: str, words: str, price: Price, **facts: object) -> tuple[Change, Price]:
        return Change(what=what, about=about, words=words, price=price.amount, **facts), price  # type: ignore[arg-type]

    def _extras(self) -> Iterator[tuple[Change, Price]]:
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

    def _moves(self) -> Iterator[tuple[Change, Price]]:
        for node, target in self.answer.shape.moved:
            key = self.snapshot.nodes.key[node]
            yield self._change(MOVE, key, f"{key} to segment {target}", self.prices.moves(1), to=target)

    def _left_out(self) -> Iterator[tuple[Change, Price]]:
        for run in self.answer.shape.left_out:
            key = self.snapshot.runs.key[run]
            yield self._change(LEAVE_OUT, key, f"run {key}, left unconnected and capped at both ends", Price())

    def _line(self) -> Iterator[tuple[Change, Price]]:
        shape = self.answer.shape
        if shape.line is not None:
            name = self.snapshot.catalogue.cables[shape.line].key
            words = f"one new line through all nodes by the old ways, {_metres(shape.line_m)} of {name}"
            price = self.prices.cable(shape.line, shape.line_m)
            names = self.snapshot.nodes.key
            line = tuple((names[link.tail], names[link.head], link.length_m) for link in shape.piece.links)
            facts = {"to": name, "length_m": known(shape.line_m), "places": len(line), "line": line}
            yield self._change(NEW_LINE, self.report.segment, words, price, **facts)

    def _pulled(self) -> Iterator[tuple[Change, Price]]:
        if self.answer.cable is None:
            return
        name = self.snapshot.catalogue.cables[self.answer.cable].key
        pulled = set(self.answer.pulled)
        if self.answer.wrong:  # nothing passes: one price for all of it
            lengths = [link.length_m for link in self.answer.shape.piece.links]
            price = total(self.prices.cable(self.answer.cable, length_m) for length_m in lengths)
            yield self._change(PULL, self.report.segment, f"every run, {_metres(_all_m(lengths))} of {name}", price)
            return
        for link in self.answer.shape.piece.links:
            if link.run in pulled:
                key = self.snapshot.runs.key[link.run]
                price = self.prices.cable(self.answer.cable, link.length_m)
                words = f"run {key}, {_metres(link.length_m)} of {name}"
                yield self._change(PULL, key, words, price, to=name, length_m=known(link.length_m))
