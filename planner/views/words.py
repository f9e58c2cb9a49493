"""The page of words: what each word on this site means."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.core.roles import CAN, Capability
from inventory.views.guard import requires
from planner.core.brief import SETTINGS


@requires(Capability.SEE)
def words(request: HttpRequest) -> HttpResponse:
    """Show the words, the verdicts, the settings of a brief, and who may do what."""
    rights = [(capability.value, sorted(CAN[capability])) for capability in Capability]
    return render(request, "planner/words.html", {"settings_table": SETTINGS, "rights": rights})
