"""The open standards' protocols, built in: each row one bit rate of one standard, with its source."""

import tomllib
from dataclasses import MISSING, fields
from importlib.resources import files
from itertools import pairwise

from inventory.core.catalogue import Layout, ProtocolRow

TABLE = "protocols.toml"
FIELDS = frozenset(field.name for field in fields(ProtocolRow))
NEEDED = frozenset(field.name for field in fields(ProtocolRow) if field.default is MISSING) | {"source"}


class StandardsError(ValueError):
    """The built-in table of standards says something that a protocol row cannot hold."""


def open_standards() -> tuple[ProtocolRow, ...]:
    """Return the built-in protocol rows, sorted by protocol and bit rate.

    Examples
    --------
    >>> [row.longest_bus_m for row in open_standards() if row.protocol == "CAN (CiA 301)" and row.bit_rate_kbit_s == 125]
    [500.0]

    """
    return read_standards(files("inventory.core").joinpath(TABLE).read_text(encoding="utf-8"))


def read_standards(text: str) -> tuple[ProtocolRow, ...]:
    """Return the protocol rows of a table of standards in TOML, sorted by protocol and bit rate.

    Raises
    ------
    StandardsError
        If a row has a field that protocols do not have, lacks its source, or comes twice.

    """
    rows = [
        _row({**{name: value for name, value in standard.items() if name != "rows"}, **own})
        for standard in tomllib.loads(text)["standard"]
        for own in standard["rows"]
    ]
    rows.sort(key=_key)
    for before, after in pairwise(rows):
        if _key(before) == _key(after):
            raise StandardsError(f"{after.protocol} at {after.bit_rate_kbit_s} kbit/s stands twice in {TABLE}")
    return tuple(rows)


def _key(row: ProtocolRow) -> tuple[str, float]:
    return row.protocol, row.bit_rate_kbit_s if row.bit_rate_kbit_s is not None else -1.0


def _row(facts: dict[str, object]) -> ProtocolRow:
    name = facts.get("protocol", "a standard without a name")
    if unknown := sorted(facts.keys() - FIELDS):
        raise StandardsError(f"{name} has fields that no protocol row has: {', '.join(unknown)}")
    if missing := sorted(NEEDED - facts.keys()):
        raise StandardsError(f"{name} lacks {', '.join(missing)}")
    return ProtocolRow(**{field: _value(field, value) for field, value in facts.items()})  # type: ignore[arg-type]


def _value(field: str, value: object) -> object:
    if field == "layout":
        return Layout(str(value))
    is_length_or_rate = isinstance(value, int) and not isinstance(value, bool) and field not in ("ends", "most_nodes")
    return float(value) if is_length_or_rate else value  # type: ignore[arg-type]
