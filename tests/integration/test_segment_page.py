"""The page of a segment: its address whatever its name, its landing and figures, and what is not known of it."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import Run
from planner.core.findings import Finding, Outcome, SegmentReport
from planner.models import Segment
from planner.store.records import from_json, to_json
from tests.integration.pages import in_wires, page, people_of_a_joined_campus, signed_in, text_of

pytestmark = pytest.mark.django_db

HOSTILE = ["../x", "<script>alert(1)</script>", "a/b//c/", "..", "100 %", "~2E", "\N{SNOWMAN} é", "'; DROP TABLE x;--"]


@pytest.fixture
def reader() -> Client:
    return signed_in(people_of_a_joined_campus()["reader"])


def keyed(key: str) -> Segment:
    segment = Segment.objects.get(key="B1-L0")
    report = from_json(SegmentReport, segment.report)
    segment.key, segment.report = key, {**to_json(report), "segment": key, "buses": [key]}
    segment.save()
    return segment


@pytest.mark.parametrize("key", HOSTILE)
def test_a_segment_of_any_name_has_an_address_that_leads_to_it(reader: Client, key: str) -> None:
    segment = keyed(key)
    address = reverse("segment", args=[segment.key])
    assert ".." not in address
    assert address.count("/") == 4  # /segments/of/<key>/
    answer = reader.get(address)
    assert answer.status_code == 200
    assert "<script>alert" not in text_of(answer)
    assert reverse("segment", args=[key]) in text_of(reader.get(reverse("segments"), {"key": key[:3]}))


@pytest.mark.parametrize("part", ["no-such", "~00", "~FF", "B1~00L0", "~2", "a~2Fb", "%00", "..%2f..%2fetc"])
def test_an_address_that_names_no_segment_is_not_found(reader: Client, part: str) -> None:
    assert reader.get(f"/segments/of/{part}/").status_code == 404


@pytest.mark.parametrize(
    "asked", ["verdict=<script>", "building=../x", "stations_from=-1", "key=%00", "page=999999", "sort=nonsense"]
)
def test_the_list_of_segments_survives_any_question(reader: Client, asked: str) -> None:
    answer = reader.get(f"{reverse('segments')}?{asked}")
    assert answer.status_code == 200
    assert "<script>" not in text_of(answer).replace("<script src", "")


def test_a_segment_shows_its_landing_what_is_wrong_with_it_and_what_to_measure(reader: Client) -> None:
    said = page(reader, "segment", in_wires().key)
    assert "Prove dead first." in said
    assert "white/orange" in said  # pin 1 under T568B (TIA-568)
    assert "CAN_H on pin 1 and CAN_L on pin 3 are not one twisted pair" in said
    assert "0.97 ohm" in said  # 40 m out and back at 12.1 ohm/km (IEC 60228): 0.968 ohm
    assert "60.0 ohm" in said  # two 120 ohm ends in parallel (ISO 11898-2)
    assert "23.4 V" in said


def test_a_figure_of_which_a_fact_is_not_known_is_no_figure_but_the_best_there_can_be(reader: Client) -> None:
    def supply(outcome: Outcome) -> Finding:
        return Finding(rule="supply", outcome=outcome, why="", measured=0.0, limit=48.0, unit="W", margin=48.0)

    segment = in_wires()
    segment.report = {**segment.report, "findings": to_json((supply(Outcome.UNKNOWN),))}
    segment.save()
    said = page(reader, "segment", segment.key).replace("\N{NO-BREAK SPACE}", " ").replace("&nbsp;", " ")
    assert "0 W at best</td>" in said
    assert "48 W at best</td>" in said
    segment.report = {**segment.report, "findings": to_json((supply(Outcome.PASS),))}
    segment.save()
    assert "at best" not in page(reader, "segment", segment.key)


@pytest.mark.parametrize(("verdict", "warnings"), [("in place", 0), ("together", 0), ("new cable", 1)])
def test_a_landing_where_nothing_may_be_converted_says_so(reader: Client, verdict: str, warnings: int) -> None:
    segment = in_wires()
    segment.verdict = verdict
    segment.report = {**segment.report, "verdict": verdict}
    segment.save()
    assert page(reader, "segment", segment.key).count("nothing is landed here as things stand") == warnings


def test_a_run_of_unknown_length_leaves_the_loop_to_be_read_and_guesses_nothing(reader: Client) -> None:
    segment = in_wires()
    Run.objects.update(length_m=None)
    said = page(reader, "segment", segment.key)
    assert said.count("not predicted") == 1
    assert "length not known" in said
