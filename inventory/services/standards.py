"""The open standards' protocol rows, kept in the tables as the built-in list says; a workbook's own rows win."""

from dataclasses import fields
from typing import Any

from django.db import connections, transaction

from inventory.core.catalogue import ProtocolRow
from inventory.core.standards import open_standards
from inventory.models import Protocol, ProtocolRate

LIMITS = tuple(field.name for field in fields(ProtocolRow) if field.name not in {"protocol", "bit_rate_kbit_s"})


@transaction.atomic
def sync_open_standards(rows: tuple[ProtocolRow, ...]) -> int:
    """Store the built-in rows, leave alone what a workbook has put in their place, and return how many were written."""
    names = {key: Protocol(pk=pk, key=key) for key, pk in Protocol.objects.values_list("key", "pk")}
    stored = {(rate.protocol_id, rate.bit_rate_kbit_s): rate for rate in ProtocolRate.objects.all()}
    written = 0
    for row in rows:
        if row.protocol not in names:
            names[row.protocol] = Protocol.objects.create(key=row.protocol)
        rate = stored.get((names[row.protocol].pk, row.bit_rate_kbit_s))
        written += _put(row, names[row.protocol], rate)
    return written


def _put(row: ProtocolRow, protocol: Protocol, rate: ProtocolRate | None) -> bool:
    if rate is None:
        rate = ProtocolRate(protocol=protocol, bit_rate_kbit_s=row.bit_rate_kbit_s, built_in=True)
    elif not rate.built_in or all(getattr(rate, name) == getattr(row, name) for name in LIMITS):
        return False
    for name in LIMITS:
        setattr(rate, name, getattr(row, name))
    rate.save()
    return True


def after_migrate(using: str, **_signal: Any) -> None:
    """Put the built-in rows in place after every migration, unless it took the tables away."""
    if ProtocolRate._meta.db_table in connections[using].introspection.table_names():  # noqa: SLF001 - Django's documented name
        sync_open_standards(open_standards())
