"""The inventory in Django's own administration, to look at, for those who look after the site.

Nothing is changed here: a record is changed on its own page, where the verdicts that hang on it are judged again.
"""

from typing import Any

from django.contrib import admin
from django.core.exceptions import PermissionDenied
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import NoReverseMatch, reverse
from simple_history.admin import SimpleHistoryAdmin

from inventory import models
from inventory.store.targets import TARGETS

SHEET_OF = {target.model: code for code, target in TARGETS.items()}
LISTED = {
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


def sign_in(request: HttpRequest, _extra_context: object = None) -> HttpResponse:
    """Stand in for the library's own sign-in, which would not count failures: who comes here has signed in to the site."""
    if not admin.site.has_permission(request):
        raise PermissionDenied
    return redirect("admin:index")


admin.site.login = sign_in  # type: ignore[method-assign,assignment]  # as its documentation has it


class LookedAtAdmin(SimpleHistoryAdmin):  # type: ignore[misc]  # the library has no types
    """Records as they are and were, with a way to the page where they are changed."""

    def has_add_permission(self, _request: HttpRequest) -> bool:
        """Nobody adds here."""
        return False

    def has_change_permission(self, _request: HttpRequest, _obj: Model | None = None) -> bool:
        """Nobody changes here."""
        return False

    def has_delete_permission(self, _request: HttpRequest, _obj: Model | None = None) -> bool:
        """Nobody removes here."""
        return False

    def has_change_history_permission(self, _request: HttpRequest, _obj: Model | None = None) -> bool:
        """Nobody goes back to an earlier version here."""
        return False

    def history_form_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Show an earlier version; the library would also store it."""
        if request.method == "POST":
            raise PermissionDenied
        answer: HttpResponse = super().history_form_view(request, *args, **kwargs)
        return answer

    def view_on_site(self, row: Model) -> str | None:
        """Return the record's own page, where it can be changed."""
        code = SHEET_OF.get(type(row), "")
        try:
            return reverse(f"{code.replace('_', '-')}-record", args=[row.pk])
        except NoReverseMatch:
            return None


for table, columns in LISTED.items():
    settings = {
        "list_display": columns,
        "list_select_related": True,
        "raw_id_fields": raw_references(table),
        "search_fields": ("key",) if "key" in columns else (),
        "show_full_result_count": False,
    }
    admin.site.register(table, type(f"{table.__name__}Admin", (LookedAtAdmin,), settings))
