"""Rules about the wires: layout, length, stubs, ends. Limits come from the protocol's row."""

import math
from collections.abc import Sequence

from inventory.core.catalogue import Layout, NodeKind, ProtocolRow
from inventory.core.limits import FAR_END, MIXED_SOURCE, TAP
from inventory.core.snapshot import ENDS_SWITCH, ENDS_YES, UNKNOWN
from planner.core.findings import Finding, Outcome
from planner.core.rules.answers import SLACK, asks, at_most, fails, names, passes, say, worst
from planner.core.rules.case import Case
from planner.core.rules.copper import conductors_missing, on_thin_wire
from planner.core.rules.sorts import times_longer
from planner.core.rules.things import lengths_missing, no_limit, no_row, speaking

BOTH_ENDS = 2
SHARED = 2  # branches from which on a tap is shared


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
    found += _mixed(case, row, missing)
    return on_thin_wire(case, row, worst(found)) if found else no_limit("length", case, "Longest bus")


def _mixed(case: Case, row: ProtocolRow, missing: Sequence[str]) -> list[Finding]:
    """Judge a trunk that is of two sorts of cable; how much of the thinner one is on branches nobody tells apart."""
    times, limit = times_longer(row), row.longest_bus_m
    if times is None or limit is None or case.thin_m == 0:
        return []
    if math.isnan(case.thin_m):
        missing = (*missing, *conductors_missing(case), *lengths_missing(case))
    thin_m = 0.0 if math.isnan(case.thin_m) else case.thin_m
    what = f"Trunk, of which {say(thin_m, 'm')} thin cable that counts {say(times)} times,"
    longer = case.trunk_m + (times - 1) * thin_m
    found = at_most("length", what, (longer, limit), "m", case.brief.reserve_pct, MIXED_SOURCE, missing)
    if found.outcome is Outcome.FAIL and case.branched and case.trunk_m <= limit + SLACK:
        return [asks("length", found.why, (f"How much thin cable is in the trunk of {case.segment}",), MIXED_SOURCE)]
    return [found]


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
    return _tapped(case, row, worst(found) if found else _unbounded(row))


def _unbounded(row: ProtocolRow) -> Finding:
    return passes("stubs", f"{row.protocol} sets no limit on record.", row.source)


def _tapped(case: Case, row: ProtocolRow, finding: Finding) -> Finding:
    """Ask where several branches may share a tap that allows each less the more they are."""
    limit = TAP.get(row.protocol)
    if limit is None or finding.outcome not in (Outcome.PASS, Outcome.CLOSE) or case.taps < SHARED:
        return finding
    if case.longest_stub_m * case.taps <= limit.value + SLACK:
        return finding
    each = say(limit.value / case.taps, "m")
    why = f"{finding.why} A tap has {case.taps} branches, each of which may be {each}; the longest is {say(case.longest_stub_m, 'm')}."
    return asks("stubs", why, (f"Longest branch at the tap with {case.taps} branches on {case.segment}",), limit.source)


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
    if (row.ends == BOTH_ENDS or is_at_an_end(row)) and (case.silent or (case.branched and not case.lengths_known)):
        return asks("ends", "Where the trunk ends is not known.", lengths_missing(case), row.source)
    return _ends(Outcome.PASS, case, _ends_met(row), row.ends)


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


def _ends_met(row: ProtocolRow) -> str:
    if is_at_an_end(row) and not is_at_far_end(row):
        return "One end resistor at an end of the trunk, as it must be; at which one, the bus's own document says."
    said = {0: "No end resistor, as it must be.", 1: "One end resistor, as it must be."}
    return said.get(row.ends or 0, "An end resistor at both ends of the trunk and no more.")


def _ends_found(case: Case, ends: int, fixed: list[int], silent: list[int]) -> str | None:
    """Return what is wrong with the end resistors even if what is not known is as wished; None where nothing is."""
    if len(fixed) > ends:
        where = names(case.members[place].key for place in fixed)
        return f"{len(fixed)} end resistors that cannot be taken out ({where}), {ends} allowed."
    if ends == 0:
        return None
    able = {place for place, member in enumerate(case.members) if member.ends in (ENDS_YES, ENDS_SWITCH)} | set(silent)
    if ends == 1 and not able and "end resistor" not in case.extras:
        return "No end resistor on the segment, one needed."
    if case.silent or (case.branched and not case.lengths_known):
        return None
    return _WHERE[_place_of(case.row)](case, fixed, able)


def _place_of(row: ProtocolRow | None) -> str:
    """Return where the end resistors of a bus belong."""
    if row is None or row.ends != 1:
        return "both ends"
    return "far end" if is_at_far_end(row) else "an end" if is_at_an_end(row) else "anywhere"


def is_at_far_end(row: ProtocolRow | None) -> bool:
    """Tell whether the one end resistor of a bus belongs at the end of its line that is not the gateway's."""
    return row is not None and row.ends == 1 and row.protocol in FAR_END


def is_at_an_end(row: ProtocolRow | None) -> bool:
    """Tell whether the one end resistor of a bus belongs at an end: on every bus that is to be a line (common practice)."""
    return row is not None and row.ends == 1 and (row.layout is Layout.LINE or is_at_far_end(row))


def _an_end(case: Case, fixed: list[int], able: set[int]) -> str | None:
    ends = [place for place in dict.fromkeys(case.trunk_ends) if place != UNKNOWN]
    middle = names(case.members[place].key for place in fixed if place not in ends)
    if middle:
        return f"{middle} has an end resistor built in and is at no end of the trunk."
    if ends and able.isdisjoint(ends) and "end resistor" not in case.extras:
        return f"No end resistor at {names(case.members[place].key for place in ends)}, the ends of the trunk."
    return None


def _far_end(case: Case, fixed: list[int], able: set[int]) -> str | None:
    ends = [place for place in dict.fromkeys(case.trunk_ends) if place != UNKNOWN]
    far = [place for place in ends if case.members[place].kind is not NodeKind.GATEWAY]
    if not ends:
        return None
    if case.gateways and len(far) == len(ends):
        gateways = names(one.key for one in case.gateways)
        return f"{gateways} is at no end of the trunk, so that one end resistor leaves an end bare."
    if any(place not in far for place in fixed):
        near = names(case.members[place].key for place in fixed if place not in far)
        return f"{near} has an end resistor built in and is not at the far end of the trunk."
    if able.isdisjoint(far) and "end resistor" not in case.extras:
        return f"No end resistor at {names(case.members[place].key for place in far)}, the far end of the trunk."
    return None


def _both_ends(case: Case, fixed: list[int], able: set[int]) -> str | None:
    middle = [case.members[place].key for place in fixed if place not in case.trunk_ends]
    if middle:
        verbs = ("has", "is") if len(middle) == 1 else ("have", "are")
        return f"{names(middle)} {verbs[0]} an end resistor built in and {verbs[1]} not at an end of the trunk."
    bare = [place for place in case.trunk_ends if place not in able and place != UNKNOWN]
    if bare and "end resistor" not in case.extras:
        return f"No end resistor at {names(case.members[place].key for place in bare)}, an end of the trunk."
    return None


def _anywhere(_case: Case, _fixed: list[int], _able: set[int]) -> str | None:
    return None


_WHERE = {"both ends": _both_ends, "far end": _far_end, "an end": _an_end, "anywhere": _anywhere}
