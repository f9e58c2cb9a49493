"""One segment as an electrical circuit: what a meter reads between two of its nodes, and what would explain a reading."""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array, csc_array, diags_array
from scipy.sparse.linalg import spsolve

from inventory.core.catalogue import Cable
from inventory.core.conductors import loop_ohm, loop_ohm_per_m
from planner.core.edges import Edges, in_order
from planner.core.power import PowerState, solve

WALL_C = 20.0  # at which a loop is measured in a finished building (common practice)
DATA_PAIR = Cable(key="data pair", category="any", power_pairs=1)  # taken as no thinner than a category cable's
HALVINGS = 60  # of a factor between none and MOST_TIMES: far finer than a meter
MOST_TIMES = 64.0
SAME_V = 1e-3
LEAST_OHM = 1e-9  # of a run of no length: it joins two points
NEAR = 0.25  # a conductor whose resistance is this near (as a share) to what was measured explains it
GAUGES = ("12 AWG", "14 AWG", "16 AWG", "18 AWG", "20 AWG", "22 AWG", "24 AWG", "26 AWG")
AREAS = ("2.5 mm2", "1.5 mm2", "1 mm2", "0.75 mm2", "0.5 mm2", "0.34 mm2", "0.25 mm2", "0.14 mm2")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One run: the nodes at its ends, recorded length and cable, resistance of the patch leads put on it [ohm].

    None is not known. `bus` is the name of its bus.
    """

    key: str
    ends: tuple[str, str]
    length_m: float | None
    cable: Cable | None
    bus: str | None = None
    lead_ohm: float | None = 0.0

    @property
    def words(self) -> str:
        """Return the run as a surveyor looks for it."""
        return f"run {self.key} ({'Bus ' + self.bus if self.bus else 'bus not known'})"

    def loop_ohm(self, temperature_c: float) -> float | None:
        """Return the resistance out and back without patch leads [ohm]."""
        return loop_ohm(self.length_m, self.cable, temperature_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """One segment as it is measured: runs, what feeds it, what it draws.

    source : the node that feeds it, None where none or several could; source_v its voltage [V]. loads : what each
    node draws [W]. ends, end_ohm : end resistors of the new bus and the resistance of each [ohm]. leads : the nodes at
    whose cable ends patch leads go on, with the resistance of each [ohm]. conductor_c : of
    conductors under load. None is not known.
    """

    stretches: tuple[Stretch, ...]
    source: str | None = None
    source_v: float | None = None
    loads: tuple[tuple[str, float], ...] = ()
    ends: int | None = None
    end_ohm: float | None = None
    conductor_c: float = 50.0
    leads: tuple[tuple[str, float | None], ...] = ()

    def way(self, near: str, far: str) -> tuple[Stretch, ...]:
        """Return all runs that can carry current from one node to another; none where no run leads there."""
        return self.ways(near, (far,))[far]

    def ways(self, near: str, fars: Iterable[str]) -> dict[str, tuple[Stretch, ...]]:
        """Return all runs that can carry current from one node to each of some others."""
        between: dict[tuple[str, str], list[Stretch]] = defaultdict(list)
        for stretch in self.stretches:
            between[in_order(stretch.ends)].append(stretch)
        edges = Edges(edge for edge in between if edge[0] != edge[1])
        found: dict[str, tuple[Stretch, ...]] = {}
        for far in fars:
            runs = [stretch for edge in edges.between(near, far) for stretch in between.get(in_order(edge), ())]
            found[far] = tuple(sorted(runs, key=lambda one: one.key))
        return found


def between_ohm(way: tuple[Stretch, ...], near: str, far: str) -> float | None:
    """Return the resistance out and back that a meter reads at one node with the other bridged [ohm].

    Parameters
    ----------
    way : tuple of Stretch
        All runs that lead from one to the other; a ring's two ways are in parallel.
    near, far : str
        Where the meter is, and where the pair is bridged.

    Returns
    -------
    float or None
        None where nothing leads there or a length or cable is not known. At WALL_C, without patch leads.

    References
    ----------
    Kirchhoff's laws: resistances in series add, a ring's two ways r and s make r s / (r + s).

    Examples
    --------
    >>> cable = Cable(key="A", category="6", power_pairs=2)
    >>> ring = tuple(
    ...     Stretch(key=f"R{n}", ends=ends, length_m=100.0, cable=cable)
    ...     for n, ends in enumerate((("G", "S"), ("S", "T"), ("T", "G")))
    ... )
    >>> round(between_ohm(ring, "G", "S"), 3)  # 9.38 ohm beside 18.76 ohm
    6.253

    """
    ohms = [stretch.loop_ohm(WALL_C) for stretch in way]
    known = [ohm for ohm in ohms if ohm is not None]
    if not way or len(known) != len(way):
        return None
    ends = sorted({end for stretch in way for end in stretch.ends})
    place = {end: number for number, end in enumerate(ends)}
    if len(known) == len(ends) - 1:  # one run after another
        return math.fsum(known)
    siemens = np.array([1.0 / max(ohm, LEAST_OHM) for ohm in known])
    tail, head = ([place[stretch.ends[end]] for stretch in way] for end in (0, 1))
    between = coo_array((-siemens, (tail, head)), shape=(len(ends), len(ends))).tocsc()
    between = csc_array(between + between.T)
    matrix = csc_array(between - diags_array(np.asarray(between.sum(axis=1)).ravel()))
    free = [number for number in range(len(ends)) if number != place[far]]
    one_amp = np.array([1.0 if number == place[near] else 0.0 for number in free])
    return float(spsolve(matrix[free][:, free], one_amp)[free.index(place[near])])


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """What would explain a figure: the runs on the way being so long in all, or their conductors being others.

    length_m, recorded_m : wire on the way [m]; conductor, recorded : size of its conductors. None where there is none.
    """

    length_m: float | None = None
    recorded_m: float | None = None
    conductor: str | None = None
    recorded: str | None = None


def explained_by(way: tuple[Stretch, ...], times: float) -> Explained:
    """Return what explains that the runs on a way have so many times the resistance that the records give.

    Examples
    --------
    >>> cable = Cable(key="A", power_conductor="18 AWG", conductor_class="solid", power_pairs=1)
    >>> found = explained_by((Stretch(key="R", ends=("G", "S"), length_m=40.0, cable=cable),), 2.5)
    >>> found.length_m, found.conductor
    (100.0, '22 AWG')

    """
    lengths = [stretch.length_m for stretch in way]
    recorded_m = sum(length for length in lengths if length is not None)
    cables = {stretch.cable for stretch in way}
    cable = cables.pop() if len(cables) == 1 else None
    return Explained(
        length_m=recorded_m * times if way else None,
        recorded_m=recorded_m if way else None,
        conductor=_conductor(cable, times) if cable is not None else None,
        recorded=cable.power_conductor if cable is not None else None,
    )


def _conductor(cable: Cable, times: float) -> str | None:
    """Return the usual conductor whose resistance is so many times that of a cable's, None where none is near."""
    own = loop_ohm_per_m(cable, WALL_C)
    if own is None or cable.power_conductor is None or not 0.0 < times < math.inf:
        return None
    sizes = AREAS if "mm" in cable.power_conductor.casefold() else GAUGES
    found: list[tuple[float, str]] = []
    for size in sizes:
        ohm = loop_ohm_per_m(replace(cable, power_conductor=size, category=None), WALL_C)
        if ohm is not None and (ohm > own) == (times > 1.0):
            found.append((abs(math.log(ohm / (own * times))), size))
    return min(found)[1] if found and min(found)[0] <= math.log1p(NEAR) else None


def length_of_loop_m(way: tuple[Stretch, ...], ohm: float) -> float | None:
    """Return the wire in all that a loop resistance stands for on a way whose cable is one and known [m].

    Examples
    --------
    >>> cable = Cable(key="A", category="6", power_pairs=2)
    >>> round(length_of_loop_m((Stretch(key="R", ends=("G", "S"), length_m=None, cable=cable),), 4.69), 6)
    50.0

    """
    cables = {stretch.cable for stretch in way}
    ends = [end for stretch in way for end in stretch.ends]
    if len(cables) != 1 or None in cables or max(map(ends.count, ends)) > 2:  # noqa: PLR2004 - a chain
        return None
    cable = cables.pop()
    per_m = loop_ohm_per_m(cable, WALL_C) if cable is not None else None
    return ohm / per_m if per_m and len(way) == len(set(ends)) - 1 else None


def times_for_voltage(circuit: Circuit, node: str, volts: float) -> float | None:
    """Return how many times the recorded resistance the runs on the way to a node must have to leave it so many volts.

    Parameters
    ----------
    circuit : Circuit
        With source, loads and every run known.
    node : str
        Where the voltage was measured.
    volts : float
        What was measured there under load [V].

    Returns
    -------
    float or None
        None where a fact is missing, or where no resistance leaves so few volts: below about half the source's
        voltage a constant-power load does not stand.

    References
    ----------
    For one load: R = V (Vs - V) / P, from V^2 - Vs V + P R = 0.

    Examples
    --------
    IEEE 802.3 class 3 (12.95 W from 44 V stands at 37 V behind 20 ohm); with 10 ohm on record the factor is 2.

    >>> cable = Cable(key="A", category="6", power_pairs=2)
    >>> per_m = loop_ohm_per_m(cable, 50.0)
    >>> run = Stretch(key="R", ends=("G", "S"), length_m=10.0 / per_m, cable=cable)
    >>> round(times_for_voltage(Circuit(stretches=(run,), source="G", source_v=44.0, loads=(("S", 12.95),)), "S", 37.0), 6)
    2.0

    """
    way = frozenset(one.key for one in circuit.way(circuit.source, node)) if circuit.source is not None else frozenset()
    if not way or _voltage(circuit, node, way, 1.0) is None:
        return None
    low, high = 0.0, MOST_TIMES
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        found = _voltage(circuit, node, way, middle)
        low, high = (middle, high) if found is not None and found >= volts else (low, middle)
    found = _voltage(circuit, node, way, low)
    return low if found is not None and abs(found - volts) <= SAME_V else None


def voltage_at(circuit: Circuit, node: str) -> float | None:
    """Return the voltage at a node as the records give it [V], None where a fact is missing or nothing stands."""
    return _voltage(circuit, node, (), 1.0)


def voltages(circuit: Circuit) -> dict[str, float]:
    """Return the voltage at every node that the source reaches [V]; nothing where a fact is missing or nothing stands."""
    return _voltages(circuit, (), 1.0)


def _voltage(circuit: Circuit, node: str, way: Collection[str], times: float) -> float | None:
    return _voltages(circuit, way, times).get(node)


def _voltages(circuit: Circuit, way: Collection[str], times: float) -> dict[str, float]:
    """Return the voltages with the runs on the way so many times as long."""
    ohms = _ohms(circuit, way, times)
    if ohms is None or circuit.source is None or circuit.source_v is None:
        return {}
    loads = dict(circuit.loads)
    names = sorted({end for one in circuit.stretches for end in one.ends} | {circuit.source})
    place = {name: number for number, name in enumerate(names)}
    result = solve(
        segment=np.zeros(len(names), dtype=np.int32),
        tail=np.array([place[one.ends[0]] for one in circuit.stretches], dtype=np.int32),
        head=np.array([place[one.ends[1]] for one in circuit.stretches], dtype=np.int32),
        loop_ohm=np.array(ohms),
        source=np.array([place[circuit.source]], dtype=np.int32),
        source_v=np.array([circuit.source_v]),
        load_w=np.array([0.0 if name == circuit.source else loads.get(name, 0.0) for name in names]),
    )
    if result.state[0] != PowerState.SOLVED:
        return {}
    return {name: float(volts) for name, volts in zip(names, result.voltage_v, strict=True) if math.isfinite(volts)}


def _ohms(circuit: Circuit, way: Collection[str], times: float) -> list[float] | None:
    """Return the resistance of each run with its leads, None where one is not known."""
    ohms: list[float] = []
    for one in circuit.stretches:
        ohm = one.loop_ohm(circuit.conductor_c)
        if ohm is None or one.lead_ohm is None:
            return None
        ohms.append(ohm * (times if one.key in way else 1.0) + one.lead_ohm)
    return ohms


def data_pair_ohm(circuit: Circuit) -> float:
    """Return the most that the data pair of all runs together can add, out and back [ohm].

    Nobody records the conductors of the data pair: they are taken as no thinner than those of a category cable
    (TIA-568: 9.38 ohm in 100 m of one conductor). Lengths that are not known add nothing.
    """
    per_m = loop_ohm_per_m(DATA_PAIR, WALL_C) or 0.0
    return per_m * sum(one.length_m or 0.0 for one in circuit.stretches)
