"""Where the end resistors of a bus are after a change: built in, switched on, put in, and which must be switched off."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import networkx as nx

from inventory.core.catalogue import EndsBus
from planner.core.circuits import Stretch

ONE_END, BOTH_ENDS = 1, 2


class How(StrEnum):
    """What becomes of an end resistor."""

    BUILT_IN = "built in"
    ON = "switched on"
    OFF = "switched off"
    PUT_IN = "put in"


@dataclass(frozen=True, slots=True, kw_only=True)
class EndResistor:
    """One end resistor at one node."""

    node: str
    how: How

    @property
    def works(self) -> bool:
        """Tell whether it is in circuit."""
        return self.how is not How.OFF


def merged(model: EndsBus | None, own: EndsBus | None) -> EndsBus | None:
    """Return what a unit that stays has, from its model and its own row: where the two disagree it can be changed."""
    if model is None or own is None:
        return own if model is None else model
    return model if model == own else EndsBus.SWITCH


def end_resistors(
    nodes: Mapping[str, EndsBus | None],
    stretches: tuple[Stretch, ...],
    ends: int | None,
    root: str | None,
    *,
    put_in: bool = False,
) -> tuple[EndResistor, ...]:
    """Return the end resistors after a change, by node; none where it is not known where the line ends.

    Parameters
    ----------
    nodes : mapping
        What each node has built in afterwards; None not known.
    stretches : tuple of Stretch
        The runs.
    ends : int or None
        How many the new bus wants; None where that is not known.
    root : str or None
        The gateway. A single end resistor is put as far from it as the line goes.
    put_in : bool
        Whether end resistors are put in: a single one then goes there, whatever can be switched on elsewhere.

    Examples
    --------
    >>> run = Stretch(key="R", ends=("G", "S"), length_m=40.0, cable=None)
    >>> found = end_resistors({"G": EndsBus.SWITCH, "S": EndsBus.NO}, (run,), 2, "G")
    >>> [(one.node, one.how.value) for one in found]
    [('G', 'switched on'), ('S', 'put in')]

    """
    wanted = _wanted(nodes, stretches, ends, root, put_in=put_in)
    if wanted is None:
        return ()
    found = {node: _how(nodes[node]) for node in wanted}
    found |= {node: How.BUILT_IN for node, own in nodes.items() if own is EndsBus.YES}
    found |= {node: How.OFF for node, own in nodes.items() if own is EndsBus.SWITCH and node not in wanted}
    return tuple(EndResistor(node=node, how=found[node]) for node in sorted(found))


def _how(own: EndsBus | None) -> How:
    return {EndsBus.YES: How.BUILT_IN, EndsBus.SWITCH: How.ON}.get(own or EndsBus.NO, How.PUT_IN)


def _wanted(
    nodes: Mapping[str, EndsBus | None],
    stretches: tuple[Stretch, ...],
    ends: int | None,
    root: str | None,
    *,
    put_in: bool,
) -> tuple[str, ...] | None:
    """Return the nodes where an end resistor must work, None where that cannot be told."""
    if ends is None:
        return None
    if ends == 0:
        return ()
    trunk = trunk_ends(stretches)
    if trunk is None or not set(trunk) <= nodes.keys():
        return None
    if ends == BOTH_ENDS:
        return trunk
    return (_single(nodes, trunk, root, put_in=put_in),) if ends == ONE_END else None


def _single(nodes: Mapping[str, EndsBus | None], trunk: tuple[str, str], root: str | None, *, put_in: bool) -> str:
    """Return where the one end resistor works: where it is built in, else where one can be switched on, else far off."""
    rank = {EndsBus.YES: 0, EndsBus.SWITCH: 1}
    far = sorted(trunk, key=lambda node: (node == root, node))
    able = sorted(
        (rank[own], node not in far, node == root, node)
        for node, own in nodes.items()
        if own in rank and own is not None
    )
    is_far = bool(able) and able[0][1:3] == (False, False)
    is_fixed = bool(able) and able[0][0] == rank[EndsBus.YES]
    return able[0][-1] if able and (is_fixed or is_far or not put_in) else far[0]


def trunk_ends(stretches: tuple[Stretch, ...]) -> tuple[str, str] | None:
    """Return the two ends of the longest way through a tree; None for a ring, for pieces, or where lengths are missing.

    A line without branches needs no lengths.

    Examples
    --------
    >>> runs = [("G", "J", 10.0), ("J", "A", 5.0), ("J", "B", 9.0)]
    >>> trunk_ends(tuple(Stretch(key=a + b, ends=(a, b), length_m=m, cable=None) for a, b, m in runs))
    ('B', 'G')

    """
    graph: nx.Graph[str] = nx.Graph()
    for one in stretches:
        graph.add_edge(*one.ends, length_m=one.length_m)
    if not stretches or graph.number_of_edges() != len(stretches) or not nx.is_tree(graph):
        return None
    leaves = sorted(node for node in graph if graph.degree(node) == 1)
    if len(leaves) == BOTH_ENDS:
        return leaves[0], leaves[1]
    if any(one.length_m is None for one in stretches):
        return None
    first = _farthest(graph, leaves[0])
    return tuple(sorted((first, _farthest(graph, first))))  # type: ignore[return-value]  # two of them


def _farthest(graph: "nx.Graph[str]", start: str) -> str:
    far = nx.single_source_dijkstra_path_length(graph, start, weight="length_m")
    return min(far, key=lambda node: (-far[node], node))
