"""Money: Decimal, to the hundredth, and never two currencies in one sum."""

from collections import defaultdict
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

HUNDREDTH = Decimal("0.01")


def to_cents(amount: Decimal) -> Decimal:
    """Return an amount rounded to the hundredth, halves up.

    Examples
    --------
    >>> to_cents(Decimal("1.005"))
    Decimal('1.01')

    """
    return amount.quantize(HUNDREDTH, rounding=ROUND_HALF_UP)


def hours_of(minutes: int) -> Decimal:
    """Return minutes as hours, exact to 28 digits."""
    return Decimal(minutes) / 60


def sum_by_currency(amounts: Iterable[tuple[str, Decimal]]) -> tuple[tuple[str, Decimal], ...]:
    """Return one sum for each currency, sorted by its code.

    Examples
    --------
    >>> sum_by_currency([("EUR", Decimal(1)), ("CHF", Decimal(5)), ("EUR", Decimal(2))])
    (('CHF', Decimal('5')), ('EUR', Decimal('3')))

    """
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for currency, amount in amounts:
        sums[currency] += amount
    return tuple(sorted(sums.items()))
