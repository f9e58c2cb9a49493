"""Pages to look things up: where the limits come from, and the table of the workbook."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import Capability
from inventory.models import ProtocolRate
from inventory.views.guard import requires
from inventory.workbook.sheets import SHEETS


@requires(Capability.SEE)
def sources(request: HttpRequest) -> HttpResponse:
    """Show every protocol limit with its source."""
    rates = ProtocolRate.objects.select_related("protocol")
    return render(request, "inventory/sources.html", {"rates": rates})


@requires(Capability.SEE)
def workbook(request: HttpRequest) -> HttpResponse:
    """Show the table of sheets and columns that the workbook is made of."""
    return render(request, "inventory/workbook.html", {"sheets": SHEETS})
