"""The survey list: what to find out on site, room by room, to print or to fill in as a workbook."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.core.roles import Capability
from inventory.models import Building
from inventory.views.downloads import XLSX, download
from inventory.views.guard import requires
from planner.core.survey_sheets import Page
from planner.core.surveys import Asked, Stop
from planner.services.remembered import Memory
from planner.services.surveys import Survey, make_survey, rows_in_words, survey_workbook

NAMED_ON_PAPER = 4  # rows of one sheet of the workbook that fit beside an answer
MOST_SHOWN = 70  # questions on one page; the workbook has them all


@requires(Capability.SEE)
def survey(request: HttpRequest) -> HttpResponse:
    """Show the walk, building by building, and the questions that settle the most stations."""
    asked_for = _building(request)
    everything = Memory(timezone.localdate()).of("survey", make_survey)
    made = everything if asked_for is None else make_survey(asked_for)
    context: dict[str, Any] = {
        "survey": made,
        "building": asked_for,
        "buildings": everything.buildings,
        "first": [] if asked_for else made.asked[:10],
        "floors": _floors(made),
        "is_cut": len(made.asked) > MOST_SHOWN,
        "most": MOST_SHOWN,
    }
    return render(request, "planner/survey.html", context)


@requires(Capability.SEE)
def sheets(request: HttpRequest) -> HttpResponse:
    """Show the survey as sheets to print and to fill in by hand."""
    asked_for = _building(request)
    made = make_survey(asked_for)
    context = {"survey": made, "building": asked_for, "pages": [_page(one) for one in made.pages]}
    return render(request, "planner/survey_sheets.html", context)


def _page(page: Page) -> dict[str, Any]:
    rooms = [
        {"room": room, "lines": [{"line": line, "rows": rows_in_words(line.asked, NAMED_ON_PAPER)} for line in lines]}
        for room, lines in page.rooms
    ]
    return {"page": page, "rooms": rooms}


@requires(Capability.SEE)
def workbook(request: HttpRequest) -> HttpResponse:
    """Answer with the workbook to fill in on site."""
    asked_for = _building(request)
    name = f"survey-{timezone.localdate().isoformat()}.xlsx"
    return download(survey_workbook(make_survey(asked_for)), name, XLSX)


def _building(request: HttpRequest) -> str | None:
    """Return the building that is asked for, None for all; one that is not there is not found."""
    key = request.GET.get("building")
    return get_object_or_404(Building, key=key).key if key else None


def _floors(made: Survey) -> list[dict[str, Any]]:
    """Return one block a floor, with a row for each question; the first of each room says how many rows the room has."""
    blocks: list[dict[str, Any]] = []
    shown = 0
    for stop in made.stops:
        if shown >= MOST_SHOWN:
            break
        place = (stop.spot.building, stop.spot.floor)
        if not blocks or blocks[-1]["place"] != place:
            blocks.append({"place": place, "building": stop.spot.building, "floor": stop.spot.floor, "rooms": []})
        blocks[-1]["rooms"].append({"room": stop.spot.room, "asked": [_row(one) for one in _some(stop, shown)]})
        shown += len(stop.asked)
    return blocks


def _some(stop: Stop, shown: int) -> tuple[Asked, ...]:
    return stop.asked[: MOST_SHOWN - shown]


def _row(one: Asked) -> dict[str, Any]:
    return {"one": one, "rows": rows_in_words(one)}
