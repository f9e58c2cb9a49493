"""The roles as groups of users."""

from typing import Any

from django.apps import apps as installed
from django.apps.registry import Apps

from inventory.core.roles import Role


def ensure_roles(using: str, apps: Apps = installed, **_signal: Any) -> None:
    """Make sure, after every migration, that each role exists as a group; those that exist are left alone."""
    groups = apps.get_model("auth", "Group")._default_manager.using(using)  # noqa: SLF001 - Django's documented name
    have = set(groups.values_list("name", flat=True))
    for role in Role:
        if role.value not in have:
            groups.create(name=role.value)
