"""What a take-off is: the material list of a plan. Quantities and money are Decimal."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeoffLine:
    """One part in one phase.

    gross: what the orders use; allowance: spare allowance on top; from_stock, from_freed and from_due: taken from
    the shelf, from earlier work and from deliveries; net: what is missing; packs x pack = bought. Cost in `currency`, None if the price is not
    known. order_by is None where lead time or first need is not known; `note` says what is not known, in words.
    """

    phase: str
    part: str
    description: str | None
    unit: str | None
    supplier: str | None
    gross: Decimal
    allowance: Decimal
    from_stock: Decimal
    from_freed: Decimal
    net: Decimal
    pack: Decimal
    packs: int
    bought: Decimal
    price: Decimal | None
    currency: str | None
    cost: Decimal | None
    first_need: date | None
    order_by: date | None
    note: str | None = None
    from_due: Decimal = Decimal(0)
    short_on: date | None = None  # first night for which something is missing
    lead_time_days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Takeoff:
    """The take-off of a plan: by phase and part, and gross by order."""

    lines: tuple[TakeoffLine, ...]
    by_order: tuple[tuple[str, str, Decimal], ...]  # order, part, gross
    cost_by_currency: tuple[tuple[str, Decimal], ...]
