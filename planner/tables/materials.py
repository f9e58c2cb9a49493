"""The take-off as a list."""

from typing import Any

from django.utils.html import format_html

from inventory.core.saying import money_words, number_words
from inventory.tables import Cell, ListTable, today
from inventory.templatetags.saying import day
from inventory.workbook.lists import Value


def _amount(name: str) -> tuple[Any, Any]:
    """Return what a column of quantities exports and shows."""

    def value(line: Any) -> Value:
        amount: Value = getattr(line, name)
        return amount

    return value, lambda line: number_words(getattr(line, name), line.unit or "")


def _order_by(line: Any) -> object:
    if line.net <= 0:
        return format_html('<span class="quiet">{}</span>', "nothing to buy")
    if line.order_by and line.order_by < today():
        return format_html("<strong>late: {}</strong>", day(line.order_by))
    return day(line.order_by)


def _cost(line: Any) -> object:
    return None if line.cost is None else money_words(line.cost, line.currency)


def _price(line: Any) -> object:
    return None if line.price is None else money_words(line.price, line.currency)


class TakeoffTable(ListTable):
    """Part by part and phase by phase: what is used, what is there, what to buy by when."""

    part = Cell("Part", lambda line: line.part, sort="part")
    description = Cell("Description", lambda line: line.description, sort="description")
    phase = Cell("Phase", lambda line: line.phase, sort="phase")
    supplier = Cell("Supplier", lambda line: line.supplier, sort="supplier")
    order_by_date = Cell("Order by", lambda line: line.order_by, _order_by, sort="order_by")
    first_need = Cell("First need", lambda line: line.first_need, lambda line: day(line.first_need), sort="first_need")
    gross = Cell("Used", *_amount("gross"), numeric=True, sort="gross")
    allowance = Cell("Allowance", *_amount("allowance"), numeric=True, sort="allowance")
    from_stock = Cell("From stock", *_amount("from_stock"), numeric=True, sort="from_stock")
    from_freed = Cell("Freed earlier", *_amount("from_freed"), numeric=True, sort="from_freed")
    net = Cell("Missing", *_amount("net"), numeric=True, sort="net")
    packs = Cell("Packs", *_amount("packs"), numeric=True, sort="packs")
    bought = Cell("To buy", *_amount("bought"), numeric=True, sort="bought")
    unit = Cell("Unit", lambda line: line.unit, sort="unit")
    price = Cell("Price", lambda line: line.price, _price, numeric=True, sort="price")
    cost = Cell("Cost", lambda line: line.cost, _cost, numeric=True, sort=("currency", "cost"))
    currency = Cell("Currency", lambda line: line.currency, sort="currency")
    note = Cell("Note", lambda line: line.note, lambda line: line.note or "none", sort="note")

    caption = "Materials"
    tie_break = "pk"

    seldom = ("allowance", "from_stock", "from_freed", "first_need", "packs", "unit", "price", "currency")

    class Meta:
        order_by = ("order_by_date", "phase", "part")
