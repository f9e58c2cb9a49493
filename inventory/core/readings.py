"""Figures read off an instrument on site: what may be measured, in which unit, and the newest reading of each place."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Quantity(StrEnum):
    """What may be measured on a segment."""

    LOOP = "loop resistance"
    DATA_LINES = "resistance between the data lines"
    NO_LOAD = "voltage without load"
    LOADED = "voltage at the station"


UNIT = {Quantity.LOOP: "ohm", Quantity.DATA_LINES: "ohm", Quantity.NO_LOAD: "V", Quantity.LOADED: "V"}
BETWEEN_TWO = frozenset(
    {Quantity.LOOP, Quantity.DATA_LINES}
)  # at one node, on the line to another; the rest at one alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The newest figure of one quantity at one place.

    `node` and `far` are names of nodes: where the instrument was and, for a quantity of BETWEEN_TWO, the far end of the
    line it was on: of a loop, the end that was bridged. `value` is in UNIT of its quantity.
    """

    quantity: Quantity
    node: str
    far: str | None = None
    value: float
    on: date

    @property
    def where(self) -> str:
        """Return the place in words."""
        return self.node if self.far is None else f"{self.node} to {self.far}"
