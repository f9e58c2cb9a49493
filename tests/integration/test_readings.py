"""Figures that were read on site: entered on a segment's page, kept with who and when, and felt by the verdict."""

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.core.readings import Quantity
from inventory.core.roles import Role
from inventory.models import Node, Reading, Run
from inventory.services.records import edit_record
from inventory.store import load_snapshot
from planner.models import Segment
from planner.services.assess import assess_campus
from planner.services.readings import Entry, enter_readings
from planner.services.reassess import change
from planner.store.verdicts import current_assessment
from tests.campus_tables import assessed_by_hand
from tests.site_campus import people

pytestmark = pytest.mark.django_db

LINE, GATEWAY, STATION = "B1-L01", "B1-L01-G", "B1-S101"
# 40 m of 18 AWG stranded: NEC ch. 9 Table 8, 7.95 ohm in 1000 ft at 75 C, so 1.72 ohm out and back at 20 C
GOOD_OHM, TOO_HIGH_OHM = 1.8, 4.3


@pytest.fixture
def staff() -> dict[str, User]:
    """Store the campus by hand and assess it; return its people."""
    assessed_by_hand()
    return people()


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def verdict(key: str = LINE) -> str:
    return str(Segment.objects.get(assessment=current_assessment(), key=key).verdict)


def loop(value: float) -> Entry:
    return Entry(quantity=Quantity.LOOP, node=GATEWAY, far=STATION, value=value)


def name(quantity: Quantity = Quantity.LOOP, node: str = GATEWAY, far: str = STATION) -> str:
    return f"read|{quantity.value}|{node}|{far}"


def enter(client: Client, **fields: Any) -> Any:
    data = {"on": timezone.localdate().isoformat(), **fields.pop("read", {}), **fields}
    return client.post(reverse("segment-read", args=[LINE]), data)


def text(answer: Any) -> str:
    return str(answer.content.decode())


def test_a_reading_is_kept_with_who_when_and_how(staff: dict[str, User]) -> None:
    answer = enter(
        client_of(staff["crew"]), read={name(): "1.8 ohm"}, instrument="Bridge 4, calibrated 1 Feb 2027", note="warm"
    )
    assert answer.status_code == 302
    kept = Reading.objects.get()
    assert (kept.quantity, kept.node.key, kept.value, kept.by) == ("loop resistance", GATEWAY, GOOD_OHM, staff["crew"])
    assert (kept.far and kept.far.key, kept.on, kept.note) == (STATION, timezone.localdate(), "warm")
    assert kept.history.get().history_user == staff["crew"]
    said = text(client_of(staff["reader"]).get(reverse("segment", args=[LINE])))
    assert "Bridge 4, calibrated 1 Feb 2027" in said
    assert "As the records predict." in said


def test_a_good_reading_turns_no_verdict(staff: dict[str, User]) -> None:
    assert verdict() == "in place"
    enter(client_of(staff["crew"]), read={name(): "1,8"})
    assert verdict() == "in place"


def test_a_reading_that_contradicts_the_records_asks_for_a_survey_at_once(staff: dict[str, User]) -> None:
    client = client_of(staff["crew"])
    answer = enter(client, read={name(): str(TOO_HIGH_OHM)})
    assert verdict() == "survey first"
    page = text(client.get(answer.url))
    assert "B1-L01 is now survey first" in page
    assert "because a figure read on " in page
    # 4.3 / 1.716 x 40 m = 100.2 m
    assert "100 m of wire on the way instead of 40 m" in page
    assert "Length of run R-B1-S101 (Bus B1-L01)?" in page


def test_the_verdict_is_that_of_an_assessment_from_scratch(staff: dict[str, User]) -> None:
    enter_readings([loop(TOO_HIGH_OHM)], timezone.localdate(), by=staff["crew"])
    kept = {one.key: one.verdict for one in Segment.objects.filter(assessment=current_assessment())}
    assess_campus(by=None)
    assert {one.key: one.verdict for one in Segment.objects.filter(assessment=current_assessment())} == kept


def test_the_verdict_comes_back_when_the_figure_is_measured_anew(staff: dict[str, User]) -> None:
    enter_readings([loop(TOO_HIGH_OHM)], timezone.localdate(), by=staff["crew"])
    enter_readings([loop(GOOD_OHM)], timezone.localdate(), by=staff["crew"])
    assert verdict() == "in place"
    assert Reading.objects.count() == 2, "the earlier one stays on record"


def test_the_verdict_comes_back_when_the_record_is_corrected(staff: dict[str, User]) -> None:
    enter_readings([loop(TOO_HIGH_OHM)], timezone.localdate(), by=staff["crew"])
    run = Run.objects.get(key="R-B1-S101")
    change([run], lambda: (None, [edit_record(run, {"length_m": 100.0}, None)]), "surveyed", by=None)
    assert verdict() == "in place"


def test_the_same_line_read_from_its_other_end_is_the_same_place(staff: dict[str, User]) -> None:
    enter_readings([loop(TOO_HIGH_OHM)], timezone.localdate(), by=None)
    back = Entry(quantity=Quantity.LOOP, node=STATION, far=GATEWAY, value=GOOD_OHM)
    enter_readings([back], timezone.localdate(), by=None)
    assert [one.value for one in load_snapshot().readings] == [GOOD_OHM]


def test_a_reading_of_an_earlier_day_does_not_count_against_a_newer_one(staff: dict[str, User]) -> None:
    enter_readings([loop(GOOD_OHM)], timezone.localdate(), by=None)
    enter_readings([loop(TOO_HIGH_OHM)], timezone.localdate() - timedelta(days=1), by=None)
    assert verdict() == "in place"


def test_the_backbone_of_a_gateway_does_not_feel_what_is_read_on_its_line(staff: dict[str, User]) -> None:
    before = verdict("B1-N0")
    data = Entry(quantity=Quantity.DATA_LINES, node=GATEWAY, far=STATION, value=120.0)
    enter_readings([data], timezone.localdate(), by=None)
    assert verdict("B1-N0") == before
    assert verdict() == "survey first"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("much", "is no figure in ohm"),
        ("-1", "is below 0"),
        ("1,234", "can be read in two ways"),
        ("1e9", "is an open pair"),
        ("inf", "is no figure"),
        ("nan", "is no figure"),
    ],
)
def test_a_wrong_figure_is_worded_beside_its_field_and_nothing_is_stored(
    staff: dict[str, User], typed: str, words: str
) -> None:
    volts = f"read|{Quantity.NO_LOAD.value}|{STATION}|"
    answer = enter(client_of(staff["crew"]), read={name(): typed, volts: "24"}, note="kept as typed")
    said = text(answer)
    assert answer.status_code == 400
    assert words in said
    assert 'value="kept as typed"' in said
    assert 'value="24"' in said
    assert Reading.objects.count() == 0


def test_more_volts_than_the_wiring_can_have_stop_the_work(staff: dict[str, User]) -> None:
    volts = f"read|{Quantity.NO_LOAD.value}|{STATION}|"
    said = text(enter(client_of(staff["crew"]), read={volts: "231 V"}))
    assert "Stop, isolate and prove dead" in said
    assert Reading.objects.count() == 0


@pytest.mark.parametrize(
    ("on", "words"), [("2999-01-01", "has not come yet"), ("soon", "2027-03-02"), ("", "which day")]
)
def test_a_day_that_cannot_be_is_worded_beside_its_field(staff: dict[str, User], on: str, words: str) -> None:
    answer = enter(client_of(staff["crew"]), read={name(): "1.8"}, on=on)
    assert answer.status_code == 400
    assert words in text(answer)
    assert Reading.objects.count() == 0


def test_an_empty_form_asks_for_a_figure(staff: dict[str, User]) -> None:
    assert "No figure was entered" in text(enter(client_of(staff["crew"])))


def test_a_figure_that_is_not_asked_for_any_more_is_not_lost_in_silence(staff: dict[str, User]) -> None:
    said = text(enter(client_of(staff["crew"]), read={name(far="B9-S9"): "1.8"}))
    assert "asks for no figure loop resistance B1-L01-G B9-S9 any more" in said
    assert Reading.objects.count() == 0


@pytest.mark.parametrize("role", [Role.PURCHASING, Role.READER])
def test_who_does_not_measure_sees_figures_and_no_form(staff: dict[str, User], role: Role) -> None:
    client = client_of(staff[role.value])
    said = text(client.get(reverse("segment", args=[LINE])))
    assert "Figures to measure" in said
    assert "Read now" not in said
    assert enter(client, read={name(): "1.8"}).status_code == 403
    assert Reading.objects.count() == 0


def test_the_service_refuses_what_cannot_be_and_keeps_all_or_none(staff: dict[str, User]) -> None:
    today = timezone.localdate()
    gone = Entry(quantity=Quantity.NO_LOAD, node="B9-S9", value=24.0)
    with pytest.raises(ValidationError, match="no node B9-S9"):
        enter_readings([loop(GOOD_OHM), gone], today, by=None)
    with pytest.raises(ValidationError, match="has not come"):
        enter_readings([loop(GOOD_OHM)], today + timedelta(days=1), by=None)
    alone = Entry(quantity=Quantity.LOOP, node=GATEWAY, value=1.0)
    with pytest.raises(ValidationError):
        enter_readings([loop(GOOD_OHM), alone], today, by=None)
    for none in (float("nan"), float("inf")):
        with pytest.raises(ValidationError, match="not a number that can be kept"):
            enter_readings([loop(none)], today, by=None)
    assert Reading.objects.count() == 0


@pytest.mark.parametrize(
    "facts", [{"value": -1.0}, {"quantity": "weight"}, {"far": None}, {"quantity": "voltage without load"}]
)
def test_the_database_holds_no_reading_that_cannot_be(staff: dict[str, User], facts: dict[str, Any]) -> None:
    node, far = Node.objects.get(key=GATEWAY), Node.objects.get(key=STATION)
    good = {"quantity": "loop resistance", "node": node, "far": far, "value": 1.0, "on": timezone.localdate()}
    with pytest.raises(IntegrityError), transaction.atomic():
        Reading.objects.create(**(good | facts), entered=timezone.now())


def test_a_node_that_goes_takes_its_readings_along_and_their_history_stays(staff: dict[str, User]) -> None:
    enter_readings([loop(GOOD_OHM)], timezone.localdate(), by=None)
    Run.objects.filter(key="R-B1-S101").delete()
    Segment.objects.all().delete()
    Node.objects.get(key=STATION).delete()
    assert Reading.objects.count() == 0
    assert Reading.history.filter(quantity=Quantity.LOOP).exists()


def test_figures_that_come_in_twice_under_one_token_count_once(staff: dict[str, User]) -> None:
    client, token = client_of(staff["crew"]), str(uuid4())
    for _ in range(2):
        answer = enter(client, read={name(): str(GOOD_OHM)}, token=token)
    assert "they came in before and count once" in text(client.get(answer.url))
    assert Reading.objects.count() == 1
    enter(client, read={name(): str(GOOD_OHM)}, token=str(uuid4()))
    assert Reading.objects.count() == 2
    enter(client, read={name(): "none"}, token=(refused := str(uuid4())))
    enter(client, read={name(): str(GOOD_OHM)}, token=refused)
    assert Reading.objects.count() == 3, "what was refused has not come in"


def test_a_script_is_told_what_came_of_figures_that_it_kept_without_a_connection(staff: dict[str, User]) -> None:
    client = client_of(staff["crew"])

    def sent(key: str = LINE, **read: str) -> dict[str, str]:
        data = {"on": timezone.localdate().isoformat(), "token": str(uuid4()), name(): read["ohm"]}
        answer = client.post(reverse("segment-read", args=[key]), data, headers={"X-Kept-Entry": "1"})
        assert answer.status_code == 200, "any other answer is taken for a bad connection"
        told: dict[str, str] = answer.json()
        return told

    told = sent(ohm=str(TOO_HIGH_OHM))
    assert "refused" not in told
    assert "1 figure is on record. B1-L01 is now survey first." in told["state"]
    assert ">4.3 ohm<" in told["state"], "no more digits than were read"
    told = sent(ohm="much")
    assert "much is no figure in ohm" in told["refused"]
    assert 'value="much"' in told["state"]
    told = sent("B9-L99", ohm="2.5")
    assert "no segment B9-L99 any more" in told["refused"]
    assert Reading.objects.count() == 1


def test_the_page_of_a_segment_leads_to_the_records_of_its_runs(staff: dict[str, User]) -> None:
    page = text(client_of(staff["facilities"]).get(reverse("segment", args=[LINE])))
    link = re.search(r'<a href="([^"]+)">runs of B1-L01</a>', page)
    assert link
    listed = text(client_of(staff["facilities"]).get(link[1]))
    runs = Run.objects.filter(bus__key="B1-L01")
    assert runs.count() > 0
    assert re.search(rf"<strong>{runs.count()}</strong> runs?\b", listed)
