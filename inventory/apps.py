"""The inventory as a Django application."""

from django.apps import AppConfig


class InventoryConfig(AppConfig):
    """What stands on the campus."""

    name = "inventory"
