"""Copper: size, class, temperature -> resistance. Unknown stays None; what is doubtful is taken at its worse."""

import math
import re
from dataclasses import dataclass, replace
from functools import lru_cache

from inventory.core.catalogue import Cable

RESISTIVITY_OHM_MM2_PER_M = 1.0 / 58.0  # annealed copper at 20 C, NBS Handbook 100 and IEC 60028
COEFFICIENT_PER_K = 0.00393  # at 20 C, NBS Handbook 100 and IEC 60028, from memory
COLDEST_C = 20.0 - 1.0 / COEFFICIENT_PER_K  # where the straight line would reach no resistance at all
FEET_PER_KM = 3280.84

# NEC chapter 9 Table 8, direct current, stranded uncoated copper at 75 C.
STRANDED_75C_OHM_PER_KFT = {18: 7.95, 16: 4.99, 14: 3.14, 12: 1.98}
STRANDED_EXCESS = 1.025  # gauges the table has no row for: the larger of what its rows show, rounded up

# IEC 60228 tables 1, 2 and 3: greatest resistance at 20 C, plain copper. Area [mm2] -> class -> ohm/km.
IEC_60228_OHM_PER_KM = {
    0.5: {1: 36.0, 2: 36.0, 5: 39.0},
    0.75: {1: 24.5, 2: 24.5, 5: 26.0},
    1.0: {1: 18.1, 2: 18.1, 5: 19.5},
    1.5: {1: 12.1, 2: 12.1, 5: 13.3},
    2.5: {1: 7.41, 2: 7.41, 5: 7.98},
}
# Areas the table lacks: the largest excess of its class 5 over solid copper of the same area.
METRIC_EXCESS = max(row[5] * area / (1000.0 * RESISTIVITY_OHM_MM2_PER_M) for area, row in IEC_60228_OHM_PER_KM.items())

CATEGORY_OHM_PER_M = 0.0938  # TIA-568, greatest for one conductor at 20 C: 9.38 ohm in 100 m
CATEGORY_THICKEST_MM2 = 0.30  # between 22 and 23 AWG; a thicker one is taken at its own figure (common practice)

BEST_CONDUCTOR, BEST_PAIRS = "14 AWG", 2  # control wiring is seldom thicker than this (common practice)
WORST_CONDUCTOR, WORST_PAIRS = "26 AWG", 1  # nor thinner than a flexible patch lead (common practice)

CLASSES = {"solid": 1, "class 1": 1, "1": 1, "stranded": 2, "class 2": 2, "2": 2, "class 5": 5, "5": 5}
FLEXIBLE = 5

_AWG = re.compile(r"(?:#?\s*(\d{1,2}|[1-4]/0|0{1,4})\s*awg|awg\s*#?\s*(\d{1,2}|[1-4]/0|0{1,4}))", re.IGNORECASE)
_METRIC = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:mm2|mm²|mm\^2|sq\.?\s*mm)", re.IGNORECASE)


class ConductorError(ValueError):
    """A conductor size or class that cannot be read; `text` is what was seen."""

    def __init__(self, text: str, remedy: str) -> None:
        super().__init__(f"{text!r} is no conductor that can be read. {remedy}")
        self.text = text


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor:
    """One conductor by its size: `area_mm2`, and its American gauge where it was given as one (1/0 is 0, 2/0 is -1)."""

    area_mm2: float
    gauge: int | None = None


def awg_diameter_mm(gauge: int) -> float:
    """Return the diameter of a solid conductor of an American gauge.

    References
    ----------
    ASTM B258: 36 AWG is 0.127 mm, 4/0 AWG (here -3) is 11.684 mm, and 39 equal ratios lie between.

    Examples
    --------
    >>> awg_diameter_mm(36), round(awg_diameter_mm(-3), 3)
    (0.127, 11.684)

    """
    return float(0.127 * 92.0 ** ((36 - gauge) / 39))


def parse_conductor(text: str) -> Conductor:
    """Return the conductor that `18 AWG`, `AWG 18`, `0.75 mm2` or `0,75 mm²` names.

    Raises
    ------
    ConductorError
        If the text is neither, or no conductor has that size.

    Examples
    --------
    >>> parse_conductor("0.75 mm2")
    Conductor(area_mm2=0.75, gauge=None)
    >>> parse_conductor("AWG 18").gauge, round(parse_conductor("18 AWG").area_mm2, 3)
    (18, 0.823)

    """
    plain = text.strip()
    if match := _AWG.fullmatch(plain):
        gauge = _gauge(match[1] or match[2])
        return Conductor(area_mm2=math.pi / 4.0 * awg_diameter_mm(gauge) ** 2, gauge=gauge)
    if match := _METRIC.fullmatch(plain):
        area = float(match[1].replace(",", "."))
        if area > 0.0:
            return Conductor(area_mm2=area)
    raise ConductorError(text, "Write it as `18 AWG` or `0.75 mm2`.")


def _gauge(text: str) -> int:
    if text.endswith("/0"):
        return 1 - int(text[0])
    return 1 - len(text) if set(text) == {"0"} else int(text)


def parse_class(text: str) -> int:
    """Return the conductor class of IEC 60228 that `solid`, `stranded` or `class 5` names.

    Raises
    ------
    ConductorError
        If the text names no class.

    """
    plain = " ".join(text.casefold().split())
    if plain not in CLASSES:
        raise ConductorError(text, "Write solid, stranded, class 1, class 2 or class 5.")
    return CLASSES[plain]


def ohm_per_m_at_20c(conductor: Conductor, conductor_class: int | None) -> float:
    """Return the resistance of one conductor at 20 C [ohm/m]; a class that is not said is the worst there is.

    References
    ----------
    ASTM B258 and NEC chapter 9 Table 8 for gauges, IEC 60228 for areas.

    Examples
    --------
    >>> round(ohm_per_m_at_20c(parse_conductor("18 AWG"), 1), 6), ohm_per_m_at_20c(parse_conductor("1.5 mm2"), 1)
    (0.020948, 0.0121)

    """
    ideal = RESISTIVITY_OHM_MM2_PER_M / conductor.area_mm2
    if conductor.gauge is None:
        return _metric_ohm_per_m(conductor.area_mm2, conductor_class or FLEXIBLE)
    if conductor_class == 1:
        return ideal
    if conductor.gauge in STRANDED_75C_OHM_PER_KFT:
        hot_ohm_per_m = STRANDED_75C_OHM_PER_KFT[conductor.gauge] * FEET_PER_KM / 1e6
        return hot_ohm_per_m / temperature_factor(75.0)
    return ideal * STRANDED_EXCESS


def _metric_ohm_per_m(area_mm2: float, conductor_class: int) -> float:
    """Return the table's value, or for an area it lacks the excess on solid copper, never above a thinner row."""
    if area_mm2 in IEC_60228_OHM_PER_KM:
        return IEC_60228_OHM_PER_KM[area_mm2][conductor_class] / 1000.0
    thinner = [row[conductor_class] / 1000.0 for area, row in IEC_60228_OHM_PER_KM.items() if area < area_mm2]
    return min([RESISTIVITY_OHM_MM2_PER_M / area_mm2 * METRIC_EXCESS, *thinner])


def temperature_factor(temperature_c: float) -> float:
    """Return how much greater than at 20 C the resistance of copper is.

    Raises
    ------
    ValueError
        If the temperature is not finite, or so low that the straight line no longer holds.

    Examples
    --------
    >>> round(temperature_factor(75.0), 5)
    1.21615

    """
    if not COLDEST_C < temperature_c < math.inf:
        raise ValueError(f"temperature_c is {temperature_c}: must be above {COLDEST_C:.0f} C, and finite")
    return 1.0 + COEFFICIENT_PER_K * (temperature_c - 20.0)


def conductor_ohm_per_m(cable: Cable, temperature_c: float) -> float | None:
    """Return the resistance of one power conductor of a cable [ohm/m]; None where size or class cannot be told.

    A category cable is taken at the standard's maximum, unless its power conductor is worse than that or thicker
    than those of nearly all category cables.

    Examples
    --------
    >>> round(conductor_ohm_per_m(Cable(key="A", power_conductor="1.5 mm2", conductor_class="solid"), 20.0), 6)
    0.0121
    >>> conductor_ohm_per_m(Cable(key="B"), 20.0) is None
    True

    """
    factor = temperature_factor(temperature_c)
    own = _own_ohm_per_m(cable)
    if cable.category is None:
        return None if own is None else own[0] * factor
    if cable.power_conductor is None:
        return CATEGORY_OHM_PER_M * factor
    if own is None:
        return None
    ohm, area_mm2 = own
    return (ohm if area_mm2 > CATEGORY_THICKEST_MM2 else max(ohm, CATEGORY_OHM_PER_M)) * factor


@lru_cache(maxsize=1024)  # runs are many, sorts of cable few
def _own_ohm_per_m(cable: Cable) -> tuple[float, float] | None:
    """Return resistance at 20 C and area of the power conductor, None where they cannot be read."""
    if cable.power_conductor is None:
        return None
    try:
        conductor = parse_conductor(cable.power_conductor)
        conductor_class = None if cable.conductor_class is None else parse_class(cable.conductor_class)
    except ConductorError:
        return None
    return ohm_per_m_at_20c(conductor, conductor_class), conductor.area_mm2


def loop_ohm_per_m(cable: Cable, temperature_c: float) -> float | None:
    """Return the resistance out and back of one metre of cable, its power pairs in parallel [ohm/m].

    None where conductor or pairs are not known, or the cable has no power pair.

    Examples
    --------
    Category cable at 20 C: 2 x 9.38 ohm in 100 m for one pair, half of that for two.

    >>> round(loop_ohm_per_m(Cable(key="A", category="6", power_pairs=2), 20.0), 6)
    0.0938

    """
    ohm, pairs = conductor_ohm_per_m(cable, temperature_c), cable.power_pairs
    return 2.0 * ohm / pairs if ohm is not None and pairs is not None and pairs > 0 else None


def cautious_conductor_ohm_per_m(cable: Cable, temperature_c: float) -> float | None:
    """Return the resistance of one power conductor at the worse of what it may be [ohm/m]; None where no size is said.

    A fact left out must never make a cable better. A blank category does not say that the cable is none: conductors
    of a size that category cables are made in are taken at the maximum of such cables. A category without a size says
    too little: patch leads are made far thinner than the cable in the wall.
    """
    if cable.power_conductor is None:
        return None
    silent = replace(cable, category="not known") if cable.category is None else cable
    return conductor_ohm_per_m(silent, temperature_c)


def cautious_loop_ohm_per_m(cable: Cable, temperature_c: float) -> float | None:
    """Return the resistance out and back of one metre of cable at the worse of what it may be [ohm/m].

    Examples
    --------
    >>> cable = Cable(key="A", power_conductor="24 AWG", conductor_class="solid", power_pairs=1)
    >>> round(loop_ohm_per_m(cable, 20.0), 4), round(cautious_loop_ohm_per_m(cable, 20.0), 4)
    (0.1684, 0.1876)

    """
    ohm, pairs = cautious_conductor_ohm_per_m(cable, temperature_c), cable.power_pairs
    return 2.0 * ohm / pairs if ohm is not None and pairs is not None and pairs > 0 else None


def loop_ohm(length_m: float | None, cable: Cable | None, temperature_c: float) -> float | None:
    """Return the resistance out and back of a run [ohm]; None where its length or its cable is not known.

    Raises
    ------
    ValueError
        If the length is negative or not finite.

    """
    if length_m is None or cable is None:
        return None
    if not 0.0 <= length_m < math.inf:
        raise ValueError(f"length_m is {length_m}: must be 0 or more, and finite")
    per_m = loop_ohm_per_m(cable, temperature_c)
    return None if per_m is None else length_m * per_m


def plausible_loop_ohm_per_m(cable: Cable | None, temperature_c: float) -> tuple[float, float]:
    """Return the least and the greatest resistance out and back that a cable can plausibly have [ohm/m].

    What the record says is kept; what it does not say runs from BEST_CONDUCTOR and BEST_PAIRS to WORST_CONDUCTOR and
    WORST_PAIRS. The two are equal where everything is known.

    Examples
    --------
    >>> low, high = plausible_loop_ohm_per_m(None, 20.0)
    >>> round(low, 4), round(high, 4)
    (0.0083, 0.2745)

    """
    factor = temperature_factor(temperature_c)
    ohm = None if cable is None else conductor_ohm_per_m(cable, temperature_c)
    pairs = None if cable is None else cable.power_pairs
    best = ohm if ohm is not None else ohm_per_m_at_20c(parse_conductor(BEST_CONDUCTOR), 1) * factor
    worst = ohm if ohm is not None else ohm_per_m_at_20c(parse_conductor(WORST_CONDUCTOR), 2) * factor
    return 2.0 * best / (pairs or BEST_PAIRS), 2.0 * worst / (pairs or WORST_PAIRS)
