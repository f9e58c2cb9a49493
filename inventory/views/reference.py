"""A page to look things up: where the limits come from."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import Capability
from inventory.models import ProtocolRate
from inventory.views.guard import requires


@requires(Capability.SEE)
def sources(request: HttpRequest) -> HttpResponse:
    """Show every protocol limit with its source."""
    rates = ProtocolRate.objects.select_related("protocol")
    return render(request, "inventory/sources.html", {"rates": rates})
