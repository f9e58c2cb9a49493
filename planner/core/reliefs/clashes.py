"""What ways out that are taken do to each other: shared gateways, and room for the nodes that they move."""

import math
from collections.abc import Iterator, Mapping

from planner.core.findings import CONVERTIBLE, SegmentReport
from planner.core.reliefs.again import Standing
from planner.core.reliefs.moves import Ledger, draw_of
from planner.core.reliefs.trying import key_of
from planner.core.reliefs.view import View, staying_w
from planner.core.rules.answers import SLACK, names, say
from planner.core.rules.columns import known
from planner.core.rules.membership import usable_w
from planner.core.rules.table import LARGER

Stand = Mapping[str, Standing]
By = Mapping[str, SegmentReport]


def drop_what_clashes(view: View, by_key: By, standing: dict[str, Standing]) -> dict[str, str]:
    """Take out, one at a time, what does not go with the others that stand; return why, by segment."""
    refused: dict[str, str] = {}
    while (falls := next(_clashes(view, by_key, standing), None)) is not None:
        key, refused[key] = falls
        del standing[key]
    return refused


def _clashes(view: View, by_key: By, standing: Stand) -> Iterator[tuple[str, str]]:
    """Yield what falls and why; of two that clash, the later."""
    for key, one in standing.items():
        for other in one.along:
            if other not in standing and by_key[other].verdict not in CONVERTIBLE:
                yield (
                    key,
                    f"Segment {other} hangs on the same gateway and must take its own way out in the same outage.",
                )
        yield from ((key, why) for why in _changed_otherwise(view, by_key, standing, one))
    yield from _no_room(view, by_key, standing)
    yield from _overfed(view, by_key, standing)


def _changed_otherwise(view: View, by_key: By, standing: Stand, one: Standing) -> Iterator[str]:
    """Yield the segments for which the gateway is changed in another way."""
    option, keys = one.trial.case.option, list(standing)
    if option.like_for_like:
        return
    for other in by_key[one.key].gateway_neighbours:
        theirs = _signature(view, by_key[other], standing.get(other))
        is_first = other not in standing or keys.index(other) < keys.index(one.key)
        if theirs is not None and is_first and theirs != option.signature:
            how = f"replaced by {theirs[1]}" if theirs[1] else f"set over to {theirs[0]}"
            yield f"Its gateway is {how} for segment {other}."


def _signature(view: View, report: SegmentReport, standing: Standing | None) -> tuple[str, str] | None:
    """Return the protocol and gateway to which a segment's conversion changes its gateway, None where it does not."""
    if standing is not None:
        option = standing.trial.case.option
        return None if option.like_for_like else option.signature
    own = {bus.protocol for bus in view.snapshot.buses if bus.key in report.buses}
    if report.verdict not in CONVERTIBLE or own == {report.new_protocol}:
        return None
    used = {method for _, method in report.methods}
    news = {method.new_gateway_model or "" for method in view.snapshot.catalogue.methods if method.key in used}
    return report.new_protocol or "", min(news, default="")


def _overfed(view: View, by_key: By, standing: Stand) -> Iterator[tuple[str, str]]:
    """Yield what asks more of a gateway than it can feed, together with the ways before it and what converts or stays."""
    before: dict[str, Standing] = {}
    for key, one in standing.items():
        before[key] = one
        for other in before.values():
            why = _too_much(view, by_key, before, other)
            if why is not None:
                yield key, why
                break


def _too_much(view: View, by_key: By, before: Stand, one: Standing) -> str | None:
    """Return why the gateway of a way out cannot feed its lines with some ways done, None where it can."""
    case = one.trial.case
    model = case.gateways[0].model if len(case.gateways) == 1 else None
    if model is None or LARGER in case.extras:
        return None
    lines = {view.segments.key[label] for label in view.campus.neighbours(view.labels[one.key])}
    ways = [other for other in before.values() if other.key in lines]
    moved = [(other, node) for other in before.values() for node, to in other.moves.items() if to in lines]
    if not ways and not moved:
        return None
    drawn = case.from_gateway_w + sum(other.trial.case.from_gateway_w for other in ways)
    drawn += staying_w(view, view.labels[one.key], key_of(case)) + _converting_w(view, by_key, before, one, lines)
    drawn += sum(
        2 * draw_of(view.snapshot, node) for _, node in moved
    )  # at half the voltage: nothing stands below that
    usable = usable_w(known(model.supply_rating_w), view.brief.supply_reserve_pct)
    if drawn <= usable + SLACK:
        return None
    keys = sorted({one.key, *(other.key for other in ways), *(other.key for other, _ in moved)})
    reserve = say(view.brief.supply_reserve_pct)
    said = (
        f"the ways out of {names(keys)} ask for up to {say(drawn, 'W')} together"
        if drawn < math.inf
        else (f"what the ways out of {names(keys)} ask for together is not known")
    )
    return f"On gateway {case.gateways[0].key} {said}, it can feed {say(usable, 'W')} with {reserve} % reserve."


def _converting_w(view: View, by_key: By, before: Stand, one: Standing, lines: set[str]) -> float:
    """Return what lines of a gateway draw that convert as they are, beside one way out [W]."""
    signature = one.trial.case.option.signature
    return sum(
        max(
            (
                judged.settled.case.from_gateway_w
                for judged in view.judged.get(view.labels[key], ())
                if judged.verdict in CONVERTIBLE and judged.signature == signature
            ),
            default=0.0,
        )
        for key in lines
        if key not in before and by_key[key].verdict in CONVERTIBLE
    )


def _no_room(view: View, by_key: By, standing: Stand) -> Iterator[tuple[str, str]]:
    """Yield what moves a node to where it cannot go, those before it counted."""
    ledger, before = Ledger(view.rooms), list[Standing]()
    for key, one in standing.items():
        taker = next((other for other in before if key in other.moves.values()), None)
        if taker is not None:
            yield key, f"The way out of segment {taker.key} moves nodes here, and this one changes what is spoken here."
        for node, target in one.moves.items():
            name = view.snapshot.nodes.key[node]
            if target not in by_key:
                yield key, f"There is no segment {target} any more to which {name} could move."
            elif by_key[target].verdict in CONVERTIBLE or any(other.key == target for other in before):
                yield key, f"Segment {target}, to which {name} would move, is converted itself."
            elif not ledger.take(view.snapshot, node, target, one.trial.case.protocol):
                yield key, f"There is no room for {name} on segment {target} any more."
        before.append(one)
