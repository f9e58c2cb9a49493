"""The answer where a page needs the words of verdicts that nobody can write now."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from planner.services.words import NotInWords


class SayNotInWords:
    """Middleware: answers `NotInWords` with a page that says what to do."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self._get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer in words."""
        if not isinstance(exception, NotInWords):
            return None
        return render(request, "planner/unworded.html", {"why": str(exception)}, status=503)
