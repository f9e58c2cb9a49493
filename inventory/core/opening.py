"""When a building admits crews, as people write it: days and hours, one part a weekday or several."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_MIN, HOUR_MIN = 24 * 60, 60
_DAY = "|".join(DAYS)
_PART = re.compile(
    rf"((?:(?:{_DAY})(?:\s*-\s*(?:{_DAY}))?[\s,]*)+)\s*(\d{{1,2}})[:.](\d\d)\s*-\s*(\d{{1,2}})[:.](\d\d)\s*[,;]?\s*",
    re.IGNORECASE,
)
_SPAN = re.compile(rf"({_DAY})(?:\s*-\s*({_DAY}))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Hours that begin on some weekdays (Monday 0), in minutes of the local day; to at or before from is the next day."""

    days: tuple[int, ...]
    from_min: int
    to_min: int


def read_openings(text: str) -> tuple[Opening, ...]:
    """Return the hours at which a building admits crews; on days that are not named it admits none.

    Raises
    ------
    ValueError
        If the text cannot be read to its end.

    Examples
    --------
    >>> [(one.days, one.from_min // 60, one.to_min // 60) for one in read_openings("Mon-Thu 18:00-07:00, Sat Sun 00:00-24:00")]
    [((0, 1, 2, 3), 18, 7), ((5, 6), 0, 24)]

    """
    found, at, whole = [], 0, text.strip()
    while at < len(whole) and (match := _PART.match(whole, at)):
        begin, end = (int(match[hour]) * HOUR_MIN + int(match[hour + 1]) for hour in (2, 4))
        if max(begin, end) > DAY_MIN or max(int(match[3]), int(match[5])) >= HOUR_MIN:
            raise ValueError(match[0])
        found.append(Opening(days=_days(match[1]), from_min=begin, to_min=end))
        at = match.end()
    if at < len(whole) or not found:
        raise ValueError(whole[at:] or text)
    return tuple(found)


def write_openings(openings: Iterable[Opening]) -> str:
    """Return hours as people write them; `read_openings` reads the same from it.

    Examples
    --------
    >>> write_openings(read_openings("mon - thu 18.00-07:00; Sat 0:00-24:00"))
    'Mon Tue Wed Thu 18:00-07:00, Sat 00:00-24:00'

    """
    return ", ".join(
        f"{' '.join(DAYS[day].capitalize() for day in one.days)} {_clock(one.from_min)}-{_clock(one.to_min)}"
        for one in openings
    )


def _clock(minute: int) -> str:
    hour, rest = divmod(minute, HOUR_MIN)
    return f"{hour:02}:{rest:02}"


def _days(text: str) -> tuple[int, ...]:
    days: set[int] = set()
    for span in _SPAN.finditer(text):
        first = DAYS.index(span[1].casefold())
        last = DAYS.index((span[2] or span[1]).casefold())
        days |= {day % len(DAYS) for day in range(first, last + 1 if last >= first else last + 1 + len(DAYS))}
    return tuple(sorted(days))
