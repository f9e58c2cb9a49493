"""One segment as a meter sees it once a way out is done: runs pulled anew or left out, a new line, nodes gone elsewhere."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from inventory.core.catalogue import Cable
from planner.core.changes import LEAVE_OUT, MOVE, NEW_LINE, PULL
from planner.core.circuits import Circuit, Stretch
from planner.core.findings import Change


def rewired(circuit: Circuit, changes: Iterable[Change], cables: Mapping[str, Cable]) -> Circuit:
    """Return a circuit with changes done; its loads are those that it has then.

    Parameters
    ----------
    circuit : Circuit
        The segment as recorded.
    changes : iterable of Change
        Of a way out. A new line takes the place of all runs.
    cables : mapping
        Cables by name, those that are pulled among them.

    Examples
    --------
    >>> runs = (Stretch(key="R1", ends=("G", "A"), length_m=9.0, cable=None),
    ...         Stretch(key="R2", ends=("A", "G"), length_m=7.0, cable=None))
    >>> open_ring = Change(what="leave out", about="R2", words="run R2", price=None)
    >>> [one.key for one in rewired(Circuit(stretches=runs), (open_ring,), {}).stretches]
    ['R1']

    """
    done = tuple(changes)
    pulled = {one.about: cables.get(one.to or "") for one in done if one.what == PULL}
    left_out = {one.about for one in done if one.what == LEAVE_OUT}
    line = next((one for one in done if one.what == NEW_LINE), None)
    if line is not None:
        return replace(circuit, stretches=tuple(_new_runs(line, circuit, cables.get(line.to or ""))))
    stretches = tuple(
        replace(one, cable=pulled[one.key]) if one.key in pulled else one
        for one in circuit.stretches
        if one.key not in left_out
    )
    return replace(circuit, stretches=stretches)


def _new_runs(line: Change, circuit: Circuit, cable: Cable | None) -> Iterator[Stretch]:
    """Yield the runs of a new line from its first node on, with the patch leads at their ends."""
    leads, buses = dict(circuit.leads), {one.bus for one in circuit.stretches}
    for number, (near, far, length_m) in enumerate(line.line, start=1):
        ohms = [leads[end] for end in (near, far) if end in leads]
        yield Stretch(
            key=f"new {number:02d}",
            ends=(near, far),
            length_m=length_m,
            cable=cable,
            bus=next(iter(buses)) if len(buses) == 1 else None,
            lead_ohm=None if None in ohms else sum(ohm for ohm in ohms if ohm is not None),
        )


def gone(changes: Iterable[Change]) -> frozenset[str]:
    """Return the nodes that go to another segment; the wire is joined through where they were."""
    return frozenset(one.about for one in changes if one.what == MOVE)
