# ruff: noqa: S608, SLF001 - names in SQL come from the models, never from a person; _meta is how Django tells of them
"""Where each sheet of the workbook is kept. Columns fill the fields of the same names; what differs stands here."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from django.contrib.auth.models import User
from django.db import models

from inventory.models import (
    Building,
    Bus,
    Cable,
    Delivery,
    EquipmentModel,
    Failure,
    Method,
    MethodPart,
    MethodPin,
    MethodStep,
    Node,
    Part,
    ProtocolRate,
    Room,
    Run,
    Scene,
    Spare,
    Zone,
)
from inventory.workbook.columns import Column, Kind, Sheet
from inventory.workbook.sheets import BY_CODE, SHEETS

By = User | None
if TYPE_CHECKING:
    DjangoField = models.Field[Any, Any]
else:
    DjangoField = models.Field


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The table of one sheet.

    `makes` : references whose row is made where there is none yet. `sets` : database columns that every row from a
    workbook gets, with a function of the person who takes it in. `also_key` : those of them that belong to the key.
    `owned` : filter for the rows that a workbook holds; other rows are neither absent nor written out.
    """

    model: type[models.Model]
    makes: tuple[str, ...] = ()
    sets: Mapping[str, Callable[[By], object]] = field(default_factory=dict)
    also_key: tuple[str, ...] = ()
    owned: Mapping[str, object] = field(default_factory=dict)


Targets = Mapping[str, Target]


def _not_built_in(_by: By) -> bool:
    return False


TARGETS: dict[str, Target] = {
    "buildings": Target(model=Building),
    "rooms": Target(model=Room),
    "protocols": Target(
        model=ProtocolRate, makes=("protocol",), sets={"built_in": _not_built_in}, owned={"built_in": False}
    ),
    "cables": Target(model=Cable),
    "parts": Target(model=Part),
    "deliveries": Target(model=Delivery),
    "models": Target(model=EquipmentModel),
    "buses": Target(model=Bus),
    "nodes": Target(model=Node),
    "runs": Target(model=Run),
    "zones": Target(model=Zone),
    "scenes": Target(model=Scene),
    "methods": Target(model=Method),
    "method_parts": Target(model=MethodPart),
    "method_steps": Target(model=MethodStep),
    "method_pins": Target(model=MethodPin),
    "spares": Target(model=Spare),
    "failures": Target(model=Failure),
}


def sheets_of(targets: Iterable[str]) -> tuple[Sheet, ...]:
    """Return the sheets with a target, in the order in which they can be stored."""
    wanted = set(targets)
    return tuple(sheet for sheet in SHEETS if sheet.code in wanted)


def field_of(model: type[models.Model], name: str) -> DjangoField:
    """Return the field that a column fills."""
    found = model._meta.get_field(name)
    if not isinstance(found, models.Field):
        message = f"{model.__name__}.{name} is no field"
        raise TypeError(message)
    return found


def fields_by_column(model: type[models.Model]) -> dict[str, DjangoField]:
    """Return the fields of a table by database column, in the order of the table."""
    return {str(found.column): found for found in model._meta.concrete_fields}


def key_path(column: Column) -> str:
    """Return the path of lookups from a row to what the workbook writes in this column."""
    return f"{column.name}__key" if column.kind is Kind.REFERENCE else column.name


def natural_key(code: str) -> tuple[str, ...]:
    """Return the paths of lookups that make up the key of a sheet that references name."""
    if code not in BY_CODE:
        return ("key",)
    sheet = BY_CODE[code]
    return tuple(key_path(sheet.column(name)) for name in sheet.key)
