"""Search from anywhere: buildings, rooms, nodes, buses, segments, orders."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import Capability
from inventory.views.guard import requires


@requires(Capability.SEE)
def search(request: HttpRequest) -> HttpResponse:
    """Show what answers to the words sought."""
    return render(request, "planner/search.html", {"sought": request.GET.get("q", "").strip()})
