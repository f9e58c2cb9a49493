"""Nights by crew, drawn as plain SVG: a month a block, a row a crew, a square a night, with how many orders it has.

Colours come from the page by class. Every square that has work is a link to its night and says all in words.
"""

from calendar import monthrange
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from html import escape

from inventory.core.saying import MONTHS, day_words

SIDE, GAP, HEAD, NAME = 26, 3, 36, 96
LONGEST_MONTH, LONGEST_NAME = 31, 14
WEEK = "MTWTFSS"
SATURDAY = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewNight:
    """What one crew does in one night: how many orders, in which phase, whether any of it is begun or booked."""

    night: date
    crew: str
    orders: int
    phase: str
    tone: str = "pair"


def months_of(nights: Iterable[CrewNight]) -> tuple[tuple[int, int], ...]:
    """Return the months that have work, (year, month), in order."""
    return tuple(sorted({(each.night.year, each.night.month) for each in nights}))


def month_drawing(
    year: int, month: int, nights: Iterable[CrewNight], crews: tuple[str, ...], address: Callable[[date], str]
) -> str:
    """Return the drawing of one month; all crews have a row, so that months stand below each other alike."""
    by_place: dict[tuple[str, int], CrewNight] = {
        (each.crew, each.night.day): each for each in nights if (each.night.year, each.night.month) == (year, month)
    }
    days = monthrange(year, month)[1]
    width = NAME + LONGEST_MONTH * (SIDE + GAP)
    height = HEAD + len(crews) * (SIDE + GAP) + GAP
    rows = "".join(_row(number, crew, year, month, days, by_place, address) for number, crew in enumerate(crews))
    title = f"{MONTHS[month - 1]} {year}"
    said = f"{title}: {_spoken(by_place.values())}"
    return (
        f'<svg class="drawing" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="group" '
        f'aria-label="{escape(said)}"><text x="0" y="14">{title}</text>{_days(year, month, days)}{rows}</svg>'
    )


def _spoken(nights: Iterable[CrewNight]) -> str:
    per_crew: dict[str, int] = defaultdict(int)
    for each in nights:
        per_crew[each.crew] += 1
    words = [f"{crew} {count} {'night' if count == 1 else 'nights'}" for crew, count in sorted(per_crew.items())]
    return ", ".join(words) or "no work"


def _left(day: int) -> int:
    return NAME + (day - 1) * (SIDE + GAP)


def _days(year: int, month: int, days: int) -> str:
    """Return the lines of weekdays and days; each letter of the first has a place of its own."""
    middles = [_left(day) + SIDE // 2 for day in range(1, days + 1)]
    letters = "".join(WEEK[date(year, month, day).weekday()] for day in range(1, days + 1))
    numbers = "".join(f'<tspan x="{middle}">{day}</tspan>' for day, middle in enumerate(middles, start=1))
    return (
        f'<text class="small" text-anchor="middle" y="{HEAD - 20}" x="{" ".join(map(str, middles))}">{letters}</text>'
        f'<text class="small" text-anchor="middle" y="{HEAD - 7}">{numbers}</text>'
    )


def _row(  # noqa: PLR0917 - a row of squares is drawn from all of it
    number: int,
    crew: str,
    year: int,
    month: int,
    days: int,
    by_place: dict[tuple[str, int], CrewNight],
    address: Callable[[date], str],
) -> str:
    top = HEAD + number * (SIDE + GAP)
    weekends = [day for day in range(1, days + 1) if date(year, month, day).weekday() >= SATURDAY]
    ground = "".join(f"M{_left(day)} {top + SIDE}h{SIDE}" for day in range(1, days + 1) if day not in weekends)
    rest = "".join(f"M{_left(day)} {top + SIDE}h{SIDE / 3:.0f}m{SIDE / 3:.0f} 0h{SIDE / 3:.0f}" for day in weekends)
    squares = "".join(
        _square(found, top, address) for day in range(1, days + 1) if (found := by_place.get((crew, day)))
    )
    return (
        f'<text class="small" x="0" y="{top + SIDE - 8}">{escape(_short(crew))}</text>'
        f'<path class="grid" d="{ground}{rest}"/>{squares}'
    )


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}\N{HORIZONTAL ELLIPSIS}"


def _square(found: CrewNight, top: int, address: Callable[[date], str]) -> str:
    left = _left(found.night.day)
    count = f"{found.orders} {'order' if found.orders == 1 else 'orders'}"
    spoken = f"{found.crew}, night of {day_words(found.night)}: {count}, {found.phase}"
    return (
        f'<a href="{escape(address(found.night))}" class="tone-{found.tone}" aria-label="{escape(spoken)}">'
        f'<rect class="fill" x="{left}" y="{top}" width="{SIDE}" height="{SIDE}"/>'
        f'<text x="{left + SIDE / 2}" y="{top + SIDE - 8}" text-anchor="middle">{found.orders}</text></a>'
    )
