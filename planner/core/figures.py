"""Figures to measure at a converted segment, before power and after, and what a reading means."""

import math
from dataclasses import dataclass

from inventory.core.readings import UNIT, Quantity

LOOP_BELOW, LOOP_ABOVE = (
    0.25,
    0.10,
)  # copper is reckoned at its maximum; lengths are recorded to a tenth (common practice)
CONTACT_OHM = 0.5  # test leads and terminals (common practice)
ENDS_TOLERANCE = 0.10  # end resistors of 5 %, meter and terminals (common practice)
VOLTAGE_BELOW = 0.02  # of the source: meter and supply setting (common practice)
SUPPLY_TOLERANCE = 0.05  # of a supply's voltage as it is marked (common practice)


def tolerances() -> tuple[tuple[str, str, str], ...]:
    """Return how far each reading may be from what is expected: reading, span, source, all in words."""
    practice = "common practice"
    return (
        ("Loop resistance", f"{LOOP_BELOW:.0%} below, {LOOP_ABOVE:.0%} and {CONTACT_OHM:g} ohm above", practice),
        ("Resistance between the data lines", f"{ENDS_TOLERANCE:.0%} either way, and what the pair adds", practice),
        ("Voltage without load", f"{SUPPLY_TOLERANCE:.0%} either way", practice),
        ("Voltage at the station", f"{VOLTAGE_BELOW:.0%} of the source's below", practice),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure to measure: what is expected and the span in which a reading is good, in `unit`."""

    what: Quantity
    when: str
    expected: float
    lowest: float
    highest: float
    too_low: str
    too_high: str

    @property
    def unit(self) -> str:
        """Return the unit of all its numbers."""
        return UNIT[self.what]

    @property
    def digits(self) -> int:
        """Return how many decimals are worth saying: loops may be a fraction of an ohm."""
        return 2 if self.what is Quantity.LOOP else 1


def between_data_lines_ohm(ends: int, end_ohm: float, loop_ohm: float = 0.0) -> float | None:
    """Return what a meter reads between the data lines at one end of the line, None for no end resistor.

    Parameters
    ----------
    ends : int
        End resistors in circuit; the first where the meter is, the others at the far end.
    end_ohm : float
        Resistance of each [ohm].
    loop_ohm : float
        Resistance of the data pair out and back [ohm].

    Raises
    ------
    ValueError
        If a value is negative or not finite, or the end resistors have no resistance.

    References
    ----------
    ISO 11898-2 sets 120 ohm at both ends: two in parallel read 60 ohm, one alone 120, three 40, four 30.

    Examples
    --------
    >>> between_data_lines_ohm(2, 120.0), between_data_lines_ohm(1, 120.0), between_data_lines_ohm(0, 120.0)
    (60.0, 120.0, None)

    """
    if ends < 0 or not 0.0 < end_ohm < math.inf or not 0.0 <= loop_ohm < math.inf:
        raise ValueError(f"ends {ends}, end_ohm {end_ohm}, loop_ohm {loop_ohm}: must not be negative, and finite")
    if ends == 0:
        return None
    if ends == 1:
        return end_ohm
    beyond_ohm = loop_ohm + end_ohm / (ends - 1)
    return end_ohm * beyond_ohm / (end_ohm + beyond_ohm)


def loop_figure(loop_ohm: float) -> Figure:
    """Return the figure for the power pair, far end bridged, before power; `loop_ohm` as at the walls' temperature."""
    return Figure(
        what=Quantity.LOOP,
        when="before power, everything taken off the pair, its far end bridged",
        expected=loop_ohm,
        lowest=loop_ohm * (1.0 - LOOP_BELOW),
        highest=loop_ohm * (1.0 + LOOP_ABOVE) + CONTACT_OHM,
        too_low="The cable is shorter or thicker than recorded, or the pair is bridged on the way.",
        too_high="The cable is longer or thinner than recorded, or a joint is bad.",
    )


def data_lines_figure(ends: int, end_ohm: float, most_loop_ohm: float = 0.0) -> Figure | None:
    """Return the figure between the data lines before power, None where no end resistor is wanted.

    `most_loop_ohm` is the most that the data pair itself can add to what lies beyond it; nobody records its conductors,
    so that it raises the highest good reading and not what is expected.
    """
    expected = between_data_lines_ohm(ends, end_ohm)
    highest = between_data_lines_ohm(ends, end_ohm, most_loop_ohm)
    if expected is None or highest is None:
        return None
    if ends == 1:
        highest += most_loop_ohm  # the one resistor may be at the far end
    fewer = between_data_lines_ohm(ends - 1, end_ohm)
    most = math.inf if fewer is None else fewer * (1.0 - ENDS_TOLERANCE)  # what reads like a missing resistor is none
    return Figure(
        what=Quantity.DATA_LINES,
        when="before power, all equipment connected",
        expected=expected,
        lowest=expected * (1.0 - ENDS_TOLERANCE),
        highest=min(highest * (1.0 + ENDS_TOLERANCE), most),
        too_low="There is an end resistor too many, or the lines touch.",
        too_high="An end resistor is missing, or a line is broken.",
    )


def no_load_figure(source_v: float) -> Figure:
    """Return the figure at a cable end before anything is connected there: what the source gives, whatever the cable."""
    return Figure(
        what=Quantity.NO_LOAD,
        when="power on, before any station is connected",
        expected=source_v,
        lowest=source_v * (1.0 - SUPPLY_TOLERANCE),
        highest=source_v * (1.0 + SUPPLY_TOLERANCE),
        too_low="The supply is set low, a conductor is open, or something else still draws from the pair.",
        too_high="Higher than the source should give: check the supply before anything else.",
    )


def voltage_figure(voltage_v: float, source_v: float) -> Figure:
    """Return the figure at the station with power on: at least what was predicted, at most what the source gives."""
    tolerance_v = VOLTAGE_BELOW * source_v
    return Figure(
        what=Quantity.LOADED,
        when="after power, station at work",
        expected=voltage_v,
        lowest=voltage_v - tolerance_v,
        highest=source_v * (1.0 + SUPPLY_TOLERANCE),
        too_low="Lower than predicted: the recorded length or cable is wrong, or a joint is bad.",
        too_high="Higher than the source should give: check the supply before anything else.",
    )


def reading_words(figure: Figure, reading: float) -> str | None:
    """Return what a reading outside its span means, None for a good one.

    Raises
    ------
    ValueError
        If the reading is negative or not finite.

    Examples
    --------
    >>> reading_words(data_lines_figure(2, 120.0), 118.0)
    'An end resistor is missing, or a line is broken.'

    """
    if not 0.0 <= reading < math.inf:
        raise ValueError(f"{figure.what} cannot read {reading} {figure.unit}")
    if reading < figure.lowest:
        return figure.too_low
    return figure.too_high if reading > figure.highest else None
