"""What the lines of a gateway that stay as they are draw from it, as bounds: nobody solves a line that is not converted.

At the least it is what their equipment draws. At the most it is that with the losses in all of their wire, and at a
voltage no higher than the lowest that the equipment works at, nor than half of the source's: below that nothing stands.
"""

import numpy as np
from numpy.typing import NDArray

from planner.core.campus import Campus
from planner.core.grouped import spread
from planner.core.rules.columns import cable_ohm_per_m, model_columns
from planner.core.sides import Longs

Floats = NDArray[np.float64]


def carries_power(campus: Campus) -> NDArray[np.int8]:
    """Return for each protocol by its code whether its bus carries power: 0 no, 1 nobody says, 2 yes; the last row for none."""
    _, names = campus.protocols_now
    said: dict[str, set[bool | None]] = {name: set() for name in names}
    for row in campus.snapshot.catalogue.protocols:
        said.get(row.protocol, set()).add(row.power_on_bus)
    return np.array([*(2 if True in some else 0 if some == {False} else 1 for some in said.values()), 1], dtype=np.int8)


def drawn_w(campus: Campus, labels: Longs, source_v: Floats) -> tuple[Floats, Floats]:
    """Return the least and the most that each of some segments draws from a gateway of so many volts [W].

    The most is infinite where a draw is not known. Where something else may feed the segment the least is 0.
    """
    carries = carries_power(campus)[campus.protocols_now[0][labels]]
    load, others = _loads(campus, labels)
    half = source_v / 2
    volts = np.fmax(np.nan_to_num(_lowest_v(campus, labels), nan=0.0), half)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        amps = load / volts
        most = np.fmin(load + amps**2 * _ohm(campus, labels), np.maximum(amps * source_v, load))
    most = np.where(np.isnan(most), np.inf, most)
    most[load == 0] = 0.0
    least = np.where((carries == 2) & (others == 0) & np.isfinite(load), load, 0.0)  # noqa: PLR2004 - the code for yes
    return least, np.where(carries > 0, most, 0.0)


def _loads(campus: Campus, labels: Longs) -> tuple[Floats, Longs]:
    """Return what the equipment of segments draws [W], infinite where a draw is not known, and how many supplies feed them."""
    columns = model_columns(campus.snapshot.catalogue)
    sides, which, _ = spread(campus.segments.first_side, labels)
    model = campus.snapshot.nodes.model[campus.segments.side_node[sides]]
    draw = np.where(columns.feeds[model], 0.0, columns.draw_w[model])
    load: Floats = np.bincount(which, weights=np.where(np.isnan(draw), np.inf, draw), minlength=len(labels)).astype(
        np.float64
    )
    supply = columns.feeds[model] & ~columns.gateway[model]
    return load, np.bincount(which[supply], minlength=len(labels)).astype(np.int64)


def _lowest_v(campus: Campus, labels: Longs) -> Floats:
    """Return the lowest voltage that equipment of segments which draws works at, NaN where one is not known."""
    columns = model_columns(campus.snapshot.catalogue)
    sides, which, _ = spread(campus.segments.first_side, labels)
    model = campus.snapshot.nodes.model[campus.segments.side_node[sides]]
    draws = ~columns.feeds[model] & (columns.draw_w[model] != 0)
    found = np.full(len(labels), np.inf)
    np.minimum.at(found, which[draws], np.nan_to_num(columns.lowest_v[model[draws]], nan=0.0))
    return np.where(np.isinf(found) | (found == 0), np.nan, found)


def _ohm(campus: Campus, labels: Longs) -> Floats:
    """Return the resistance of all wire of segments, there and back [ohm]; NaN where it is not known."""
    segments, snapshot = campus.segments, campus.snapshot
    wires, which, _ = spread(segments.first_wire, labels)
    run = segments.run[wires]
    length = snapshot.runs.length_m[run].astype(np.float64)
    length = np.where((length >= 0) & (length < np.inf), length, np.nan)
    each = length * cable_ohm_per_m(snapshot.catalogue, campus.brief.conductor_c)[snapshot.runs.cable[run]]
    ohm = np.bincount(which, weights=each, minlength=len(labels)).astype(np.float64)
    return np.where((segments.pieces[labels] == 1) & (np.bincount(which, minlength=len(labels)) > 0), ohm, np.nan)


def missing_of(campus: Campus, label: int) -> tuple[str, ...]:
    """Return in words what would tell better what a segment draws."""
    snapshot, segments = campus.snapshot, campus.segments
    columns = model_columns(snapshot.catalogue)
    found = set[str]()
    for node in segments.side_node[segments.first_side[label] : segments.first_side[label + 1]].tolist():
        place = int(snapshot.nodes.model[node])
        if place < 0:
            found.add(f"Model of {snapshot.nodes.key[node]}")
        elif not columns.feeds[place] and np.isnan(columns.draw_w[place]):
            found.add(f"Draw of model {snapshot.catalogue.models[place].key}")
        elif not columns.feeds[place] and columns.draw_w[place] > 0 and np.isnan(columns.lowest_v[place]):
            found.add(f"Lowest supply of model {snapshot.catalogue.models[place].key}")
    one = np.array([label])
    if np.isnan(_ohm(campus, one)[0]):
        found.add(f"Length and cable of every run on {segments.key[label]}")
    if carries_power(campus)[campus.protocols_now[0][label]] == 1:
        found.add(f"Power on bus of protocol {campus.protocols[label]}")
    return tuple(sorted(found)) or (f"What feeds {segments.key[label]}",)
