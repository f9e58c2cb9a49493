"""The campus: how do we stand."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import Capability
from inventory.views.guard import requires


@requires(Capability.SEE)
def campus(request: HttpRequest) -> HttpResponse:
    """Show how the campus stands."""
    return render(request, "planner/campus.html")
