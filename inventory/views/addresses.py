"""What stands behind the question mark of an address, without what no text holds and no database takes."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, QueryDict

NULL = "\0"


class NoNullBytes:
    """Leave null bytes out of what an address asks for, before any page looks it up: nobody types them."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer as the site does."""
        if any(NULL in value for name, values in request.GET.lists() for value in (name, *values)):
            request.GET = without_nulls(request.GET)  # type: ignore[assignment]  # which Django asks for unwritable
        return self.get_response(request)


def without_nulls(asked: QueryDict) -> QueryDict:
    """Return the same names and values without their null bytes."""
    plain = QueryDict(mutable=True)
    for name, values in asked.lists():
        plain.setlist(name.replace(NULL, ""), [value.replace(NULL, "") for value in values])
    return plain
