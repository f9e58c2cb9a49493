"""The time of the campus: what no building tells otherwise is shown, read and called today by it."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from planner.store.briefs import campus_zone


class CampusTime:
    """Answer each request in the time zone of the campus."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer as the site does, by the clock of the campus."""
        with timezone.override(ZoneInfo(campus_zone())):
            return self.get_response(request)
