"""The list of the orders of one plan."""

from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.html import format_html

from inventory.core.saying import number_words
from inventory.tables import Cell, ListTable
from inventory.templatetags.saying import day, marked, moment, money
from planner.models import Order

NONE_YET = "none yet"


def _order_shown(order: Any) -> object:
    return format_html('<a class="key" href="{}">{}</a>', reverse("order", args=[order.pk]), order.key)


def _stations_shown(order: Any) -> object:
    """Show how many stations an order converts as a link to them: its name alone would mean the plan in force."""
    asked = urlencode({"order": order.key, "plan": order.plan_id})
    return format_html('<a href="{}?{}">{}</a>', reverse("stations"), asked, number_words(order.stations))


def _state_shown(order: Any) -> object:
    """Show how an order stands; where another plan says so, which, and for what night."""
    if order.stands == order.state:
        return marked(order.state)
    night = f", night of {day(order.stands_night)}" if order.stands_night else ""
    return format_html("{} by no. {}{}", marked(order.stands), order.stands_plan, night)


def _start(order: Order) -> object:
    return moment(order.start, order.building.time_zone) if order.start else "not dated"


class OrderTable(ListTable):
    """Orders: where, when, by whom, for how much; of those left out, why."""

    order = Cell("Order", lambda order: order.key, _order_shown, sort="key")
    building = Cell("Building", lambda order: order.building.key, sort="building__key")
    night = Cell(
        "Night of", lambda order: order.night, lambda order: day(order.night) if order.night else NONE_YET, sort="night"
    )
    start = Cell("Starts", lambda order: order.start, _start, sort="start")
    crew = Cell("Crew", lambda order: order.crew, lambda order: order.crew or NONE_YET, sort="crew")
    phase = Cell("Phase", lambda order: order.phase, lambda order: order.phase or NONE_YET, sort="phase")
    stations = Cell("Stations", lambda order: order.stations, _stations_shown, numeric=True, sort="stations")
    cost = Cell(
        "Cost", lambda order: order.cost, lambda order: money(order.cost, order.currency), numeric=True, sort="cost"
    )
    state = Cell("State", lambda order: order.stands, _state_shown, sort="stands")
    why = Cell(
        "Why not dated", lambda order: order.reason, lambda order: order.reason or "it is dated", sort="reason_code"
    )

    caption = "Orders"
    seldom = ("night",)
