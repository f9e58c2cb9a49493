"""The rule about cables: pairs for data and power, impedance, and the sort of cable that lengths hold for."""

import math
from collections.abc import Iterator

from inventory.core.catalogue import Cable, ProtocolRow
from planner.core.findings import Finding
from planner.core.rules.answers import asks, fails, listed, names, passes, say
from planner.core.rules.case import Case
from planner.core.rules.columns import known
from planner.core.rules.options import Option
from planner.core.rules.sorts import sort_doubts
from planner.core.rules.things import cables_in_use, cables_of, methods, no_row, run_words


def judge_cable(case: Case) -> Finding:
    """Tell whether every run and patch lead has the pairs the new bus needs."""
    row = case.row
    if row is None:
        return no_row("cable", case)
    wrong: list[str] = []
    missing = [f"Cable of {run_words(wire)}" for wire in case.wires if wire.cable is None]
    missing += [f"Patch cable of {methods(case)}" for one in case.patch if one is None]
    for cable in cables_of(case.wires):
        for fault, fact in screen_faults(case.option, cable):
            (wrong if fault else missing).append(fact)
    for cable in cables_in_use(case):
        for fault, fact in (*_data_faults(row, cable), *_power_faults(case, cable), *_of_other_sort(row, cable)):
            (wrong if fault else missing).append(fact)
    if wrong:
        return fails("cable", f"{names(wrong)}.", row.source)
    missing += case.silent
    if missing:
        return asks("cable", f"Not known: {listed(missing)}.", missing, row.source)
    return passes("cable", f"Every run has the pairs that {row.protocol} needs.", row.source)


def screen_faults(option: Option, cable: Cable) -> Iterator[tuple[bool, str]]:
    """Yield what is wrong (True) or not known (False) about the screen of a cable in the wall on which a signal lands."""
    if not option.on_screen or cable.screened:
        return
    if cable.screened is None:
        yield False, f"Screen of cable {cable.key}"
    else:
        yield True, f"{cable.key} has no screen, on which {names(option.on_screen)} lands"


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


def _of_other_sort(row: ProtocolRow, cable: Cable) -> Iterator[tuple[bool, str]]:
    """Yield what is not known where lengths differ by the sort of cable, and may be less for this one."""
    for fact in sort_doubts(row, cable):
        yield False, fact


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
