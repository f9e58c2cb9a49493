"""The planner as a Django application."""

from django.apps import AppConfig

from planner.services.clock import go_by_campus_clock


class PlannerConfig(AppConfig):
    """What to do about it."""

    name = "planner"

    def ready(self) -> None:
        """Go by the demo's clock where this is the demo."""
        go_by_campus_clock()
