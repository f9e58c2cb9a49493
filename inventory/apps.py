"""The inventory as a Django application."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate
from django.utils.module_loading import import_string

from inventory.services.roles import ensure_roles

STANDARDS = "inventory.services.standards.after_migrate"  # by name: it needs the models, which are not there yet


class InventoryConfig(AppConfig):
    """What stands on the campus."""

    name = "inventory"

    def ready(self) -> None:
        """Have what the site cannot do without put in place after every migration."""
        post_migrate.connect(ensure_roles, sender=self)
        post_migrate.connect(import_string(STANDARDS), sender=self)
