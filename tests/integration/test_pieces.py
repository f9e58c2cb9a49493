from datetime import UTC, datetime

import pytest
from django.test import Client
from django.urls import reverse

from planner.models import Job
from planner.models.jobs import DONE, FAILED, QUEUED, RUNNING
from planner.services import pieces
from planner.services.pieces import NotOurs, OtherWorkers, places_to_work, read, signed
from planner.tasks import run_job

pytestmark = pytest.mark.django_db(transaction=True)
NOW = datetime(2027, 3, 1, tzinfo=UTC)


@pytest.fixture
def planning() -> Job:
    return Job.objects.create(kind="plan", demand={}, state=RUNNING, made=NOW)


def test_pieces_that_nobody_begins_are_taken_back_and_solved_by_whoever_plans(planning: Job) -> None:
    assert list(OtherWorkers(planning).map(sorted, [[2, 1], [3], [5, 4]])) == [[1, 2], [3], [4, 5]]
    assert not Job.objects.filter(kind=pieces.KIND).exists()


def test_what_a_worker_solved_is_taken_from_its_row(planning: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    ended = []

    def work_at_once(number: int) -> bool:
        run_job(number)
        ended.append(Job.objects.get(pk=number).state)
        Job.objects.filter(pk=number).update(output=signed("from its row"))
        return True

    monkeypatch.setattr(pieces, "send", work_at_once)  # a broker and a worker that are quick
    assert list(OtherWorkers(planning).map(abs, [-1, -2])) == [1, "from its row"]
    assert ended == [DONE]


def test_a_worker_gives_the_answer_that_solving_gives(planning: Job) -> None:
    piece = Job.objects.create(
        kind=pieces.KIND, demand={"of": planning.pk}, upload=signed((sorted, [3, 1, 2])), state=QUEUED, made=NOW
    )
    run_job(piece.pk)
    piece.refresh_from_db()
    assert (piece.state, read(piece.output)) == (DONE, [1, 2, 3])


def test_a_piece_that_somebody_else_wrote_is_not_read_and_says_so(planning: Job) -> None:
    kept = bytearray(signed((sorted, [3, 1, 2])))
    kept[-3] ^= 1
    piece = Job.objects.create(kind=pieces.KIND, demand={}, upload=bytes(kept), state=QUEUED, made=NOW)
    run_job(piece.pk)
    piece.refresh_from_db()
    assert piece.state == FAILED
    assert "was not written by this site" in (piece.reason or "")
    with pytest.raises(NotOurs):
        read(b"")


def test_a_piece_that_fails_elsewhere_is_solved_here(planning: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    def spoil(number: int) -> bool:
        Job.objects.filter(pk=number).update(state=FAILED, reason="the machine was switched off")
        return True

    monkeypatch.setattr(pieces, "send", spoil)
    assert list(OtherWorkers(planning).map(abs, [-1, -2])) == [1, 2]


def test_pieces_of_an_earlier_try_are_gone_when_a_plan_begins_again(planning: Job) -> None:
    Job.objects.create(kind=pieces.KIND, demand={"of": planning.pk}, state=QUEUED, made=NOW)
    other = Job.objects.create(kind=pieces.KIND, demand={"of": planning.pk + 1}, state=QUEUED, made=NOW)
    OtherWorkers(planning)
    assert list(Job.objects.filter(kind=pieces.KIND)) == [other]


def test_pieces_have_no_page(planning: Job, admin_client: Client) -> None:
    piece = Job.objects.create(kind=pieces.KIND, demand={"of": planning.pk}, state=QUEUED, made=NOW)
    assert admin_client.get(reverse("job", args=[planning.pk])).status_code == 200
    assert admin_client.get(reverse("job", args=[piece.pk])).status_code == 404


def test_without_a_broker_of_its_own_nobody_is_asked(settings: object) -> None:
    settings.EMBEDDED_BROKER = True  # type: ignore[attr-defined]
    assert places_to_work() == 0
