"""A snapshot into tables, so that what tests make of it by hand or by seed can be edited where people edit it."""

from dataclasses import fields
from typing import Any

from inventory import models as tables
from inventory.core import catalogue as records
from inventory.core.snapshot import Snapshot
from planner.services.assess import assess_campus
from tests.campuses import hand_campus
from tests.kept import begin_with

ENDS = {-1: None, 0: "no", 1: "yes", 2: "switch"}


def assessed_by_hand() -> None:
    """Put the campus that was made by hand into empty tables, assessed; once made, its rows are put in again."""
    begin_with(_assessed_by_hand)


def _assessed_by_hand() -> None:
    store(hand_campus())
    assess_campus(by=None)


def store(snapshot: Snapshot) -> None:
    """Put a campus into empty tables, without history; what tables cannot hold (a run without its ends) is left out."""
    store_catalogue(snapshot.catalogue)
    buildings = [tables.Building.objects.create(key=one.key, district=one.district) for one in snapshot.buildings]
    rooms = tables.Room.objects.bulk_create(
        tables.Room(building=buildings[one.building], key=one.key, floor=one.floor) for one in snapshot.rooms
    )
    protocols = {row.key: row for row in tables.Protocol.objects.all()}
    buses = tables.Bus.objects.bulk_create(
        tables.Bus(key=one.key, building=buildings[one.building], protocol=protocols.get(one.protocol or ""))
        for one in snapshot.buses
    )
    _nodes(snapshot, buildings, rooms, buses)
    _runs(snapshot, buses)


def _plain(record: Any, *leave_out: str) -> dict[str, Any]:
    """Return the facts of a record, but for those left out and what has rows of its own."""
    found = {one.name: getattr(record, one.name) for one in fields(record) if one.name not in leave_out}
    return {name: value for name, value in found.items() if not isinstance(value, tuple)}


def store_catalogue(catalogue: records.Catalogue) -> None:
    """Put a catalogue into empty tables."""
    named = {row.protocol for row in catalogue.protocols}
    protocols = {key: tables.Protocol.objects.get_or_create(key=key)[0] for key in sorted(named)}
    for row in catalogue.protocols:
        tables.ProtocolRate.objects.create(protocol=protocols[row.protocol], **_plain(row, "protocol"))
    parts = {one.key: tables.Part.objects.create(**_plain(one)) for one in catalogue.parts}
    cables = {
        one.key: tables.Cable.objects.create(part=parts.get(one.part or ""), **_plain(one, "part"))
        for one in catalogue.cables
    }
    models = {
        one.key: tables.EquipmentModel.objects.create(
            protocol=protocols.get(one.protocol or ""),
            protocol_2=protocols.get(one.protocol_2 or ""),
            part=parts.get(one.part or ""),
            **_plain(one, "protocol", "protocol_2", "part"),
        )
        for one in catalogue.models
    }
    for method in catalogue.methods:
        made = tables.Method.objects.create(
            key=method.key,
            old_model=models[method.old_model],
            new_model=models[method.new_model],
            new_protocol=protocols[method.new_protocol],
            bit_rate_kbit_s=method.bit_rate_kbit_s,
            old_gateway_model=models.get(method.old_gateway_model or ""),
            new_gateway_model=models.get(method.new_gateway_model or ""),
            patch_cable=cables.get(method.patch_cable or ""),
            patch_lead_m=method.patch_lead_m,
        )
        for part in method.parts:
            made.parts.create(part=parts[part.part], quantity=part.quantity, per=part.per, when=part.when)
        for step in method.steps:
            made.steps.create(**_plain(step))


def _nodes(snapshot: Snapshot, buildings: list[Any], rooms: list[Any], buses: list[Any]) -> None:
    models = {row.key: row for row in tables.EquipmentModel.objects.all()}
    nodes, rows = snapshot.nodes, []
    for at, key in enumerate(nodes.key):
        model = snapshot.catalogue.models[nodes.model[at]]
        named = [None if bus < 0 else buses[bus] for bus in nodes.bus[at]]
        row = tables.Node(
            key=key,
            building=buildings[nodes.building[at]],
            room=None if nodes.room[at] < 0 else rooms[nodes.room[at]],
            model=models[model.key],
            bus=named[0],
            bus_2=named[1],
            bus_3=named[2],
            bus_4=named[3],
            ends_bus=ENDS[int(nodes.ends_bus[at])],
            **{
                name: None if getattr(nodes, name)[at] < 0 else int(getattr(nodes, name)[at])
                for name in ("condition", "zones_used", "scenes_used", "box_gangs")
            },
        )
        rows.append(row)
    tables.Node.objects.bulk_create(rows)


def _runs(snapshot: Snapshot, buses: list[Any]) -> None:
    cables = {row.key: row for row in tables.Cable.objects.all()}
    nodes = {row.key: row for row in tables.Node.objects.all()}
    runs, rows = snapshot.runs, []
    for at, key in enumerate(runs.key):
        ends = runs.from_node[at], runs.to_node[at]
        if runs.bus[at] < 0 or min(ends) < 0 or ends[0] == ends[1]:
            continue
        cable = int(runs.cable[at])
        length = float(runs.length_m[at])
        row = tables.Run(
            key=key,
            bus=buses[runs.bus[at]],
            from_node=nodes[snapshot.nodes.key[ends[0]]],
            to_node=nodes[snapshot.nodes.key[ends[1]]],
            cable=None if cable < 0 else cables[snapshot.catalogue.cables[cable].key],
            length_m=None if length != length else length,  # noqa: PLR0124 - NaN
        )
        rows.append(row)
    tables.Run.objects.bulk_create(rows)
