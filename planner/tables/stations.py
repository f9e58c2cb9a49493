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
