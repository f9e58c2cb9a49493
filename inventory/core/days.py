"""Days as people write them: what nobody can read the other way round is read, everything else is refused in words."""

import re
from datetime import datetime

MONTH_NAMES = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
SHORTEST_NAME = 3
HOW = "write the day as 2 Mar 2027 or 2027-03-02"
_NAME = rf"(?P<name>[A-Za-z]{{{SHORTEST_NAME},9}})\.?"
_CLOCK = r"(?:(?:T|,?\s+)(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::[0-9]{2}(?:\.[0-9]+)?)?)?\Z"
WAYS = tuple(
    re.compile(way + _CLOCK)
    for way in (
        r"(?P<year>[0-9]{4})-(?P<month>[0-9]{1,2})-(?P<day>[0-9]{1,2})",
        rf"(?P<day>[0-9]{{1,2}})\.?\s+{_NAME},?\s+(?P<year>[0-9]{{4}})",
        rf"{_NAME}\s+(?P<day>[0-9]{{1,2}}),?\s+(?P<year>[0-9]{{4}})",
    )
)
FIGURES_ALONE = re.compile(r"(?![0-9]{4}-)[0-9]{1,4}\s*[./-]\s*[0-9]{1,2}\s*[./-]\s*[0-9]{1,4}(?![0-9])")


class DayError(ValueError):
    """A text that is meant as a day and names none for sure; `code` and `remedy` as in a problem."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.remedy = HOW


def moment_from_text(text: str) -> datetime | None:
    """Return the day that a text names, at midnight where it names no time of day; None where it is no day at all.

    Raises
    ------
    DayError
        If there is no such day, or if it could be read as two days.

    Examples
    --------
    >>> moment_from_text("2 Mar 2027"), moment_from_text("March 2, 2027, 14:05")
    (datetime.datetime(2027, 3, 2, 0, 0), datetime.datetime(2027, 3, 2, 14, 5))
    >>> moment_from_text("soon")

    """
    text = text.strip()
    found = next(filter(None, (way.match(text) for way in WAYS)), None)
    if found is not None and (month := _month(found.groupdict())) is not None:
        return _built(found, month)
    if FIGURES_ALONE.match(text):
        raise DayError("ambiguous-date", "This can be read in two ways: as a day and a month, or the other way round")
    return None


def _month(parts: dict[str, str | None]) -> int | None:
    """Return the number of the month; None where no month has such a name."""
    if parts.get("month"):
        return int(str(parts["month"]))
    name = str(parts["name"]).casefold()
    return next((at for at, whole in enumerate(MONTH_NAMES, start=1) if whole.startswith(name)), None)


def _built(found: re.Match[str], month: int) -> datetime:
    year, day, hour, minute = (int(found[name] or 0) for name in ("year", "day", "hour", "minute"))
    try:
        return datetime(year, month, day, hour, minute)  # noqa: DTZ001 - local by definition
    except ValueError:
        raise DayError("no-such-date", "There is no such day or time of day") from None
