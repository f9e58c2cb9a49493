"""The campus: how do we stand."""

from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from inventory.core.roles import Capability
from inventory.core.saying import MONTHS
from inventory.filters import NONE
from inventory.models import Intake
from inventory.templatetags.saying import TONES
from inventory.views.guard import may_any_order, requires
from planner.core.findings import Verdict
from planner.filters.orders import TO_DO
from planner.filters.stations import CONVERTED, PLANNED
from planner.handover.charts import Figure, bar, columns
from planner.handover.headway_chart import headway_drawing
from planner.models import Assessment
from planner.services import standing
from planner.services.converted import Dated, last_day, month_by_month, stations_dated
from planner.services.remembered import Memory
from planner.store.ageing import rooms_at_risk
from planner.store.verdicts import current_assessment
from planner.views.own_orders import about_crews, own_crews, visible

SHOWN_ROOMS = 10


@requires(Capability.SEE)
def first(request: HttpRequest) -> HttpResponse:
    """Lead a person to where the day begins: those who carry orders out to what their crews have still to do, others to the campus."""
    if may_any_order(request, Capability.SEE) or not own_crews(request):
        return redirect("campus")
    return redirect(f"{reverse('orders')}?{urlencode({'show': TO_DO, 'sort': 'start'})}")


@requires(Capability.SEE)
def campus(request: HttpRequest) -> HttpResponse:
    """Show how the campus stands; a new one shows the steps to its first verdict."""
    assessment = current_assessment()
    intake = Intake.objects.select_related("by").defer("content").first()
    today, now = timezone.localdate(), timezone.now()
    memory = Memory(today)
    bands = memory.of("ages", lambda: standing.stations_by_age(today))
    stations = sum(band.stations for band in bands)
    context: dict[str, Any] = {"intake": intake, "assessment": assessment, "stations": stations}
    if assessment is None:
        return render(request, "planner/first_steps.html", context)
    plan = standing.current_plan()
    orders = visible(request, standing.orders_of(plan))
    dated, overdue = stations_dated(plan), standing.overdue_orders(orders, now)
    context |= {
        "verdicts": verdict_rows(assessment, memory.of("verdicts", lambda: standing.stations_by_verdict(assessment))),
        "all_leave": not any(count for verdict, count in assessment.counts.items() if verdict != Verdict.LEAVE),
        "ages": age_drawing(bands),
        "age_rows": [(_age_words(band), _age_figure(band)) for band in bands],
        "plan": plan,
        "done": len(dated.done),
        "planned": len(dated.planned),
        "dated": PLANNED,
        "converted": CONVERTED,
        "headway": _headway(dated, today),
        "next_orders": standing.next_orders(orders, now),
        "overdue": overdue,
        "overdue_count": standing.count_overdue(orders, now, overdue),
        "backed_out": standing.count_backed_out(orders),
        "questions": memory.of("questions", lambda: standing.questions(assessment)),
        "failures": standing.recent_failures(today),
        "late_deliveries": standing.late_deliveries(today),
        "yesterday": today - timedelta(days=1),
        "rooms_at_risk": memory.of("rooms", lambda: rooms_at_risk(SHOWN_ROOMS)),
        "failures_since": standing.first_day_of_failures(today),
        "today": today,
        **about_crews(request),
    }
    return render(request, "planner/campus.html", context)


def stations_address(**asked: object) -> str:
    """Return the address of the list of stations, narrowed."""
    return f"{reverse('stations')}?{urlencode(asked)}"


def verdict_rows(assessment: Assessment, counts: dict[str | None, int]) -> list[dict[str, Any]]:
    """Return a row for each verdict: word, stations (`counts`), segments, bar, address."""
    most = max(counts.values())
    return [
        {
            "verdict": verdict,
            "stations": count,
            "segments": assessment.counts.get(verdict, 0) if verdict else None,
            "bar": _drawn(bar(count, most, TONES[verdict] if verdict else "rest")),
            "address": stations_address(verdict=verdict or NONE),
            "segments_address": f"{reverse('segments')}?{urlencode({'verdict': verdict})}" if verdict else None,
        }
        for verdict, count in counts.items()
        if verdict or count
    ]


def _headway(dated: Dated, today: date) -> dict[str, Any] | None:
    """Return the drawing of stations converted against the plan, and the table behind it; None where nothing is dated."""
    if not dated.planned:
        return None
    drawn = headway_drawing(list(dated.planned.values()), list(dated.done.values()), today)
    months = [(f"{MONTHS[one.month - 1]} {one.year}", one, last_day(one).isoformat()) for one in month_by_month(dated)]
    return {"drawing": _drawn(drawn), "months": months}


def age_drawing(bands: tuple[standing.Band, ...]) -> SafeString:
    """Return the drawing of stations by age."""
    return _drawn(columns("Stations by age", [_age_figure(band) for band in bands], "age in years"))


def _age_figure(band: standing.Band) -> Figure:
    asked: dict[str, object]
    if band.years is None:
        label, asked = "not\nknown", {"installed": NONE}
    elif band.below is None:
        label, asked = f"{band.years} and\nover", {"age_from": band.years}
    else:
        label, asked = f"{band.years} to\n{band.below}", {"age_from": band.years, "age_below": band.below}
    return Figure(
        label=label,
        count=band.stations,
        spoken=f"Age {_age_words(band)}: {band.stations} stations",
        address=stations_address(**asked),
        tone="pair" if band.years is not None else "ask",
    )


def _age_words(band: standing.Band) -> str:
    if band.years is None:
        return "not known"
    return f"{band.years} years and over" if band.below is None else f"{band.years} to {band.below} years"


def _drawn(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308 - drawn by planner.handover.charts, which escapes every word
