"""One segment as a meter sees it once a way out is done: runs pulled anew, runs left out, nodes gone elsewhere."""

from collections.abc import Iterable, Mapping
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
        Where a whole line is laid anew nobody can say by which runs: the circuit then has none.
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
    stretches: tuple[Stretch, ...] = ()
    if not any(one.what == NEW_LINE for one in done):
        stretches = tuple(
            replace(one, cable=pulled[one.key]) if one.key in pulled else one
            for one in circuit.stretches
            if one.key not in left_out
        )
    return replace(circuit, stretches=stretches)


def gone(changes: Iterable[Change]) -> frozenset[str]:
    """Return the nodes that go to another segment; the wire is joined through where they were."""
    return frozenset(one.about for one in changes if one.what == MOVE)
