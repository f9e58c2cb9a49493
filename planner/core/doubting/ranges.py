"""RANGES, the one table of what a fact that nobody recorded may plausibly be.

The best end must be at least as good as anything that can be on a wall: a verdict that fails even there stands. The
worst end must be at least as bad as anything that a record could say, so that leaving a cell blank never helps. Most
facts have no worst end at which anything could pass; the table then has None, and they are asked for wherever a rule
lacks them. What is LEFT_OPEN is taken by the rules themselves as good as it can be.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from inventory.core.catalogue import Cable, Layout
from inventory.core.conductors import conductor_ohm_per_m


class End(StrEnum):
    """What a fact is taken to be: either end of its range, or what is usual, so that others show whether they count."""

    BEST = "best"
    USUAL = "usual"
    WORST = "worst"


class Of(StrEnum):
    """What a fact is a fact of."""

    MODEL = "model"
    CABLE = "cable"
    METHOD = "method"
    PROTOCOL = "protocol"
    NODE = "node"
    RUN = "run"


Value = str | float | bool | None
LEFT_OPEN: Value = None
BEST_CABLE, USUAL_CABLE = "the best cable there is", "a usual cable"  # keys of rows that are put into the catalogue

MOST_V = 120.0  # extra-low voltage ends at 120 V d.c. (IEC 61140, from memory): no wall station's bus is above
THICKEST = "11 AWG"  # 4.17 mm2; terminals of bus equipment take 4 mm2 at most (common practice)
MOST_PAIRS = 3  # the jack at its end has four pairs (TIA-568), one of them for data
BEYOND = 1e6  # W, V: more than anything on a wall
THINNEST = "0.0001 mm2"  # thinner than any wire that is drawn
AS_THICK_AS_ANY = ("power_conductor", "conductor_class", "power_pairs")  # cells whose best end the catalogue may raise


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """One row: how rules ask for the fact, of what it is one, its cells, and what these may hold.

    `asked` has {} where the name stands. `best`, `usual` and `worst` are values for `cells`, in order; LEFT_OPEN
    leaves a cell blank. `worst` is None where no end is safe. `reason` says why in a few words.
    """

    asked: str
    of: Of
    cells: tuple[str, ...]
    best: tuple[Value, ...]
    usual: tuple[Value, ...]
    worst: tuple[Value, ...] | None
    reason: str

    @property
    def is_tight(self) -> bool:
        """Tell whether the best end is worse than what rules make of a blank."""
        return any(value is not LEFT_OPEN for value in self.best)

    def at(self, end: End) -> Mapping[str, Value]:
        """Return what the cells hold at an end; nothing where the table has no such end."""
        values = {End.BEST: self.best, End.USUAL: self.usual, End.WORST: self.worst}[end]
        return {} if values is None else dict(zip(self.cells, values, strict=True))


Ends = tuple[Value, ...] | None
NO_END: Ends = None


def _range(asked: str, of: Of, cells: str, ends: tuple[Ends, Ends, Ends], reason: str) -> Range:  # noqa: PLR0917 - a table row
    best, usual, worst = ends
    return Range(
        asked=asked, of=of, cells=tuple(cells.split()), best=best or (), usual=usual or (), worst=worst, reason=reason
    )


_COPPER = ((THICKEST, "solid"), ("22 AWG", "stranded"), (THINNEST, "class 5"))
_OPEN: Ends = (LEFT_OPEN,)

RANGES: tuple[Range, ...] = (
    # how rules ask, of what, cells, (best, usual, worst), why
    _range("Length of {}", Of.RUN, "length_m", (_OPEN, (10.0,), NO_END), "from 0 m to any length"),
    _range("Cable of {}", Of.RUN, "cable", ((BEST_CABLE,), (USUAL_CABLE,), NO_END), "from the best cable there is to one without a data pair"),
    _range("Power pairs of cable {}", Of.CABLE, "power_pairs", ((MOST_PAIRS,), (1,), (0,)), "from none to the three that a jack has beside data"),
    _range("Power conductor of cable {}", Of.CABLE, "power_conductor conductor_class", _COPPER, "from thinner than any wire to the thickest that a terminal takes"),
    _range("Conductor and class of cable {}", Of.CABLE, "power_conductor conductor_class", _COPPER, "what is written cannot be read, so that it may be any"),
    _range("Data pairs of cable {}", Of.CABLE, "data_pairs", (_OPEN, (1,), NO_END), "it may have none"),
    _range("Data conductor of cable {}", Of.CABLE, "data_conductor", (_OPEN, _OPEN, NO_END), "from thinner than any wire to any size"),
    _range("Impedance of cable {}", Of.CABLE, "impedance_ohm", (_OPEN, _OPEN, NO_END), "it may be far from what the bus needs"),
    _range("Draw of model {}", Of.MODEL, "draw_w", (_OPEN, (3.0,), (BEYOND,)), "from nothing to more than any wire carries"),
    _range("Lowest supply of model {}", Of.MODEL, "lowest_supply_v", (_OPEN, (12.0,), (BEYOND,)), "from nothing to more than any source gives"),
    _range("Supply of model {}", Of.MODEL, "supply_v", ((MOST_V,), (24.0,), (0.0,)), "from 0 V to 120 V, where extra-low voltage ends"),
    _range("Supply rating of model {}", Of.MODEL, "supply_rating_w", (_OPEN, (60.0,), (0.0,)), "from nothing to any rating"),
    _range("Unit loads of model {}", Of.MODEL, "unit_loads", (_OPEN, (1.0,), NO_END), "from none to more than a bus takes"),
    _range("Box gangs of model {}", Of.MODEL, "box_gangs", (_OPEN, (1,), (99,)), "as wide as any"),
    _range("Zones of model {}", Of.MODEL, "zones", (_OPEN, (8,), (0,)), "from none to any number"),
    _range("Scenes of model {}", Of.MODEL, "scenes", (_OPEN, (8,), (0,)), "from none to any number"),
    _range("Box gangs at {}", Of.NODE, "box_gangs", (_OPEN, (2,), (0,)), "as narrow as any"),
    _range("Zones used at {}", Of.NODE, "zones_used", (_OPEN, _OPEN, NO_END), "from those written down to any number"),
    _range("Scenes used at {}", Of.NODE, "scenes_used", (_OPEN, _OPEN, NO_END), "from those written down to any number"),
    _range("End resistor of {}", Of.NODE, "ends_bus", (_OPEN, _OPEN, NO_END), "built in or not, and who fits the ends must know which"),
    _range("Patch lead of method {}", Of.METHOD, "patch_lead_m", (_OPEN, (1.0,), NO_END), "from 0 m to any length"),
    _range("Patch cable of {}", Of.METHOD, "patch_cable", ((BEST_CABLE,), (USUAL_CABLE,), NO_END), "from the best cable there is to one without a data pair"),
    _range("Layout of protocol {}", Of.PROTOCOL, "layout", (_OPEN, (Layout.LINE,), (Layout.LINE,)), "a line at the strictest, and every bus allows a line"),
    _range("Power on bus of protocol {}", Of.PROTOCOL, "power_on_bus", (_OPEN, (True,), (True,)), "if the old bus fed the stations, something else must from now on"),
)  # fmt: skip


def best_cable(cables: Iterable[Cable]) -> Cable:
    """Return a cable that none of the catalogue and none on a wall is better than for power; its data pairs stay open."""
    kinds = list(cables)
    found = Cable(
        key=BEST_CABLE, power_conductor=THICKEST, conductor_class="solid", power_pairs=MOST_PAIRS, screened=True
    )
    for cable in kinds:
        own, best = conductor_ohm_per_m(cable, ANY_C), conductor_ohm_per_m(found, ANY_C)
        if cable.power_conductor is not None and own is not None and best is not None and own < best:
            found = replace(found, power_conductor=cable.power_conductor, conductor_class=cable.conductor_class)
    return replace(found, power_pairs=max([MOST_PAIRS, *(cable.power_pairs or 0 for cable in kinds)]))


ANY_C = 20.0  # any temperature tells which of two conductors resists less
USUAL = Cable(
    key=USUAL_CABLE, power_conductor="22 AWG", conductor_class="stranded", power_pairs=1, data_pairs=1, screened=True
)
