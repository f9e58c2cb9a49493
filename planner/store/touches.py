"""What a row of each table bears on: nodes and buses whose segments must be judged anew when the row changes.

TOUCHES is the one table of it. A row is asked before and after its change; a table that is not in it bears on no verdict.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import Any

from django.db import models
from django.db.models import Q

from inventory import models as tables
from inventory.core.catalogue import NodeKind
from planner.core.brief import SETTINGS
from planner.models import BriefSetting
from planner.models.briefs import FIRST_BRIEF

JUDGED_BY = (
    "conductor_c",
    "reserve_pct",
    "supply_reserve_pct",
    "doubt_reach",
    "forbidden_methods",
    "preferred_methods",
)
TITLES = frozenset(setting.title.casefold() for setting in SETTINGS if setting.name in JUDGED_BY)
SILENT = {  # facts that no rule reads
    tables.Node: frozenset({"serial", "condition", "note"}),
    tables.Run: frozenset({"surveyed"}),
    tables.Zone: frozenset({"label", "panel", "circuit", "lowest_pct", "highest_pct"}),
    tables.Scene: frozenset({"label", "levels"}),
    tables.Room: frozenset({"name", "use", "importance", "calendar"}),
    tables.Part: frozenset(
        {"description", "unit", "pack", "lead_time_days", "supplier", "on_hand", "spare_allowance_pct"}
    ),
    tables.EquipmentModel: frozenset({"description", "last_sold", "supported_until", "service_life_years", "part"}),
    tables.Cable: frozenset({"part"}),
    tables.Method: frozenset({"caution"}),
    tables.MethodPin: frozenset({"terminal", "rj45_pin", "source"}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Touched:
    """Ids of nodes and buses whose segments are touched.

    `rewritten` : buses whose own row changed. `near` : buildings of the nodes. `floors` : buildings in which a room
    changed its floor. `names` : names that a bus got or gave up. `everything` : every verdict may differ.
    """

    nodes: frozenset[int] = frozenset()
    buses: frozenset[int] = frozenset()
    rewritten: frozenset[int] = frozenset()
    near: frozenset[int] = frozenset()
    floors: frozenset[int] = frozenset()
    names: frozenset[str] = frozenset()
    everything: bool = False

    def __or__(self, other: "Touched") -> "Touched":
        return Touched(**{one.name: getattr(self, one.name) | getattr(other, one.name) for one in fields(self)})

    def __bool__(self) -> bool:
        return any(getattr(self, one.name) for one in fields(self))


NOTHING = Touched()


def touched_by(rows: Iterable[models.Model]) -> Touched:
    """Return what rows bear on as they are stored now."""
    found = NOTHING
    for row in rows:
        ask = TOUCHES.get(type(row))
        found |= ask(row) if ask else NOTHING
    return found


def is_silent(model: type[models.Model], names: Iterable[str]) -> bool:
    """Tell whether no rule reads any of these facts of a table."""
    return model not in TOUCHES or set(names) <= SILENT.get(model, frozenset())


def _ids(rows: "models.QuerySet[Any]", name: str = "pk") -> frozenset[int]:
    return frozenset(rows.order_by().values_list(name, flat=True).distinct())


def _node(row: Any) -> Touched:
    return Touched(nodes=frozenset({row.pk}), near=frozenset({row.building_id}))


def _run(row: Any) -> Touched:
    """Return the run's bus and its ends; a gateway on that bus does not count: its other sides feel nothing."""
    ends = tables.Node.objects.filter(pk__in=(row.from_node_id, row.to_node_id))
    names_it = Q(bus=row.bus_id) | Q(bus_2=row.bus_id) | Q(bus_3=row.bus_id) | Q(bus_4=row.bus_id)
    own = ends.filter(~Q(model__kind=NodeKind.GATEWAY) | ~Q(pk__in=ends.filter(names_it)))
    return Touched(nodes=_ids(own), buses=frozenset({row.bus_id}), near=_ids(own, "building_id"))


def _of_node(row: Any) -> Touched:
    return Touched(nodes=frozenset({row.node_id}))


def _reading(row: Any) -> Touched:
    return Touched(nodes=frozenset({row.node_id, row.far_id} - {None}))


def _bus(row: Any) -> Touched:
    just = frozenset({row.pk})
    return Touched(buses=just, rewritten=just, names=frozenset({row.key}))


def _room(row: Any) -> Touched:
    return Touched(floors=frozenset({row.building_id}))


def _with_models(models_of: "models.QuerySet[Any]") -> Touched:
    nodes = tables.Node.objects.filter(model__in=models_of)
    return Touched(nodes=_ids(nodes), near=_ids(nodes, "building_id"))


def _old_of(methods: "models.QuerySet[Any]") -> Touched:
    """Return the stations that these methods replace."""
    return _with_models(methods.order_by().values("old_model"))


def _model(row: Any) -> Touched:
    uses = Q(new_model=row) | Q(old_gateway_model=row) | Q(new_gateway_model=row)
    return _with_models(tables.EquipmentModel.objects.filter(pk=row.pk).values("pk")) | _old_of(
        tables.Method.objects.filter(uses)
    )


def _method(row: Any) -> Touched:
    return _with_models(tables.EquipmentModel.objects.filter(pk=row.old_model_id).values("pk"))


def _of_method(row: Any) -> Touched:
    """Return what a part or a pin of a method bears on: pins say whether a signal lands on the screen."""
    return _old_of(tables.Method.objects.filter(pk=row.method_id))


def _part(row: Any) -> Touched:
    return _old_of(tables.Method.objects.filter(parts__part=row))


def _cable(row: Any) -> Touched:
    runs = tables.Run.objects.filter(cable=row)
    return Touched(buses=_ids(runs, "bus_id")) | _old_of(tables.Method.objects.filter(patch_cable=row))


def _rate(row: Any) -> Touched:
    """Return where the protocol is carried or may be put; a bus that names none carries what its stations speak."""
    carried = _ids(tables.Bus.objects.filter(protocol=row.protocol_id))
    nameless = Q(bus__isnull=True) | Q(bus__protocol__isnull=True)
    speaking = tables.Node.objects.filter(nameless, model__protocol=row.protocol_id)
    new = tables.Method.objects.filter(new_protocol=row.protocol_id)
    return Touched(buses=carried, nodes=_ids(speaking)) | _old_of(new)


def _setting(row: Any) -> Touched:
    is_first = row.brief.name == FIRST_BRIEF
    return Touched(everything=is_first and row.setting.casefold() in TITLES)


TOUCHES: dict[type[models.Model], Callable[[Any], Touched]] = {
    tables.Node: _node,
    tables.Run: _run,
    tables.Zone: _of_node,
    tables.Scene: _of_node,
    tables.Reading: _reading,
    tables.Bus: _bus,
    tables.Room: _room,
    tables.EquipmentModel: _model,
    tables.Method: _method,
    tables.MethodPart: _of_method,
    tables.MethodPin: _of_method,
    tables.Part: _part,
    tables.Cable: _cable,
    tables.ProtocolRate: _rate,
    BriefSetting: _setting,
}
