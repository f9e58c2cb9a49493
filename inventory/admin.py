"""The inventory in Django's own administration, for those who look after the site; every change keeps its history."""

from django.contrib import admin
from simple_history.admin import SimpleHistoryAdmin

from inventory import models

EDITED = {
    models.Building: ("key", "name", "district"),
    models.Room: ("building", "key", "floor", "name", "importance"),
    models.Protocol: ("key",),
    models.ProtocolRate: ("protocol", "bit_rate_kbit_s", "layout", "source", "built_in"),
    models.Cable: ("key", "power_conductor", "conductor_class"),
    models.Part: ("key", "description", "price", "currency", "on_hand"),
    models.Delivery: ("part", "due", "quantity", "reference"),
    models.EquipmentModel: ("key", "kind", "description", "supported_until"),
    models.Bus: ("key", "building", "protocol"),
    models.Node: ("key", "building", "room", "model", "bus"),
    models.Run: ("key", "bus", "from_node", "to_node", "length_m"),
    models.Zone: ("node", "key", "label"),
    models.Scene: ("node", "key", "label"),
    models.Method: ("key", "old_model", "new_model", "new_protocol"),
    models.MethodPart: ("method", "part", "quantity", "per", "when"),
    models.MethodStep: ("method", "step", "text"),
    models.MethodPin: ("method", "signal", "terminal", "rj45_pin"),
    models.Spare: ("model", "store", "on_hand"),
    models.Failure: ("node", "date", "what_failed", "outcome"),
    models.Reading: ("quantity", "node", "far", "value", "on"),
}


def raw_references(model: type) -> tuple[str, ...]:
    """Return the references of a table: shown as a number to look up, since a list of all nodes would be endless."""
    fields = model._meta.get_fields()  # type: ignore[attr-defined]  # noqa: SLF001 - its documented name
    return tuple(field.name for field in fields if field.many_to_one and field.concrete)


for table, columns in EDITED.items():
    settings = {
        "list_display": columns,
        "list_select_related": True,
        "raw_id_fields": raw_references(table),
        "search_fields": ("key",) if "key" in columns else (),
        "show_full_result_count": False,
    }
    admin.site.register(table, type(f"{table.__name__}Admin", (SimpleHistoryAdmin,), settings))
