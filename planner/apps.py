"""The planner as a Django application."""

from django.apps import AppConfig


class PlannerConfig(AppConfig):
    """What to do about it."""

    name = "planner"
