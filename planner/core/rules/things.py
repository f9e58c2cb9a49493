"""How rules call things, and what they ask for in the same words: runs, methods, cables, limits that are not on record."""

from collections.abc import Iterable

from inventory.core.catalogue import Cable
from planner.core.findings import Finding
from planner.core.rules.answers import asks, names
from planner.core.rules.case import Case, Wire
from planner.core.rules.columns import known


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


def cables_in_use(case: Case) -> list[Cable]:
    """Return the known kinds of cable of runs and patch leads, each once, by name."""
    kinds = {one.key: one for one in (*(wire.cable for wire in case.wires), *case.patch) if one is not None}
    return [kinds[key] for key in sorted(kinds)]


def cables_of(wires: Iterable[Wire]) -> list[Cable]:
    """Return the known kinds of cable of some runs, each once, by name."""
    kinds = {wire.cable.key: wire.cable for wire in wires if wire.cable is not None}
    return [kinds[key] for key in sorted(kinds)]


def speaking(case: Case) -> int:
    """Return how many nodes are on the data pair."""
    return sum(not member.passive for member in case.members)
