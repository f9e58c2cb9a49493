"""Core records to and from JSON: dates as ISO text, money as text, enums by value, tuples as lists."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeVar

from cattrs import Converter

T = TypeVar("T")


def _converter() -> Converter:
    converter = Converter(unstruct_collection_overrides={tuple: list})
    converter.register_unstructure_hook(Decimal, str)
    converter.register_structure_hook(Decimal, lambda value, _: Decimal(value))
    for kind in (datetime, date):
        converter.register_unstructure_hook(kind, lambda value: value.isoformat())
    converter.register_structure_hook(datetime, lambda value, _: datetime.fromisoformat(value))
    converter.register_structure_hook(date, lambda value, _: date.fromisoformat(value))
    return converter


_CONVERTER = _converter()


def to_json(record: object) -> Any:
    """Return a record as plain JSON data."""
    return _CONVERTER.unstructure(record)


def from_json(kind: type[T], data: Any) -> T:
    """Return the record of `kind` that `to_json` made this data from."""
    return _CONVERTER.structure(data, kind)
