"""Risks of stations as they are kept: the same as the pure reckoning, in lists, on pages, renewed when a failure is reported."""

from datetime import timedelta

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Failure, Node, Spare
from planner.models import Job, Reckoning, StationRisk
from planner.services import remembered
from planner.services.ageing import campus_ageing, reckon_risks
from planner.store.ageing import buildings_at_risk, rooms_at_risk
from planner.views import ageing
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


def wear() -> None:
    today = timezone.localdate()
    old = Node.objects.filter(model__key="WS-10", installed__lt=today - timedelta(days=900)).order_by("key")[:12]
    Failure.objects.bulk_create(
        Failure(node=node, date=today - timedelta(days=60 * at + 5), outcome="replaced") for at, node in enumerate(old)
    )


@pytest.fixture
def client() -> Client:
    people = whole_campus()
    wear()
    reckon_risks()
    client = Client()
    client.force_login(people["facilities"])
    return client


def test_what_is_kept_is_what_is_reckoned(client: Client) -> None:
    snapshot, risk = campus_ageing(timezone.localdate())
    ranking = risk.ranking
    kept = {row.node.key: row.score for row in StationRisk.objects.select_related("node")}
    assert len(kept) == len(ranking) == Node.objects.filter(model__kind="station").count()
    for at, score in zip(ranking.station.tolist(), ranking.score.tolist(), strict=True):
        assert kept[snapshot.nodes.key[at]] == (None if np.isnan(score) else score)
    assert None in kept.values(), "a station of unknown age has no figure, and not nought"
    assert Reckoning.objects.get().told == sum(score is not None for score in kept.values())


def test_reckoning_again_leaves_one_of_each(client: Client) -> None:
    before = StationRisk.objects.count()
    reckon_risks()
    assert (StationRisk.objects.count(), Reckoning.objects.count()) == (before, 1)


def test_the_list_of_stations_sorts_by_risk_with_those_not_told_last_both_ways(client: Client) -> None:
    rows = StationRisk.objects.order_by("-score").exclude(score=None)
    top = rows[0].node.key
    page = client.get(reverse("stations"), {"sort": "-risk"}).content.decode()
    body = page[page.index("<tbody>") :]
    first = body[: body.index("</tr>")]
    assert top in first or rows[0].score == rows[1].score
    assert f"{rows[0].score:.2f}" in first
    turned = client.get(reverse("stations"), {"sort": "risk", "as": "csv"}).content.decode("utf-8-sig").splitlines()
    assert turned[1].rsplit(",", 1)[1], "the least risk comes first, not the unknown"
    assert not turned[-1].rsplit(",", 1)[1]


def test_rooms_and_buildings_add_up_their_stations(client: Client) -> None:
    (first, *_) = rooms_at_risk(3)
    scores = StationRisk.objects.filter(node__room=first.pk).values_list("score", flat=True)
    assert first.weighted_days == pytest.approx(sum(score for score in scores if score is not None))  # type: ignore[attr-defined]
    assert first.stations == len(scores)  # type: ignore[attr-defined]
    total = sum(building.weighted_days or 0.0 for building in buildings_at_risk())  # type: ignore[attr-defined]
    assert total == pytest.approx(sum(row.score or 0.0 for row in StationRisk.objects.all()))


def test_a_station_says_its_risk_in_words_or_why_it_cannot(client: Client) -> None:
    told = StationRisk.objects.exclude(score=None).earliest("node")
    page = client.get(reverse("station", args=[told.node_id])).content.decode()
    assert "to fail within twelve months" in page
    untold = StationRisk.objects.filter(score=None).earliest("node")
    assert "Cannot be told" in client.get(reverse("station", args=[untold.node_id])).content.decode()


def test_campus_names_ten_rooms_at_most(client: Client) -> None:
    page = client.get(reverse("campus")).content.decode()
    at_risk = page.partition('id="at-risk"')[2].partition("</section>")[0]
    assert at_risk.count("<tr>") == 1 + min(10, len(rooms_at_risk(99)))


def test_a_reported_failure_has_the_risks_reckoned_anew(client: Client) -> None:
    node = Node.objects.filter(model__key="WS-20").earliest("key")
    day = timezone.localdate().isoformat()
    client.post(reverse("report-failure", args=[node.pk]), {"date": day, "what_failed": "dark"})
    assert Job.objects.filter(kind="ageing").count() == 1


def test_buildings_of_which_nothing_can_be_told_come_last(client: Client) -> None:
    most = max(buildings_at_risk(), key=lambda building: building.weighted_days or 0.0)  # type: ignore[attr-defined]
    silenced = most.key
    StationRisk.objects.filter(node__building=most).update(score=None)
    found = buildings_at_risk()
    assert len(found) > 1
    assert found[-1].key == silenced


def test_a_page_of_very_many_buildings_names_those_of_most_risk(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ageing, "SHOWN_BUILDINGS", 1)
    page = client.get(reverse("ageing")).content.decode()
    schedule = page.partition('aria-labelledby="by-building"')[2].partition("</table>")[0]
    assert schedule.count("<tr>") == 2
    assert buildings_at_risk()[0].key in schedule
    assert f"{len(buildings_at_risk()) - 1} more building" in page


def test_what_is_remembered_of_a_large_campus_is_told_anew_when_its_shelf_changes(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remembered, "MANY", 0)

    def told() -> str:
        return client.get(reverse("ageing")).content.decode().partition("<main")[2].partition("</main>")[0]

    first = told()
    monkeypatch.setattr(ageing, "SHOWN_STATIONS", 1)  # what is remembered does not see this
    assert told() == first
    spare = Spare.objects.earliest("pk")
    spare.on_hand += 5
    spare.save()
    assert told() != first
