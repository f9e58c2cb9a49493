"""Rules about who is on the segment: alone, gateway, records."""

import math
from collections.abc import Iterator, Sequence

from inventory.core.catalogue import NodeKind
from planner.core.findings import Finding, Outcome
from planner.core.rules.answers import SLACK, asks, fails, listed, names, passes, say
from planner.core.rules.case import Case, Member, Neighbour
from planner.core.rules.columns import known
from planner.core.rules.options import Option

PRACTICE = "common practice"
QUIET = (NodeKind.GATEWAY, NodeKind.SUPPLY, NodeKind.JUNCTION)


def other_members(case: Case) -> tuple[Member, ...]:
    """Return what shares the segment beside old stations, gateways, supplies and junctions."""
    return tuple(member for member in case.members if member.method is None and member.kind not in QUIET)


def judge_alone(case: Case) -> Finding:
    """Tell which nodes share the segment and cannot stay on it."""
    if case.option.like_for_like:
        return passes("alone", f"The bus stays {case.option.new_protocol}: nobody on it is disturbed.", PRACTICE)
    new = case.option.new_protocol
    others = other_members(case)
    mute = [one for one in others if one.now is None or (one.now.protocol is None and one.now.protocol_2 is None)]
    moving = [one for one in others if one not in mute and one.now is not None and not one.now.speaks(new)]
    if moving:
        return _must_move(moving, new)
    if mute or case.lost:
        return _may_share(case, mute)
    staying = [one.key for one in others]
    verb = "speaks" if len(staying) == 1 else "speak"
    stay = f" {names(staying)} {verb} {new} too and may stay." if staying else ""
    return passes("alone", f"Nothing else on the segment has to move.{stay}", PRACTICE)


def _must_move(moving: list[Member], new: str) -> Finding:
    speak = "does" if len(moving) == 1 else "do"
    why = f"{names(one.key for one in moving)} {speak} not speak {new} and would be cut off."
    finding = fails("alone", why, PRACTICE)
    return Finding(
        rule=finding.rule,
        outcome=finding.outcome,
        why=why,
        source=PRACTICE,
        measured=float(len(moving)),
        limit=0.0,
        unit="nodes",
        margin=-float(len(moving)),
    )


def _may_share(case: Case, mute: list[Member]) -> Finding:
    missing = [f"Protocol of {one.key}" for one in mute if one.now is not None]
    missing += [f"Model of {one.key}" for one in mute if one.now is None]
    missing += [f"Bus of {name}" for name in case.lost]
    verb = "names" if len(case.lost) == 1 else "name"
    near = f"{names(case.lost)} nearby {verb} no bus and may be on this one. " if case.lost else ""
    silent = f"What {names(one.key for one in mute)} can speak is not known." if mute else ""
    return asks("alone", f"{near}{silent}".strip(), missing, PRACTICE)


def judge_gateway(case: Case) -> Finding:
    """Tell whether there is one gateway and the method can change it; its other segments are not looked at."""
    return judge_gateway_among(case, None)


def judge_gateway_among(case: Case, neighbours: tuple[Neighbour, ...] | None) -> Finding:
    """Tell whether there is one gateway, what becomes of it, and whether its other segments survive that."""
    if case.option.like_for_like:
        return passes("gateway", f"The bus stays {case.option.new_protocol}: the gateway is left alone.", "method")
    gateways = case.gateways
    if not gateways:
        return asks("gateway", "No gateway is recorded on this segment.", (f"Gateway of {case.segment}",), PRACTICE)
    if len(gateways) > 1:
        keys = tuple(dict.fromkeys(one.key for one in gateways))
        why = f"{names(keys)} are {len(keys)} gateways" if len(keys) > 1 else f"{len(gateways)} sides of {keys[0]} are"
        return fails("gateway", f"{why} on one wire.", PRACTICE)
    return _change(case, gateways[0]) or _survivors(case, gateways[0], neighbours)


def _change(case: Case, gateway: Member) -> Finding | None:
    """Return why the method cannot change this gateway, None where it can."""
    assert gateway.now is not None  # noqa: S101 - a gateway is one by its model
    source = "method"
    for method in case.option.methods:
        if method.old_gateway_model not in (None, gateway.now.key):
            why = f"{method.key} starts from gateway {method.old_gateway_model}; {gateway.key} is {gateway.now.key}."
            return fails("gateway", why, source)
    if gateway.model is None:
        missing = (f"Model {case.option.new_gateway} in the catalogue",)
        return asks("gateway", f"The new gateway {case.option.new_gateway} is not in the catalogue.", missing, source)
    if gateway.model.protocol is None and gateway.model.protocol_2 is None:
        why = f"What {gateway.model.key} at {gateway.key} can speak is not known."
        return asks("gateway", why, (f"Protocol of model {gateway.model.key}",), source)
    if not gateway.model.speaks(case.option.new_protocol):
        how = "set over" if case.option.new_gateway is None else "put in"
        why = f"{gateway.model.key}, {how} at {gateway.key}, does not speak {case.option.new_protocol}."
        return fails("gateway", why, source)
    return None


def _survivors(case: Case, gateway: Member, neighbours: tuple[Neighbour, ...] | None) -> Finding:
    """Judge what the change does to the other segments of the gateway."""
    cut = [one for one in neighbours or () if one.fate == "cut off"]
    if cut:
        why = f"{gateway.key} also serves {names(f'{one.segment} ({one.why})' for one in cut)}: cut off by the change."
        return fails("gateway", why, "method")
    doubtful = [one for one in neighbours or () if one.fate == "not known"]
    if doubtful or neighbours == ():
        missing = [one.why for one in doubtful] or [f"Other buses of gateway {gateway.key}"]
        why = f"What the change of {gateway.key} does to its other segments is not known."
        return asks("gateway", why, missing, "method")
    others = [one.segment for one in neighbours or () if one.fate == "converts"]
    overloaded = _too_much(case, gateway, neighbours or ())
    if overloaded is not None:
        return overloaded
    with_it = f" {names(others)} must convert in the same outage." if others else _kept_on(case, neighbours or ())
    return passes("gateway", f"{gateway.key} is {_how(case.option)}.{with_it}", "method")


def _too_much(case: Case, gateway: Member, neighbours: Sequence[Neighbour]) -> Finding | None:
    """Return why a gateway cannot feed all its lines together, those that convert and those that stay, or what is to be asked."""
    own_w, own_most_w = case.from_gateway_w, case.from_gateway_at_most_w
    is_changed = case.option.new_gateway is not None or own_most_w > 0
    feeding = [one for one in neighbours if one.fate == "converts" or (one.most_w > 0 and is_changed)]
    if not feeding or "larger supply" in case.extras:
        return None
    rating = known(gateway.model.supply_rating_w) if gateway.model is not None else None
    usable, lines = usable_w(rating, case.brief.supply_reserve_pct), [one.segment for one in feeding]
    drawn = own_w + sum(one.watt for one in feeding)
    most = drawn + own_most_w - own_w + sum(one.most_w - one.watt for one in feeding if one.most_w > 0)
    if drawn > usable + SLACK:
        return _overloaded(case, gateway, lines, (drawn, usable))
    staying = [one for one in feeding if one.most_w > 0]
    if not staying or (rating is not None and most <= usable + SLACK):
        return None
    missing = {fact for one in staying for fact in one.missing} if rating is not None else set()
    at_most = f"up to {say(most, 'W')}" if most < math.inf else "nobody knows how much"
    can = "how much it can feed is not known" if rating is None else f"it can feed {say(usable, 'W')}"
    why = f"{names([case.segment, *lines])} draw {at_most} together from {gateway.key}, and {can}."
    return asks("gateway", why, tuple(missing) or (gateway.asked("Supply rating"),), f"model of {gateway.key}")


def _kept_on(case: Case, neighbours: Sequence[Neighbour]) -> str:
    """Say that the other segments keep working, and on what that rests where the gateway is set over."""
    if case.option.new_gateway is None and any(one.fate == "stays" for one in neighbours):
        return " Its other segments keep working where each of its lines is set over by itself: look first."
    return " Its other segments keep working."


def usable_w(rating: float | None, reserve_pct: float) -> float:
    """Return what a gateway can feed into all its lines together [W]; infinite where nobody recorded it."""
    return math.inf if rating is None else rating * (1 - reserve_pct / 100)


def _overloaded(case: Case, gateway: Member, others: list[str], watts: tuple[float, float]) -> Finding:
    drawn, usable = watts
    lines = names([case.segment, *others])
    reserve = say(case.brief.supply_reserve_pct)
    why = (
        f"{lines} draw {say(drawn, 'W')} together, {gateway.key} can feed {say(usable, 'W')} with {reserve} % reserve."
    )
    return Finding(
        rule="gateway",
        outcome=Outcome.FAIL,
        why=why,
        measured=drawn,
        limit=usable,
        unit="W",
        margin=usable - drawn,
        source=f"model of {gateway.key}",
    )


def judge_taken_gateway(case: Case, other: Option) -> Finding:
    """Say that the gateway is changed in another way for the other segments that it serves."""
    gateway = names(one.key for one in case.gateways)
    why = f"{gateway} is {_how(other)} for its other segments, and this one needs it {_how(case.option)}."
    return fails("gateway", why, "method")


def _how(option: Option) -> str:
    new = option.new_gateway
    return f"replaced by {new}" if new else f"set over to {option.new_protocol}"


def judge_records(case: Case) -> Finding:
    """Tell whether the records agree about who is wired to whom."""
    strangers = tuple(_strangers(case))
    if not case.doubts and not case.silent and not strangers:
        return passes("records", "Buses and runs agree.", PRACTICE)
    said = "The records disagree about which wires join" if case.doubtful else "The records leave something open"
    said = " ".join(("What was measured contradicts the records.", *case.contradicted)) if case.contradicted else said
    missing = (*case.doubts, *case.silent, *strangers)
    return asks("records", f"{said.rstrip('.')}; to settle on site: {listed(missing)}.", missing, PRACTICE)


def _strangers(case: Case) -> Iterator[str]:
    """Yield what is to be settled about nodes that do not speak what their bus carries: one record must be wrong."""
    if case.protocol is None:
        yield f"Protocol of {case.segment}"
        return
    for member in case.members:
        now = member.now
        if now is None or member.passive or now.speaks(case.protocol):
            continue
        if now.protocol is not None:
            yield f"Protocol of {member.key}, {now.kind} of {now.protocol} on a bus of {case.protocol}"
        else:
            yield f"Protocol of model {now.key}"
