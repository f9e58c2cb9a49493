"""Values in words: the same on every page and in every file."""

from datetime import date, datetime
from decimal import Decimal

NOT_KNOWN = "not known"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
THOUSANDS = "\u202f"  # narrow space that does not break
GAP = "\u00a0"  # space that does not break, before a unit
MANY_WORDS = {"supply": "supplies", "delivery": "deliveries", "bus": "buses"}  # where an s does not make the plural
CENT = Decimal("0.01")
MANY = {word: f"{word}s" for word in ("piece", "pair", "roll", "reel", "set", "pack")}  # units that are words


def day_words(value: date) -> str:
    """Return a date that nobody can read the other way round.

    Examples
    --------
    >>> day_words(date(2027, 3, 2))
    '2 Mar 2027'

    """
    return f"{value.day} {MONTHS[value.month - 1]} {value.year:04}"


def moment_words(value: datetime) -> str:
    """Return a date and the time of day, in the zone that the value carries.

    Examples
    --------
    >>> moment_words(datetime(2027, 3, 2, 14, 5))
    '2 Mar 2027, 14:05'

    """
    return f"{day_words(value)}, {value:%H:%M}"


def plain_number(value: Decimal) -> str:
    """Return a number as it is typed, without zeros at its end.

    Examples
    --------
    >>> plain_number(Decimal("70.0000")), plain_number(Decimal("0.250"))
    ('70', '0.25')

    """
    return f"{value.normalize():f}"


def number_words(value: float | Decimal, unit: str = "") -> str:
    r"""Return a number with at most three decimals, thousands set apart, and its unit, in the plural where it is a word.

    Examples
    --------
    >>> number_words(1, "piece"), number_words(Decimal("40.0000"), "piece")
    ('1\xa0piece', '40\xa0pieces')
    >>> number_words(12345.5, "m"), number_words(7), number_words(Decimal("40.0000"), "W")
    ('12\u202f345.5\xa0m', '7', '40\xa0W')

    """
    text = f"{value:,.3f}".rstrip("0").rstrip(".").replace(",", THOUSANDS)
    return f"{text}{GAP}{unit if value == 1 else MANY.get(unit, unit)}" if unit else text


def counted_words(count: float, one: str, many: str | None = None) -> str:
    """Return how many of something there are; `many` is the plural where an s does not make it.

    Examples
    --------
    >>> counted_words(1, "order"), counted_words(0, "order"), counted_words(2, "supply", "supplies")
    ('1 order', '0 orders', '2 supplies')

    """
    return f"{number_words(count)} {one if count == 1 else many or MANY_WORDS.get(one, f'{one}s')}"


def money_words(value: Decimal, currency: str | None) -> str:
    r"""Return an amount to the cent with its currency.

    Examples
    --------
    >>> money_words(Decimal("1234.5"), "EUR")
    '1\u202f234.50\xa0EUR'

    """
    text = f"{value.quantize(CENT):,}".replace(",", THOUSANDS)
    return f"{text}{GAP}{currency or 'currency not known'}"
