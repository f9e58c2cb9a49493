"""Stations with what the current assessment says of them."""

from typing import Any

from django.urls import reverse
from django.utils.html import format_html

from inventory.tables import Cell, StationTable
from inventory.templatetags.saying import marked


def verdict_shown(record: Any) -> object:
    """Show the verdict as a link to the segment that the node is on."""
    if record.verdict is None:
        return format_html('<span class="unknown">{}</span>', "not assessed")
    return format_html('<a href="{}">{}</a>', reverse("segment", args=[record.segment]), marked(record.verdict))


class JudgedStationTable(StationTable):
    """The list of stations, with the verdict on the segment each is on."""

    verdict = Cell("Verdict", lambda record: record.verdict, verdict_shown, sort="verdict")
    chance = Cell(
        "Chance to fail in 12 months (%)",
        lambda record: _risk(record, "chance", 100.0),
        lambda record: _figure(_risk(record, "chance", 100.0)),
        numeric=True,
        sort="risk__chance",
    )
    risk = Cell(
        "Risk (weighted days)",
        lambda record: _risk(record, "score"),
        lambda record: _figure(_risk(record, "score")),
        numeric=True,
        sort="risk__score",
    )

    seldom = ("chance",)


def _risk(record: Any, name: str, times: float = 1.0) -> float | None:
    """Return a figure of a station's risk; None where it is not known, or was not reckoned yet."""
    found = getattr(record, "risk", None)
    value = getattr(found, name, None)
    return None if value is None else value * times


def _figure(value: float | None) -> str | None:
    return None if value is None else f"{value:.2f}"
