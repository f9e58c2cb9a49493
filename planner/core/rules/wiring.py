"""Rules about the wires: layout, length, stubs, ends, cable. Limits come from the protocol's row."""

import math
from collections.abc import Iterator

from inventory.core.catalogue import Cable, Layout, ProtocolRow
from inventory.core.snapshot import ENDS_SWITCH, ENDS_YES, UNKNOWN
from planner.core.findings import Finding, Outcome
from planner.core.rules.answers import SLACK, asks, at_most, fails, listed, names, passes, say, worst
from planner.core.rules.case import Case, Wire
from planner.core.rules.columns import area_mm2, known

BOTH_ENDS = 2
# Standards whose farthest pair is bounded by what the conductors drop: metres for each mm2 (IEC 62386-101 guidance:
# 300 m at 1.5 mm2).
M_PER_MM2 = {"DALI (IEC 62386)": 200.0}
# How far a device may be from the supply [m]: any line that is no longer keeps it (ISO/IEC 14543-3-6, from memory).
SUPPLY_REACH_M = {"KNX TP1": 350.0}


def no_row(rule: str, case: Case) -> Finding:
    """Return the answer of a rule whose protocol has no limits on record."""
    missing = (f"Limits of protocol {case.option.new_protocol} at the bit rate of {methods(case)}",)
    return asks(rule, f"The limits of {case.option.new_protocol} are not on record.", missing)


def no_limit(rule: str, case: Case, what: str) -> Finding:
    """Return the answer of a rule about which the protocol's row is silent: not known is not the same as no limit."""
    assert case.row is not None  # noqa: S101 - the callers looked
    protocol = case.row.protocol
    why = f"The limits of {protocol} on record say nothing about this."
    return asks(rule, why, (f"{what} of protocol {protocol}",), case.row.source)


def methods(case: Case) -> str:
    """Return the names of the methods."""
    return names(method.key for method in case.option.methods)


def run_words(wire: Wire) -> str:
    """Return a run as a surveyor looks for it."""
    return f"run {wire.key} ({'Bus ' + wire.bus if wire.bus else 'bus not known'})"


def lengths_missing(case: Case) -> tuple[str, ...]:
    """Return the lengths and runs that nobody recorded."""
    if case.lengths_known and not case.silent:
        return ()
    found = [f"Length of {run_words(wire)}" for wire in case.wires if wire.length_m is None]
    leads = [
        f"Patch lead of method {method.key}"
        for method in case.option.methods
        if method.patch_cable is not None and known(method.patch_lead_m) is None
    ]
    return (*found, *leads, *case.silent) or (f"Length of every run on {case.segment}",)


def judge_layout(case: Case) -> Finding:
    """Tell whether the wiring has a layout the new protocol allows."""
    row = case.row
    if row is None:
        return no_row("layout", case)
    if row.layout is None:
        return no_limit("layout", case, "Layout")
    if row.layout is Layout.ANY:
        return passes("layout", f"{row.protocol} allows any layout.", row.source)
    return _laid_out(case, row)


def _laid_out(case: Case, row: ProtocolRow) -> Finding:
    """Judge the wiring against a layout that allows no loop."""
    if case.loops > 0:
        closed = "a loop" if case.loops == 1 else f"{case.loops} loops"
        return fails("layout", f"The runs close {closed}; {row.protocol} allows a {row.layout}.", row.source)
    if case.silent:
        return asks("layout", "How some nodes are wired is not recorded.", case.silent, row.source)
    if row.layout is Layout.LINE and case.branched:
        return _stubs_allowed(case)
    return passes("layout", f"The wiring is a {'line' if not case.branched else 'tree'}, as allowed.", row.source)


def _stubs_allowed(case: Case) -> Finding:
    assert case.row is not None  # noqa: S101 - the caller looked
    row = case.row
    if row.longest_stub_m is None and row.all_stubs_m is None and row.less_per_stub_m is None:
        missing = (f"Longest stub of protocol {case.row.protocol}",)
        return asks("layout", "The line has branches, and how long a stub may be is not on record.", missing)
    why = f"One trunk with {say(case.all_stubs_m, 'm')} of stubs."
    return passes("layout", why, case.row.source)


def judge_length(case: Case) -> Finding:
    """Tell whether trunk, farthest pair and all wire are short enough."""
    row = case.row
    if row is None:
        return no_row("length", case)
    missing = lengths_missing(case)
    bound = too_many_loops(case)
    limits = (
        (f"Trunk{bound}", case.trunk_m, _budget_m(case)),
        (f"Farthest pair{bound}", case.trunk_m, row.farthest_pair_m),
        ("All wire", case.total_m, row.total_wire_m),
    )
    found = [
        at_most("length", what, (measured, limit), "m", case.brief.reserve_pct, row.source, missing)
        for what, measured, limit in limits
        if limit is not None
    ]
    return _reached(case, row, worst(found)) if found else no_limit("length", case, "Longest bus")


def _reached(case: Case, row: ProtocolRow, finding: Finding) -> Finding:
    """Ask where the supply stands on a line that is long enough to put a device out of its reach."""
    reach_m = SUPPLY_REACH_M.get(row.protocol, math.inf)
    if finding.outcome not in (Outcome.PASS, Outcome.CLOSE) or case.trunk_m <= reach_m + SLACK:
        return finding
    why = f"{finding.why} A device may be {say(reach_m, 'm')} from the supply, and how far it is was not looked at."
    missing = (f"Longest way from the supply to a device on {case.segment}",)
    return asks("length", why, missing, f"{row.source}; {say(reach_m, 'm')} to the supply from memory")


def too_many_loops(case: Case) -> str:
    """Say that all wire stands for a length, where the runs close too many loops to look for the longest way."""
    return f" (at most: all wire, since {case.loops} loops are too many to search)" if case.bounded else ""


def _budget_m(case: Case) -> float | None:
    """Return the longest trunk, less what the protocol takes off for nodes and stubs [m]."""
    row = case.row
    if row is None or row.longest_bus_m is None:
        return None
    nodes = (row.less_per_node_m or 0.0) * speaking(case)
    return max(row.longest_bus_m - nodes - (row.less_per_stub_m or 0.0) * case.all_stubs_m, 0.0)


def speaking(case: Case) -> int:
    """Return how many nodes are on the data pair."""
    return sum(not member.passive for member in case.members)


def judge_stubs(case: Case) -> Finding:
    """Tell whether the longest stub and the sum of stubs are short enough."""
    row = case.row
    if row is None:
        return no_row("stubs", case)
    if not case.branched and not case.loops and not case.silent:
        return passes("stubs", "No branches off the trunk.", row.source)
    missing = lengths_missing(case)
    bound = too_many_loops(case)
    limits = (
        (f"Longest stub{bound}", case.longest_stub_m, row.longest_stub_m),
        (f"All stubs{bound}", case.all_stubs_m, row.all_stubs_m),
    )
    found = [
        at_most("stubs", what, (measured, limit), "m", case.brief.reserve_pct, row.source, missing)
        for what, measured, limit in limits
        if limit is not None
    ]
    return worst(found) if found else passes("stubs", f"{row.protocol} sets no limit on record.", row.source)


def judge_ends(case: Case) -> Finding:
    """Tell whether end resistors stand where the bus needs them, and nowhere else."""
    row = case.row
    if row is None:
        return no_row("ends", case)
    if row.ends is None:
        return no_limit("ends", case, "End resistors")
    fixed = [place for place, member in enumerate(case.members) if member.ends == ENDS_YES]
    silent = [place for place, member in enumerate(case.members) if member.ends == UNKNOWN]
    best = _ends_found(case, row.ends, fixed, silent)
    if best is not None:
        return _ends(Outcome.FAIL, case, best, len(fixed))
    if silent:
        missing = [f"End resistor of {case.members[place].key}" for place in silent]
        where = names(case.members[place].key for place in silent)
        return asks("ends", f"Whether an end resistor is built in at {where} is not known.", missing, row.source)
    if row.ends == BOTH_ENDS and (case.silent or (case.branched and not case.lengths_known)):
        return asks("ends", "Where the trunk ends is not known.", lengths_missing(case), row.source)
    return _ends(Outcome.PASS, case, _ends_met(row.ends), row.ends)


def _ends(outcome: Outcome, case: Case, why: str, measured: int) -> Finding:
    assert case.row is not None  # noqa: S101 - the caller looked
    assert case.row.ends is not None  # noqa: S101 - the caller looked
    limit = case.row.ends
    return Finding(
        rule="ends",
        outcome=outcome,
        why=why,
        measured=float(measured),
        limit=float(limit),
        unit="end resistors",
        margin=float(limit - measured),
        source=case.row.source,
    )


def _ends_met(ends: int) -> str:
    said = {0: "No end resistor, as it must be.", 1: "One end resistor, as it must be."}
    return said.get(ends, "An end resistor at both ends of the trunk and no more.")


def _ends_found(case: Case, ends: int, fixed: list[int], silent: list[int]) -> str | None:
    """Return what is wrong with the end resistors even if what is not known is as wished; None where nothing is."""
    if len(fixed) > ends:
        where = names(case.members[place].key for place in fixed)
        return f"{len(fixed)} end resistors that cannot be taken out ({where}), {ends} allowed."
    if ends == 0:
        return None
    able = {place for place, member in enumerate(case.members) if member.ends in (ENDS_YES, ENDS_SWITCH)} | set(silent)
    if ends == 1:
        return None if able or "end resistor" in case.extras else "No end resistor on the segment, one needed."
    if case.silent or (case.branched and not case.lengths_known):
        return None
    return _both_ends(case, fixed, able)


def _both_ends(case: Case, fixed: list[int], able: set[int]) -> str | None:
    middle = [case.members[place].key for place in fixed if place not in case.trunk_ends]
    if middle:
        verbs = ("has", "is") if len(middle) == 1 else ("have", "are")
        return f"{names(middle)} {verbs[0]} an end resistor built in and {verbs[1]} not at an end of the trunk."
    bare = [place for place in case.trunk_ends if place not in able and place != UNKNOWN]
    if bare and "end resistor" not in case.extras:
        return f"No end resistor at {names(case.members[place].key for place in bare)}, an end of the trunk."
    return None


def judge_cable(case: Case) -> Finding:
    """Tell whether every run and patch lead has the pairs the new bus needs."""
    row = case.row
    if row is None:
        return no_row("cable", case)
    wrong: list[str] = []
    missing = [f"Cable of {run_words(wire)}" for wire in case.wires if wire.cable is None]
    missing += [f"Patch cable of {methods(case)}" for one in case.patch if one is None]
    for cable in cables_in_use(case):
        for fault, fact in (*_data_faults(row, cable), *_power_faults(case, cable), *_too_thin(row, cable)):
            (wrong if fault else missing).append(fact)
    if wrong:
        return fails("cable", f"{names(wrong)}.", row.source)
    missing += case.silent
    if missing:
        return asks("cable", f"Not known: {listed(missing)}.", missing, row.source)
    return passes("cable", f"Every run has the pairs that {row.protocol} needs.", row.source)


def _data_faults(row: ProtocolRow | None, cable: Cable) -> Iterator[tuple[bool, str]]:
    """Yield what is wrong (True) or not known (False) about the data pairs of a cable.

    A category alone is not taken for an impedance: what the record says must never look worse than what it leaves out.
    """
    pairs, ohms = cable.data_pairs, known(cable.impedance_ohm)
    low, high = (None, None) if row is None else (row.lowest_impedance_ohm, row.highest_impedance_ohm)
    if pairs is None:
        yield False, f"Data pairs of cable {cable.key}"
    elif pairs < 1:
        yield True, f"{cable.key} has no data pair"
    if low is None and high is None:
        return
    if ohms is None and pairs != 0:
        yield False, f"Impedance of cable {cable.key}"
    elif ohms is not None and not (low or 0.0) <= ohms <= (math.inf if high is None else high):
        yield True, f"{cable.key} has {say(ohms, 'ohm')}, {_range_words(low, high)} fit"


def _too_thin(row: ProtocolRow, cable: Cable) -> Iterator[tuple[bool, str]]:
    """Yield what is not known where conductors may be thinner than those that the farthest pair on record holds for.

    Shorter lines on thinner wire are allowed, but how long they may be is not on record: it is asked for, never reckoned.
    """
    per_mm2 = M_PER_MM2.get(row.protocol)
    if per_mm2 is None or row.farthest_pair_m is None:
        return
    area = known(area_mm2(cable))
    if area is None:
        yield False, f"Power conductor of cable {cable.key}"
    elif area * per_mm2 < row.farthest_pair_m:
        least = say(row.farthest_pair_m / per_mm2, "mm2")
        yield False, f"Longest line of {row.protocol} on cable {cable.key}, thinner than {least}"


def _range_words(low: float | None, high: float | None) -> str:
    if high is None:
        return f"{say(low or 0.0, 'ohm')} and more"
    return f"{say(low or 0.0)} to {say(high, 'ohm')}"


def _power_faults(case: Case, cable: Cable) -> Iterator[tuple[bool, str]]:
    """Yield what is wrong (True) or not known (False) about the power pairs of a cable."""
    if not case.is_fed or not needs_power(case):
        return
    pairs = cable.power_pairs
    if pairs is None:
        yield False, f"Power pairs of cable {cable.key}"
    elif pairs < 1:
        yield True, f"{cable.key} has no pair for power"


def needs_power(case: Case) -> bool:
    """Tell whether anything on the segment draws from the bus, as far as anyone knows."""
    return any(case.loads(member) != 0 for member in case.members)


def cables_in_use(case: Case) -> list[Cable]:
    """Return the known kinds of cable of runs and patch leads, each once, by name."""
    kinds = {one.key: one for one in (*(wire.cable for wire in case.wires), *case.patch) if one is not None}
    return [kinds[key] for key in sorted(kinds)]
