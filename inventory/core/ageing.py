"""Ages of equipment, counted in years to a given day."""

from datetime import date

DAYS_PER_YEAR = 365.2425  # mean year of the Gregorian calendar


def age_years(installed: date | None, on: date) -> float | None:
    """Return the age [a] on a day; None where the day of installation is not known.

    Examples
    --------
    >>> age_years(date(2007, 3, 2), date(2027, 3, 2))
    20.0

    """
    return None if installed is None else round((on - installed).days / DAYS_PER_YEAR, 1)


def life_left_years(installed: date | None, service_life_years: float | None, on: date) -> float | None:
    """Return the service life left [a] on a day, negative past it; None where either fact is not known.

    Examples
    --------
    >>> life_left_years(date(2007, 3, 2), 25.0, date(2027, 3, 2)), life_left_years(None, 25.0, date(2027, 3, 2))
    (5.0, None)

    """
    if installed is None or service_life_years is None:
        return None
    return round(service_life_years - (on - installed).days / DAYS_PER_YEAR, 1)


def years_before(on: date, years: int) -> date:
    """Return the same day so many years earlier; 29 February becomes 28 February where there is none.

    Examples
    --------
    >>> years_before(date(2028, 2, 29), 1), years_before(date(2027, 3, 2), 20)
    (datetime.date(2027, 2, 28), datetime.date(2007, 3, 2))

    """
    year = max(on.year - years, 1)
    try:
        return on.replace(year=year)
    except ValueError:
        return on.replace(year=year, day=28)
