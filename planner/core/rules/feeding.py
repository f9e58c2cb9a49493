"""Rules about power: one source, voltage, supply, current. The state judged is the one after conversion."""

import math
from collections.abc import Iterator

from inventory.core.catalogue import Cable
from inventory.core.conductors import cautious_conductor_ohm_per_m
from inventory.core.limits import (
    CLASS_2_SOURCE,
    CLASS_2_V,
    CLASS_2_VA,
    CONNECTOR,
    CONTACT,
    DENSITY,
    DROP,
    DROP_MOST,
    LEAST_SUPPLY,
    MOST_SOURCE,
    MOST_SUPPLY,
    SECTION,
    SUPPLY_REACH,
    Limit,
)
from planner.core.findings import Finding, Outcome
from planner.core.power import PowerState
from planner.core.rules.answers import SLACK, asks, at_most, facts_open, fails, names, passes, say
from planner.core.rules.case import Case, Member, Wire
from planner.core.rules.columns import area_mm2, known, may_feed
from planner.core.rules.things import cables_in_use, lengths_missing, methods, run_words

PRACTICE = "common practice"
MANY_FOLD = 100.0
DEGREE = "\N{DEGREE SIGN}C"
UNFED = "The bus carries no power."
AT_20C = 20.0  # any temperature tells whether a resistance is known


def judge_one_source(case: Case) -> Finding:
    """Tell whether exactly one source feeds the power pair."""
    if not case.is_fed:
        return _unfed(case)
    sources = case.sources
    if not sources:
        missing = (f"What feeds {case.segment}",)
        return asks("one source", "Nothing on the segment is recorded as feeding it.", missing, PRACTICE)
    if len(sources) > 1:
        keys = tuple(dict.fromkeys(one.key for one in sources))
        who = f"{names(keys)} all" if len(keys) > 1 else f"{len(sources)} sides of {keys[0]}"
        return _counted(f"{who} feed the power pair; one may, unless listed for it.", len(sources))
    staying = [one for one in case.members if one.model is None or one.model.speaks(case.option.new_protocol)]
    others = [one for one in staying if not one.feeds and may_feed(one.model)]
    if others:
        which = names(one.key for one in others)
        why = f"{sources[0].key} feeds the power pair, and whether it is also fed by {which} is not known."
        return asks("one source", why, [one.asked("Supply (0 V for none)") for one in others], PRACTICE)
    return passes("one source", f"{sources[0].key} alone feeds the power pair.", PRACTICE)


def _unfed(case: Case) -> Finding:
    """Tell whether the new stations, on a bus that carries no power, had their power from the bus until now."""
    hungry = names(one.key for one in case.old if case.loads(one) != 0)
    if case.option.like_for_like or case.option.was_fed is False or not hungry:
        return passes("one source", UNFED, PRACTICE)
    said = f"{case.option.new_protocol} carries no power"
    if case.option.was_fed is None:
        why = f"{said}, and whether {hungry} had power from the old bus is not known."
        return asks("one source", why, (f"Power on bus of protocol {case.protocol or 'of ' + case.segment}",), PRACTICE)
    return fails("one source", f"{said}, and {hungry} had power from the old bus.", PRACTICE)


def _counted(why: str, sources: int) -> Finding:
    return Finding(
        rule="one source",
        outcome=Outcome.FAIL,
        why=why,
        measured=float(sources),
        limit=1.0,
        unit="sources",
        margin=1.0 - sources,
        source=PRACTICE,
    )


def _no_feed(rule: str, case: Case) -> Finding | None:
    """Return the answer where nobody can reckon: no power on the bus, nothing drawn, no source, several sources."""
    if not case.is_fed:
        return passes(rule, UNFED, PRACTICE)
    if all(case.loads(member) == 0 for member in case.members):
        return passes(rule, "Nothing on the segment draws from the bus.", PRACTICE)
    if not case.sources:
        fact = f"What feeds {case.segment}"
        return asks(rule, "It cannot be reckoned without one source.", (fact,), PRACTICE)
    if len(case.sources) > 1:  # no question: several fail whichever of them feeds it
        return asks(rule, "It cannot be reckoned with several sources.", (), PRACTICE)
    if case.feeding.source_v is None:
        return asks(
            rule, "The voltage of the source is not known.", (case.sources[0].asked(_volts_fact(case)),), PRACTICE
        )
    return None


def _power_missing(case: Case) -> tuple[str, ...]:
    """Return the facts without which the voltage is not known."""
    found = [member.asked("Draw") for member in case.members if case.loads(member) is None]
    found += [f"Cable of {run_words(wire)}" for wire in case.wires if wire.cable is None]
    found += [f"Patch cable of {methods(case)}" for one in case.patch if one is None]
    for cable in cables_in_use(case):
        found += _cable_missing(cable)
    found += lengths_missing(case)
    return tuple(found) or (f"Length and cable of every run on {case.segment}",)


def _cable_missing(cable: Cable) -> Iterator[str]:
    if cable.power_pairs is None:
        yield f"Power pairs of cable {cable.key}"
    if cautious_conductor_ohm_per_m(cable, AT_20C) is None:
        is_blank = cable.power_conductor is None or cable.conductor_class is None
        yield f"Power conductor of cable {cable.key}" if is_blank else f"Conductor and class of cable {cable.key}"


def judge_voltage(case: Case) -> Finding:
    """Tell whether every load gets its lowest supply voltage with the conductors at their hottest."""
    early = _no_feed("voltage", case)
    if early is not None:
        return early
    feed, source = case.feeding, "models; voltage by constant-power loads"
    if feed.state is PowerState.NO_OPERATING_POINT or not feed.source_v:
        what = f"{say(feed.load_w, 'W')} cannot be drawn through these wires"
        why = f"There is no operating point: {what if feed.source_v else _no_voltage(case)}."
        return fails("voltage", why, source)
    drawing = [member for member in case.members if case.loads(member) != 0]
    lowest = {member.key: known(member.model.lowest_supply_v) if member.model else None for member in drawing}
    missing = [member.asked("Lowest supply") for member in drawing if lowest[member.key] is None]
    missing += () if feed.known else _power_missing(case)
    growth = _growth(case)
    found = [
        _arrives(case, member, (limit, growth), missing, source)
        for member in drawing
        if (limit := lowest[member.key]) is not None
    ]
    asked = asks("voltage", "What the equipment needs is not known.", missing, source)
    return _within_reach(case, worst_margin(found) if found else asked)


def _within_reach(case: Case, finding: Finding) -> Finding:
    """Return a fail where a load is farther from the source than the bus allows, whatever its voltage."""
    reach = SUPPLY_REACH.get(case.option.new_protocol)
    far_m = case.feeding.far_m
    if reach is None or finding.outcome is Outcome.FAIL or far_m <= reach.value + SLACK:
        return finding
    why = f"A load is {say(far_m, 'm')} of wire from {case.sources[0].key}, {say(reach.value, 'm')} allowed."
    return Finding(
        rule="voltage",
        outcome=Outcome.FAIL,
        why=why,
        measured=far_m,
        limit=reach.value,
        unit="m",
        margin=reach.value - far_m,
        source=reach.source,
    )


def _no_voltage(case: Case) -> str:
    return f"{case.sources[0].key} is recorded with 0 V"


def worst_margin(findings: list[Finding]) -> Finding:
    """Return the finding that fails first: the worst outcome, of equals the one with the least margin."""
    order = {Outcome.FAIL: 0, Outcome.UNKNOWN: 1, Outcome.CLOSE: 2, Outcome.PASS: 3}
    return min(findings, key=lambda one: (order[one.outcome], one.margin if one.margin is not None else 0.0))


def _arrives(case: Case, member: Member, about: tuple[float, str], missing: list[str], source: str) -> Finding:
    """Judge what one load gets; `about` is the lowest it may be [V], and how far draw or length may grow, in words."""
    limit, growth = about
    volts = case.volts_at(member)
    if volts is None:
        return asks("voltage", f"No wiring to {member.key} is recorded.", missing or case.silent, source)
    margin = volts - limit
    said = f"{member.key} gets {say(volts, 'V')}, needs {say(limit, 'V')}"
    after, outcome = growth, Outcome.PASS
    if margin < -SLACK and case.loads(member) is not None:  # what draws nothing needs no voltage
        after, outcome, said = "", Outcome.FAIL, f"{said}: {say(-margin, 'V')} too little"
    elif missing:
        after, outcome = f"; {facts_open(missing)}", Outcome.UNKNOWN
        said = f"{member.key} gets at most {say(volts, 'V')}, needs {say(limit, 'V')}"
    elif margin < limit * case.brief.reserve_pct / 100 - SLACK:
        outcome = Outcome.CLOSE
    return Finding(
        rule="voltage",
        outcome=outcome,
        why=f"{said}, at {say(case.brief.conductor_c, DEGREE)} and {say(case.feeding.source_a, 'A')}, "
        f"{say(case.feeding.loss_w, 'W')} lost{after}.",
        measured=volts,
        limit=limit,
        unit="V",
        margin=margin,
        source=source,
        missing=tuple(sorted(set(missing))) if outcome is Outcome.UNKNOWN else (),
    )


def _growth(case: Case) -> str:
    """Say how far draw or length could grow before a load falls too low; nothing where a fact is missing.

    Only draw x resistance / voltage^2 counts, so that it is exact for one load. For several it is off by less than a
    fifth, since each is taken as if it alone caused its drop.
    """
    limits = [_reached(case, member) for member in case.members if case.loads(member) != 0]
    known_ones = [one for one in limits if one is not None]
    factor = min((_may_grow(case, *one) for one in known_ones), default=math.inf)
    if not case.feeding.known or len(known_ones) < len(limits) or not 1 < factor < math.inf:
        return ""
    about, more = ("about " if len(limits) > 1 else ""), (" and more" if factor > MANY_FOLD else "")
    return f"; draw or length may grow to {about}{min(factor, MANY_FOLD):.3g} times{more}"


def _reached(case: Case, member: Member) -> tuple[float, float] | None:
    """Return voltage at a load and the lowest it may be [V], None where one is not known."""
    volts, lowest = case.volts_at(member), known(member.model.lowest_supply_v) if member.model else None
    return None if volts is None or lowest is None else (volts, lowest)


def _may_grow(case: Case, volts: float, limit: float) -> float:
    source_v = case.feeding.source_v
    if source_v is None or source_v - volts < SLACK:
        return math.inf
    lowest = max(limit, source_v / 2)  # below half the source voltage no operating point exists
    return max(lowest * (source_v - lowest) / (volts * (source_v - volts)), 0.0)


def judge_supply(case: Case) -> Finding:
    """Tell whether the source can feed draw and losses with the brief's reserve, and stays in the usual circuit class."""
    wrong = _not_what_the_bus_takes(case)
    if wrong is not None:
        return wrong
    finding, unsaid = _fed_well(case), _unsaid_of_the_source(case)
    if not unsaid or finding.outcome is Outcome.FAIL:
        return finding
    why = f"What may feed {case.option.new_protocol} is bounded, and what {case.sources[0].key} feeds is not known."
    return asks("supply", why, [*unsaid, *finding.missing], case.sources[0].key)


def _fed_well(case: Case) -> Finding:
    """Tell whether the source can feed what is drawn."""
    early = _no_feed("supply", case)
    if early is not None:
        return early
    source, feed = case.sources[0], case.feeding
    if feed.state is PowerState.NO_OPERATING_POINT or not feed.source_v:
        what = "no supply is large enough" if feed.source_v else _no_voltage(case)
        return fails("supply", f"There is no operating point: {what}.", source.key)
    missing = [] if feed.known else list(_power_missing(case))
    rating = _rating_w(case)
    drawn = feed.source_v * feed.source_a
    if "larger supply" in case.extras:
        why = f"A larger supply for {say(drawn, 'W')} at {say(feed.source_v, 'V')}."
        return (
            asks("supply", why, missing)
            if missing
            else _cautioned(passes("supply", why, "method"), feed.source_v, drawn)
        )
    if rating is None:
        missing.append(source.asked("Supply rating"))
        return asks("supply", f"{say(drawn, 'W')} is drawn; the rating is not known.", missing, source.key)
    usable = rating * (1 - case.brief.supply_reserve_pct / 100)
    what = f"{source.key}, {say(rating, 'W')} less {say(case.brief.supply_reserve_pct)} % reserve: draw and losses"
    finding = at_most("supply", what, (drawn, usable), "W", case.brief.reserve_pct, f"model {source.key}", missing)
    return _cautioned(finding, feed.source_v, max(rating, drawn))


def _not_what_the_bus_takes(case: Case) -> Finding | None:
    """Return a fail where the bus may not be fed by its source, whether anything draws from it or not."""
    if not case.is_fed or len(case.sources) != 1 or not case.feeding.source_v:
        return None
    source_v, source_a = case.feeding.source_v, case.feeding.source_a
    drawn = source_v * source_a if source_a > 0 else 0.0  # NaN where nothing stands
    most_w = max(drawn, _rating_w(case) or 0.0)
    return _not_its_voltage(case, source_v) or _feeds_too_much(case, source_v, most_w)


def _rating_w(case: Case) -> float | None:
    model = case.sources[0].model
    return known(model.supply_rating_w) if model is not None else None


def _unsaid_of_the_source(case: Case) -> list[str]:
    """Return what nobody recorded of the source, of what the bus says that may feed it."""
    if not case.is_fed or len(case.sources) != 1:
        return []
    source, missing, fact = case.sources[0], [], _volts_fact(case)
    if case.feeding.source_v is None and fact != "Supply":
        missing.append(source.asked(fact))
    most = MOST_SOURCE.get(case.option.new_protocol)
    if most is not None and _rating_w(case) is None and "larger supply" not in case.extras:
        missing.append(source.asked(f"Supply rating ({say(most.value, most.unit)} at most)"))
    return missing


def _volts_fact(case: Case) -> str:
    """Return the fact to ask for where the voltage of the source is not known, with what the bus allows.

    Bounded it is another fact: neither end of its usual range tells anything then.
    """
    least, most = (table.get(case.option.new_protocol) for table in (LEAST_SUPPLY, MOST_SUPPLY))
    if least is None or most is None:
        return "Supply"
    return f"Supply ({say(least.value)} to {say(most.value, 'V')})"


def _not_its_voltage(case: Case, source_v: float) -> Finding | None:
    """Return a fail where the source gives less or more than the bus may have."""
    protocol = case.option.new_protocol
    least, most = LEAST_SUPPLY.get(protocol), MOST_SUPPLY.get(protocol)
    if (least is None or source_v >= least.value - SLACK) and (most is None or source_v <= most.value + SLACK):
        return None
    bound = next(one for one in (least, most) if one is not None)
    return fails(
        "supply", f"{case.sources[0].key} gives {say(source_v, 'V')}, which {protocol} may not have.", bound.source
    )


def _feeds_too_much(case: Case, source_v: float, watt: float) -> Finding | None:
    """Return a fail where more is drawn, or could be fed by a source of this rating, than the bus may be fed with."""
    most = MOST_SOURCE.get(case.option.new_protocol)
    if most is None or watt <= most.value * source_v + SLACK:
        return None
    amps = watt / source_v
    why = f"{case.sources[0].key} may feed {say(amps, 'A')}, {say(most.value, 'A')} allowed on {case.option.new_protocol}."
    return Finding(
        rule="supply",
        outcome=Outcome.FAIL,
        why=why,
        measured=amps,
        limit=most.value,
        unit="A",
        margin=most.value - amps,
        source=most.source,
    )


def _cautioned(finding: Finding, volts: float, volt_amperes: float) -> Finding:
    """Call a pass close where the source is more than a power-limited circuit of Class 2 may be."""
    over = volts > CLASS_2_V.value + SLACK or volt_amperes > CLASS_2_VA.value + SLACK
    if not over or finding.outcome not in (Outcome.PASS, Outcome.CLOSE):
        return finding
    caution = f"{say(volts, 'V')} and {say(volt_amperes, 'VA')} exceed Class 2 (30 V, 100 VA): ask a licensed person."
    return Finding(
        rule=finding.rule,
        outcome=Outcome.CLOSE,
        why=f"{finding.why} {caution}",
        measured=finding.measured,
        limit=finding.limit,
        unit=finding.unit,
        margin=finding.margin,
        source=f"{finding.source}; {CLASS_2_SOURCE}",
    )


def judge_current(case: Case) -> Finding:
    """Tell whether conductors and connector contacts carry their current."""
    early = _no_feed("current", case)
    if early is not None:
        return early
    feed = case.feeding
    if feed.state is PowerState.NO_OPERATING_POINT or not feed.source_v:
        what = "the current has no limit" if feed.source_v else _no_voltage(case)
        return fails("current", f"There is no operating point: {what}.", PRACTICE)
    missing = () if feed.known else _power_missing(case)
    found = [one for wire in case.wires for one in _carries(case, wire)]
    if found:
        what, amps, limit, source = max(found, key=lambda one: one[1] / one[2] if one[2] else math.inf)
        return _in_drops(case, at_most("current", what, (amps, limit), "A", case.brief.reserve_pct, source, missing))
    return (
        asks("current", "No run is known well enough.", missing) if missing else passes("current", "No runs.", PRACTICE)
    )


def _in_drops(case: Case, finding: Finding) -> Finding:
    """Ask for the current in each drop where all that is drawn, in the longest one, would be too much for it."""
    drop, most = (table.get(case.option.new_protocol) for table in (DROP, DROP_MOST))
    if drop is None or most is None or finding.outcome not in (Outcome.PASS, Outcome.CLOSE) or not case.branched:
        return finding
    amps = case.feeding.source_a
    if amps * case.longest_stub_m <= drop.value + SLACK and amps <= most.value + SLACK:
        return finding
    why = f"{finding.why} Drops of {say(case.longest_stub_m, 'm')} may not carry the {say(amps, 'A')} that is drawn in all."
    return asks("current", why, (f"Current in each drop of {case.segment}",), f"{drop.source}; {most.source}")


def _carries(case: Case, wire: Wire) -> Iterator[tuple[str, float, float, str]]:
    """Yield what carries the current of a run, how much that is, how much it may be [A], and who says so."""
    amps = case.amps_in(wire)
    amps = abs(amps) if amps == amps else 0.0  # noqa: PLR0124 - NaN: no run leads there from the source
    if wire.area_mm2 is not None and wire.power_pairs:
        limit = wire.area_mm2 * DENSITY.value
        yield f"Conductor of run {wire.key}", amps / wire.power_pairs, limit, DENSITY.source
    section = section_limit(case.option.new_protocol, has_leads=bool(case.patch))
    if section is not None:
        yield f"Run {wire.key}", amps, section.value, section.source
    for lead in case.patch if wire.leads else ():
        for what, count, limit, source in lead_limits(case.option.new_protocol, lead):
            yield f"{what} on run {wire.key}", amps / count, limit, source


def section_limit(protocol: str, *, has_leads: bool) -> Limit | None:
    """Return the most that a whole run may carry, None where nothing bounds it.

    On a bus of plugs and sockets each end of a run has one; without a patch lead the run itself has.
    """
    return SECTION.get(protocol) if has_leads else CONNECTOR.get(protocol, SECTION.get(protocol))


def lead_limits(protocol: str, lead: Cable | None) -> Iterator[tuple[str, int, float, str]]:
    """Yield what carries the current of a patch lead, over how many it is shared, how much one may carry [A], and who says so."""
    count = None if lead is None else lead.power_pairs
    if lead is None or not count:
        return
    limit, source = contact_limit(protocol, count)
    yield "RJ45 contact", count, limit, source
    area = area_mm2(lead)
    if area is not None:
        yield "Conductor of the patch lead", count, area * DENSITY.value, DENSITY.source


def contact_limit(protocol: str, contacts: int) -> tuple[float, str]:
    """Return what one contact of a lead may carry [A] where so many carry power, and who says so.

    Examples
    --------
    >>> contact_limit("CAN over RJ45 (NMRA S-9.7.1.1)", 2)
    (0.25, 'NMRA S-9.7.1.1: 0.5 A a connector')
    >>> contact_limit("CAN with 24 V pair", 2)
    (0.75, 'IEC 60603-7, from memory')

    """
    connector = CONNECTOR.get(protocol)
    if connector is not None and connector.value / contacts < CONTACT.value:
        return connector.value / contacts, connector.source
    return CONTACT.value, CONTACT.source
