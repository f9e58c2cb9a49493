"""Where the risk is, drawn building by building: each building as its floors stand one upon the other, district by district.

Along the foot of each floor runs a bar as long as its risk is of the greatest, above it stands the figure; nothing is told
by tone alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby

from planner.handover.lettering import PHONE_W, shortened

ACROSS, FLOOR_HEIGHT, BAR, GAP = 2, 28, 7, 20  # ACROSS buildings side by side
FLOOR_WIDTH = (PHONE_W - (ACROSS - 1) * GAP) // ACROSS
TITLE, FOOT = 26, 40
PLACE_NOT_KNOWN = "floor not known"
SMALL = 11
MOST_FLOORS = 120  # drawn; a page must stay small


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorRisk:
    """A floor (None: its rooms do not say which) with the sum of its stations' risks; None: of none is a risk told."""

    floor: str | None
    weighted_days: float | None
    stations: int
    untold: int
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildingRisk:
    """A building with its floors, in any order."""

    key: str
    name: str | None
    district: str | None
    floors: tuple[FloorRisk, ...]

    @property
    def weighted_days(self) -> float:
        """Return the sum over its floors."""
        return sum(floor.weighted_days or 0.0 for floor in self.floors)

    @property
    def upward(self) -> tuple[FloorRisk, ...]:
        """Return the floors from the top down; what is no number stands below those that are, the unknown last."""
        return tuple(sorted(self.floors, key=_height))


def _height(floor: FloorRisk) -> tuple[int, float, str]:
    try:
        return (0, -float(floor.floor or ""), "")
    except ValueError:
        return (2 if floor.floor is None else 1, 0.0, floor.floor or "")


def riskiest(buildings: Sequence[BuildingRisk], most: int = MOST_FLOORS) -> tuple[BuildingRisk, ...]:
    """Return the buildings to draw: those of most risk, as many as come to so many floors."""
    drawn: list[BuildingRisk] = []
    for building in sorted(buildings, key=lambda one: (-one.weighted_days, one.key)):
        if sum(len(one.floors) for one in drawn) + len(building.floors) > most:
            break
        drawn.append(building)
    return tuple(drawn)


def risk_map(buildings: Sequence[BuildingRisk]) -> str:
    """Return the drawing: a row or more of buildings for each district, standing on one ground line a row."""
    most = max((floor.weighted_days or 0.0 for one in buildings for floor in one.floors), default=0.0)
    parts: list[str] = []
    top = 0
    for district, rows in _rows(buildings):
        for number, row in enumerate(rows):
            tall = max(len(one.floors) for one in row) * FLOOR_HEIGHT
            if number == 0:
                parts.append(f'<text x="0" y="{top + 14}">{escape(district)}</text>')
            ground = top + TITLE + tall
            parts += [_building(one, place, ground, most) for place, one in enumerate(row)]
            width = len(row) * (FLOOR_WIDTH + GAP) - GAP
            parts.append(f'<path class="axis" d="M0 {ground}H{width}"/>')
            top = ground + FOOT
    width = ACROSS * (FLOOR_WIDTH + GAP) - GAP
    return (
        f'<svg class="drawing" viewBox="0 0 {width} {top}" width="{width}" height="{top}" role="group" '
        f'aria-label="Risk by building and floor">{"".join(parts)}</svg>'
    )


def _rows(buildings: Sequence[BuildingRisk]) -> Iterator[tuple[str, list[list[BuildingRisk]]]]:
    """Yield each district with its buildings in rows."""
    placed = sorted(buildings, key=lambda one: (one.district is None, one.district or "", one.key))
    for district, some in groupby(placed, key=lambda one: one.district):
        mine = list(some)
        words = district or "District not known"
        yield words, [mine[at : at + ACROSS] for at in range(0, len(mine), ACROSS)]


def _building(one: BuildingRisk, place: int, ground: int, most: float) -> str:
    left = place * (FLOOR_WIDTH + GAP)
    floors = one.upward
    top = ground - len(floors) * FLOOR_HEIGHT
    drawn = "".join(_floor(one, floor, left, top + at * FLOOR_HEIGHT, most) for at, floor in enumerate(floors))
    name = shortened(f"{one.key} {one.name or ''}".strip(), FLOOR_WIDTH, SMALL)
    return (
        f'{drawn}<text class="small" x="{left}" y="{ground + 14}">{escape(name)}</text>'
        f'<text class="small" x="{left}" y="{ground + 27}">{one.weighted_days:.1f} in all</text>'
    )


def _floor(one: BuildingRisk, floor: FloorRisk, left: int, top: int, most: float) -> str:
    days = floor.weighted_days
    width = round(FLOOR_WIDTH * days / most, 1) if days and most else 0.0
    filled = (
        f'<rect class="fill" x="{left}" y="{top + FLOOR_HEIGHT - BAR}" width="{max(width, 2.0)}" height="{BAR}"/>'
        if days
        else ""
    )
    said = "not known" if days is None else f"{days:.1f}"
    label = PLACE_NOT_KNOWN if floor.floor is None else f"floor {floor.floor}"
    spoken = f"{one.key} {label}: {said} weighted days, {floor.stations} stations"
    spoken += f", {floor.untold} of them not told" if floor.untold else ""
    written = "floor ?" if floor.floor is None else shortened(label, FLOOR_WIDTH / 2, SMALL)
    return (
        f'<a href="{escape(floor.address)}" class="tone-wait" aria-label="{escape(spoken)}">{filled}'
        f'<rect class="touch" x="{left}" y="{top}" width="{FLOOR_WIDTH}" height="{FLOOR_HEIGHT}"/>'
        f'<path class="grid" d="M{left} {top}h{FLOOR_WIDTH}v{FLOOR_HEIGHT}h-{FLOOR_WIDTH}z"/>'
        f'<text class="small" x="{left + 5}" y="{top + 16}">{escape(written)}</text>'
        f'<text class="small" x="{left + FLOOR_WIDTH - 5}" y="{top + 16}" text-anchor="end">{said}</text></a>'
    )
