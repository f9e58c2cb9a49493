"""The catalogue as columns, so that whole campuses are looked up at once: one row a model or cable, one more for -1."""

import math
from collections.abc import Container, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Cable, Catalogue, EndsBus, Model, NodeKind
from inventory.core.conductors import ConductorError, cautious_loop_ohm_per_m, parse_conductor

Floats = NDArray[np.float64]
Small = NDArray[np.int8]
Flags = NDArray[np.bool_]

ENDS_CODE = {EndsBus.NO: 0, EndsBus.YES: 1, EndsBus.SWITCH: 2}
CATEGORY_MM2 = 0.2  # 24 AWG, the least that category cable is usually made of (common practice)
FEEDERS = (NodeKind.GATEWAY, NodeKind.PANEL, NodeKind.CONTROLLER, NodeKind.OTHER)  # may feed (common practice)
PASSIVE = (NodeKind.JUNCTION, NodeKind.SUPPLY)  # kinds that say nothing on the data pair


def figure(value: float | None) -> float:
    """Return a figure, NaN where it is not known or cannot be one (below zero, infinite)."""
    return float(value) if value is not None and 0 <= value < math.inf else math.nan


def known(value: float | None) -> float | None:
    """Return a figure, None where it is not known or cannot be one."""
    return float(value) if value is not None and 0 <= value < math.inf else None


def _column(values: Iterable[float | None]) -> Floats:
    return np.array([*(figure(value) for value in values), np.nan], dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelColumns:
    """Facts of all models; NaN or -1 is not known, and so is the last row, which stands for no model."""

    draw_w: Floats
    lowest_v: Floats
    supply_v: Floats
    rating_w: Floats
    unit_loads: Floats
    ends: Small
    gateway: Flags
    passive: Flags
    feeds: Flags


def model_columns(catalogue: Catalogue) -> ModelColumns:
    """Return the models as columns."""
    models = catalogue.models
    return ModelColumns(
        draw_w=_column(model.draw_w for model in models),
        lowest_v=_column(model.lowest_supply_v for model in models),
        supply_v=_column(model.supply_v for model in models),
        rating_w=_column(model.supply_rating_w for model in models),
        unit_loads=_column(model.unit_loads for model in models),
        ends=np.array([*(-1 if m.ends_bus is None else ENDS_CODE[m.ends_bus] for m in models), -1], dtype=np.int8),
        gateway=np.array([*(model.kind is NodeKind.GATEWAY for model in models), False], dtype=bool),
        passive=np.array([*(model.kind in PASSIVE for model in models), False], dtype=bool),
        feeds=np.array([*(feeds(model) for model in models), False], dtype=bool),
    )


def feeds(model: Model) -> bool:
    """Tell whether a model feeds the power pair: a supply, or what may feed and states a voltage or rating.

    Stations, sensors and junctions never do: a supply written down for one is what it needs (common practice).
    """
    states = (known(model.supply_v) or 0) > 0 or (known(model.supply_rating_w) or 0) > 0
    return model.kind is NodeKind.SUPPLY or (model.kind in FEEDERS and states)


def may_feed(model: Model | None, kinds: Container[NodeKind] = FEEDERS) -> bool:
    """Tell whether nobody says that a model does not feed the power pair, of kinds that often do.

    One that feeds nothing says so by a supply of 0 V.
    """
    if model is None:
        return True
    return model.kind in kinds and known(model.supply_v) is None and known(model.supply_rating_w) != 0


def cable_ohm_per_m(catalogue: Catalogue, conductor_c: float) -> Floats:
    """Return the loop resistance of each cable [ohm/m] at `conductor_c`; NaN where it is not known."""
    return _column(cautious_loop_ohm_per_m(cable, conductor_c) for cable in catalogue.cables)


def merged_ends(model: Small, node: Small) -> Small:
    """Return the end resistor of equipment that stays, from what its model and its own row say.

    Where the two disagree somebody has put one in or taken one out, so that it can be done again: a switch.
    """
    agreed = np.where(model == node, model, np.int8(ENDS_CODE[EndsBus.SWITCH]))
    return np.where(model < 0, node, np.where(node < 0, model, agreed))


def data_mm2(cable: Cable) -> float | None:
    """Return the copper of one data conductor [mm2], None where it is not said or cannot be read."""
    try:
        return None if cable.data_conductor is None else parse_conductor(cable.data_conductor).area_mm2
    except ConductorError:
        return None


def area_mm2(cable: Cable) -> float | None:
    """Return the copper of one power conductor [mm2], None where it cannot be read."""
    if cable.power_conductor is None:
        return CATEGORY_MM2 if cable.category is not None else None
    try:
        return parse_conductor(cable.power_conductor).area_mm2
    except ConductorError:
        return None
