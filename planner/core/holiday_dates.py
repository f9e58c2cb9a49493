"""Public holidays of a country or subdivision by its ISO 3166 code, and working days between them."""

from datetime import date, timedelta

import holidays

SATURDAY = 5


class HolidayError(ValueError):
    """A country or subdivision whose holidays nobody knows; `code` is what was written."""

    def __init__(self, code: str) -> None:
        super().__init__(
            f"holidays of {code!r} are not known (ISO 3166 country such as DE, or subdivision such as DE-BY)"
        )
        self.code = code


def holiday_dates(code: str, first_year: int, last_year: int) -> frozenset[date]:
    """Return the public holidays of a place.

    Parameters
    ----------
    code : str
        ISO 3166-1 country or ISO 3166-2 subdivision.
    first_year, last_year : int
        Years asked for, both included.

    Returns
    -------
    frozenset of date
        The holidays.

    Raises
    ------
    HolidayError
        If the code is not known.

    Examples
    --------
    >>> sorted(holiday_dates("DE-BY", 2027, 2027) - holiday_dates("DE", 2027, 2027))[0].isoformat()
    '2027-01-06'

    """
    country, _, part = code.strip().upper().partition("-")
    try:
        found = holidays.country_holidays(country, subdiv=part or None, years=range(first_year, last_year + 1))
    except (NotImplementedError, KeyError, ValueError) as error:
        raise HolidayError(code) from error
    return frozenset(found)


def working_days_before(day: date, count: int, off: frozenset[date]) -> date:
    """Return the working day (Monday to Friday, no holiday) that lies so many working days before a day.

    With a count of 0 the last working day up to and including `day`.

    Examples
    --------
    >>> working_days_before(date(2027, 3, 1), 1, frozenset()).isoformat()
    '2027-02-26'

    """
    found = _last_working(day, off)
    for _ in range(count):
        found = _last_working(found - timedelta(days=1), off)
    return found


def _last_working(day: date, off: frozenset[date]) -> date:
    while day.weekday() >= SATURDAY or day in off:
        day -= timedelta(days=1)
    return day
