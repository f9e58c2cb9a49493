"""Figures that a step asks for: entered at that step, and none is done past one that is not read or says stop."""

from dataclasses import replace
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import MethodStep, Node
from planner.core.plans import Order as OrderRecord
from planner.models import WorkEntry
from planner.models.work import NOTE
from planner.services.work import WorkRefused, journal_of
from planner.store.records import from_json, to_json
from tests.work import Site, asking_order

pytestmark = pytest.mark.django_db

GOOD, WRONG = "1.75", "61"  # ohm, where 1.72 is expected


@pytest.fixture
def site() -> Site:
    """Return an order begun, with all ticked that comes before the hold point that asks for the loop."""
    made = Site(asking_order)
    made.enter("begin")
    made.enter("tick", "change 1")
    made.enter("tick", f"{made.station} 1")
    return made


def read(site: Site, value: str) -> None:
    site.enter("figure", f"loop resistance|B1-L0-G|{site.station}", value)


def hold(site: Site, **more: object) -> WorkEntry:
    return site.enter("tick", f"{site.station} 2", "Ines", **more)


def notes(site: Site) -> list[str]:
    return [entry.text for entry in journal_of(site.order).notes]


def page(site: Site, name: str = "order-work") -> str:
    client = Client()
    client.force_login(site.people["crew"])
    return client.get(reverse(name, args=[site.order.pk])).content.decode()


def test_a_step_is_not_done_before_its_figure_is_read(site: Site) -> None:
    with pytest.raises(WorkRefused, match=r"is not read yet\. Read it, or say why"):
        hold(site)
    read(site, GOOD)
    hold(site)
    assert f"{site.station} 2" in journal_of(site.order).ticks
    assert notes(site) == []


def test_a_step_is_not_done_past_a_figure_that_says_stop_but_with_a_reason_that_is_kept_once(site: Site) -> None:
    read(site, WRONG)
    with pytest.raises(WorkRefused, match="reads 61 ohm: stop"):
        hold(site)
    token = uuid4()
    for _ in range(2):
        hold(site, reason="the meter is off by sixty", token=token)
    assert f"{site.station} 2" in journal_of(site.order).ticks
    (said,) = notes(site)
    assert "reads 61 ohm: stop. Reason: the meter is off by sixty" in said


def test_a_hold_point_stops_at_a_reading_that_no_step_names(site: Site) -> None:
    MethodStep.objects.update(reading=None)
    read(site, WRONG)
    assert "reads 61 ohm: stop" in page(site)
    with pytest.raises(WorkRefused, match="reads 61 ohm: stop"):
        hold(site)
    hold(site, reason="the meter is off by sixty")
    assert f"{site.station} 2" in journal_of(site.order).ticks


def test_a_figure_that_reads_well_the_second_time_needs_no_reason(site: Site) -> None:
    read(site, WRONG)
    read(site, GOOD)
    hold(site)
    assert notes(site) == []


def test_a_figure_read_before_the_order_was_backed_out_is_read_again(site: Site) -> None:
    read(site, GOOD)
    site.enter("back out", text="the lift was out")
    assert journal_of(site.order).figures == set()


def test_a_reason_may_not_be_longer_than_a_note(site: Site) -> None:
    with pytest.raises(WorkRefused, match="Keep it under"):
        hold(site, reason="x" * 2001)
    assert not WorkEntry.objects.filter(act=NOTE).exists()


def test_the_page_asks_for_the_figure_at_its_step_and_not_at_the_foot(site: Site) -> None:
    steps = page(site).split('<ol class="work-steps">', 1)[1].split('<h2 id="serials">')[0]
    at_hold = steps.split('<li class=" hold"')[1].split('<button class="main"')[0]
    assert steps.count("<strong>Loop resistance</strong>") == at_hold.count("<strong>Loop resistance</strong>") == 1
    assert 'name="reason"' in at_hold
    assert 'id="figures"' not in steps


def test_the_page_leads_to_the_next_open_step(site: Site) -> None:
    assert f'next: <a href="#step-{site.station.lower()}-2">Isolate' in page(site)


def test_the_print_leaves_room_for_the_figure_at_its_step(site: Site) -> None:
    steps = page(site, "order-pack").split("<h3>Steps</h3>")[1].split("</table>")[0]
    row = next(row for row in steps.split("<tr") if "Isolate" in row)
    assert "Loop resistance, B1-L0-G to" in row
    assert "good from 1.29 to 2.39" in row  # a quarter below, a tenth and half an ohm above 1.72


def test_the_work_on_thirty_stations_is_a_page_of_less_than_100_kb() -> None:
    site = Site(asking_order)
    record = from_json(OrderRecord, site.order.data)
    stations = (site.station, *(f"B1-L0-S{number}" for number in range(1, 30)))
    (one,) = record.conversions
    many = replace(one, stations=tuple((station, "M-9") for station in stations))
    site.order.data = to_json(replace(record, stations=stations, conversions=(many,)))
    site.order.save()
    site.enter("begin")
    shown = page(site)
    assert shown.count('id="step-') == 1 + 5 * len(stations)
    assert len(shown.encode()) < 100_000


def test_before_it_is_accepted_an_order_says_what_it_would_go_without(site: Site) -> None:
    assert (
        "Accepted as it is, 1 of 1 figures are not read, 1 of 1 serial numbers are not entered, there is no photograph."
        in page(site)
    )
    read(site, GOOD)
    site.enter("serial", site.station, "70-4711")
    assert "Accepted as it is, there is no photograph." in page(site)


def test_steps_name_the_room_on_the_page_and_in_print(site: Site) -> None:
    room = Node.objects.select_related("room").get(key=site.station).room
    assert room is not None
    assert f"{site.station}, room {room.key}, 4" in page(site)
    assert f"{site.station}<br>{room.key}</td>" in page(site, "order-pack")
