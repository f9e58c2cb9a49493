"""The workbook: what each of its columns holds, and the file itself, blank or filled."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.core.roles import Capability
from inventory.views.downloads import XLSX, download
from inventory.views.guard import requires
from inventory.workbook.sheets import SHEETS
from planner.services.workbook import blank_workbook, filled_workbook


@requires(Capability.SEE)
def workbook(request: HttpRequest) -> HttpResponse:
    """Show the table of sheets and columns that the workbook is made of."""
    return render(request, "planner/workbook.html", {"sheets": SHEETS})


@requires(Capability.SEE)
def blank(_request: HttpRequest) -> HttpResponse:
    """Answer with the blank workbook."""
    return download(blank_workbook(), "campus-blank.xlsx", XLSX)


@requires(Capability.SEE)
def filled(_request: HttpRequest) -> HttpResponse:
    """Answer with the workbook that holds this campus."""
    return download(filled_workbook(), f"campus-{timezone.localdate().isoformat()}.xlsx", XLSX)
