"""Taking the last intake back: every record as before, or a refusal that names what stands in the way."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import Group, User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.core.readings import Quantity
from inventory.core.roles import Role
from inventory.models import Intake, Node, Protocol, ProtocolRate, Reading, Room, Run, Zone
from inventory.services.intake import take_in
from inventory.services.records import create_record, edit_record, remove_record
from inventory.services.taking_back import TakenBack, last_to_take_back, take_back
from inventory.store.undoing import with_parts
from planner.models import Job, Segment
from planner.services import jobs
from planner.services.assess import assess_campus, silent
from planner.services.intake import take_after_look
from planner.store.intake import ALL_TARGETS
from planner.tasks import WORK
from tests.books import SMALL, book, small
from tests.campus_tables import store
from tests.campuses import hand_campus
from tests.site_campus import person

pytestmark = pytest.mark.django_db

TABLES = with_parts([*(target.model for target in ALL_TARGETS.values()), Protocol])


@pytest.fixture
def kim() -> User:
    first = take_in(small(), "first.xlsx", ALL_TARGETS, None)
    assert first.stored
    return User.objects.create_user("kim")


def campus() -> dict[str, list[tuple[Any, ...]]]:
    """Return every record that an intake may touch, every column of it."""
    return {model.__name__: sorted(model._default_manager.values_list(), key=repr) for model in TABLES}


def rows(title: str, *more: Sequence[object]) -> list[list[object]]:
    return [*(list(row) for row in SMALL[title]), *(list(row) for row in more)]


def second(kim: User) -> int:
    """Take a workbook in that adds, changes and leaves out, with everything absent ticked; return its number."""
    nodes = rows("Nodes", ("S3", "B1", "2.01", "WS-1", "L9", None, None, 4, None, None))
    nodes[1][7] = 5  # the condition of G1
    nodes[2][2] = "2.01"  # S1 moves into the new room
    del nodes[3]  # S2
    book = small(
        Rooms=rows("Rooms", ("B1", "2.01", "2")),
        Buses=rows("Buses", ("L9", "B1", "NEWBUS")),
        Protocols=[("Protocol", "Bit rate (kbit/s)", "Longest bus (m)"), ("OLDBUS", None, 310), ("NEWBUS", None, 50)],
        Nodes=nodes,
    )
    remove = [("nodes", None), ("protocols", None)]
    done = take_in(book, "second.xlsx", ALL_TARGETS, kim, remove)
    assert done.stored, done.problems
    assert done.intake
    return done.intake


def said(result: TakenBack) -> str:
    assert not result.done
    return " ".join(f"{one.message} {one.remedy}" for one in result.problems)


def test_every_record_is_as_it_was_and_history_says_by_whom(kim: User) -> None:
    before = campus()
    number = second(kim)
    assert campus() != before
    ann = User.objects.create_user("ann")
    result = take_back(number, ALL_TARGETS, ann)
    assert result.done, result.problems
    assert campus() == before
    assert (result.counts["nodes"].removed, result.counts["nodes"].restored, result.counts["nodes"].put_back) == (
        1,
        2,
        1,
    )
    pages = Node.history.filter(history_change_reason="taken back: second.xlsx")
    assert sorted(pages.values_list("key", "history_type", "history_user__username")) == [
        ("G1", "~", "ann"), ("S1", "~", "ann"), ("S2", "+", "ann"), ("S3", "-", "ann"),
    ]  # fmt: skip
    intake = Intake.objects.get(pk=number)
    assert intake.taken_back_by == ann
    assert intake.taken_back


def test_what_goes_along_with_a_removed_record_comes_back_with_it(kim: User) -> None:
    node = Node.objects.get(key="S2")
    create_record(Zone, {"node": node, "key": "1", "label": "Blinds"}, None)
    figures = {"quantity": Quantity.NO_LOAD, "value": 23.5, "on": date(2026, 3, 2), "entered": timezone.now()}
    create_record(Reading, {"node": node, **figures}, None)
    before = campus()
    take_back(second(kim), ALL_TARGETS, kim)
    assert campus() == before
    assert Reading.objects.get().node_id == node.pk


def test_the_campus_s_own_row_of_a_protocol_comes_back_in_the_place_of_the_standard_s(kim: User) -> None:
    standard = ProtocolRate.objects.filter(built_in=True).select_related("protocol").earliest("pk")
    own = [("Protocol", "Bit rate (kbit/s)", "Longest bus (m)"), (standard.protocol.key, standard.bit_rate_kbit_s, 77)]
    take_in(small(Protocols=[*SMALL["Protocols"], own[1]]), "own.xlsx", ALL_TARGETS, kim)
    before = campus()
    third = take_in(small(), "third.xlsx", ALL_TARGETS, kim, [("protocols", None)])
    assert third.intake
    assert ProtocolRate.objects.get(protocol=standard.protocol, bit_rate_kbit_s=standard.bit_rate_kbit_s).built_in
    result = take_back(third.intake, ALL_TARGETS, kim)
    assert result.done, result.problems
    assert campus() == before


def test_a_record_that_was_changed_since_is_named_and_everything_stays(kim: User) -> None:
    number = second(kim)
    edit_record(Node.objects.get(key="G1"), {"note": "cover loose"}, kim)
    as_it_is = campus()
    assert "1 node changed since: G1." in said(take_back(number, ALL_TARGETS, kim))
    assert campus() == as_it_is
    assert Intake.objects.get(pk=number).taken_back is None


def test_a_change_that_was_put_right_again_is_none(kim: User) -> None:
    number = second(kim)
    for note in ("cover loose", None):
        edit_record(Node.objects.get(key="G1"), {"note": note}, kim)
    assert take_back(number, ALL_TARGETS, kim).done


def test_a_record_that_is_needed_since_is_named_with_what_needs_it(kim: User) -> None:
    number = second(kim)
    create_record(Zone, {"node": Node.objects.get(key="S3"), "key": "1"}, kim)
    room = Room.objects.get(key="2.01")
    edit_record(Node.objects.get(key="S1"), {"note": "moved"}, kim)
    words = said(take_back(number, ALL_TARGETS, kim))
    assert "S1" in words
    edit_record(Node.objects.get(key="S1"), {"note": "stiff"}, kim)
    words = said(take_back(number, ALL_TARGETS, kim))
    assert "nodes that it put on record are needed by now by 1 zone" in words
    assert words.count("needed by now") == 1  # what would go as well is in nobody's way
    Zone.objects.all().filter(node__key="S3").delete()
    extra = {"key": "S9", "building": room.building, "room": room, "model": Node.objects.get(key="S1").model}
    create_record(Node, extra, kim)
    assert "needed by now by 1 node (S9)" in said(take_back(number, ALL_TARGETS, kim))


def test_what_was_removed_and_put_on_file_again_since_is_named(kim: User) -> None:
    old = Node.objects.get(key="S2")
    number = second(kim)
    create_record(Node, {"key": "S2", "building": old.building, "model": old.model}, kim)
    assert "removed by it and put on file again since: S2" in said(take_back(number, ALL_TARGETS, kim))


def test_what_it_referred_to_before_and_is_gone_is_told(kim: User) -> None:
    old_room = Room.objects.get(building__key="B2", key="1.01")
    number = second(kim)  # S2, the only node in that room, goes
    remove_record(old_room, kim)
    assert "refer to what has been removed since: S2" in said(take_back(number, ALL_TARGETS, kim))
    assert not Node.objects.filter(key="S2").exists()


def test_what_nothing_on_record_tells_of_is_named_and_left(kim: User) -> None:
    Node.history.filter(key="G1").delete()
    assert "nothing on record says what they were before: G1" in said(take_back(second(kim), ALL_TARGETS, kim))


def test_only_the_last_intake_that_changed_anything_can_go_and_then_the_one_before(kim: User) -> None:
    first = Intake.objects.get()
    number = second(kim)
    same = take_in(small(Rooms=rows("Rooms", ("B1", "2.01", "2"))), "same.xlsx", ALL_TARGETS, kim)
    assert same.intake
    last = last_to_take_back()
    assert last is not None
    assert last.pk == same.intake  # it changed S1 and G1 back
    assert "is not the last: same.xlsx came after it" in said(take_back(first.pk, ALL_TARGETS, kim))
    assert take_back(same.intake, ALL_TARGETS, kim).done
    assert "taken back already" in said(take_back(same.intake, ALL_TARGETS, kim))
    assert take_back(number, ALL_TARGETS, kim).done
    assert take_back(first.pk, ALL_TARGETS, kim).done
    assert (Node.objects.count(), last_to_take_back()) == (0, None)


def test_an_intake_that_changed_nothing_is_passed_over(kim: User) -> None:
    number = second(kim)
    again = take_in(small(), "again.xlsx", ALL_TARGETS, kim)
    assert take_back(again.intake or 0, ALL_TARGETS, kim).done
    nothing = take_in(small(Nodes=None, Rooms=None, Buses=None, Protocols=None), "nothing.xlsx", ALL_TARGETS, kim)
    last = last_to_take_back()
    assert last is not None
    assert last.pk == number
    assert "changed nothing" in said(take_back(nothing.intake or 0, ALL_TARGETS, kim))


# The page


@pytest.fixture
def campus_with_verdicts() -> None:
    store(hand_campus())
    Run.history.bulk_history_create(Run.objects.all())
    assess_campus(by=None)


def signed_in(role: Role) -> Client:
    user = person(role.value)
    user.groups.add(Group.objects.get(name=role))
    client = Client()
    client.force_login(user)
    return client


def done(job: Job) -> Job:
    """Do a queued job as a worker does, within this test's own transaction."""
    claimed = jobs.claim(job.pk)
    assert claimed
    jobs.finish(claimed, WORK[job.kind](claimed, silent))
    job.refresh_from_db()
    return job


def long_runs() -> Intake:
    """Have a workbook taken in that says another length of every run."""
    kim = User.objects.create_user("kim")
    runs = [("Run", "Bus", "From", "To", "Length (m)")]
    runs += [(one.key, one.bus.key, one.from_node.key, one.to_node.key, 950) for one in Run.objects.all()]
    upload = book({"Runs": runs})
    looked = done(jobs.ask("intake", {"mode": "look", "file_name": "runs.xlsx"}, by=kim, upload=upload))
    taken = take_after_look(looked.pk, (), by=kim)
    assert taken
    assert done(taken).result["stored"], taken.result
    return Intake.objects.get(file_name="runs.xlsx")


def text_of(answer: Any) -> str:
    text: str = answer.content.decode()
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_the_page_takes_the_last_intake_back_once_and_verdicts_say_what_turned_them(campus_with_verdicts: None) -> None:
    lengths, verdicts = (
        dict(Run.objects.values_list("key", "length_m")),
        dict(Segment.objects.values_list("key", "verdict")),
    )
    intake = long_runs()
    turned = Segment.objects.filter(because__contains="the workbook runs.xlsx was taken in by")
    assert turned.exists()
    facilities = signed_in(Role.FACILITIES)
    address = reverse("intake-back", args=[intake.pk])
    assert address in text_of(facilities.get(reverse("intake")))
    assert "Take it back" in text_of(facilities.get(address))
    answers = [facilities.post(address) for _ in range(2)]  # a double click
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    job = done(Job.objects.get(kind="intake", state="queued"))
    assert job.result["taken_back"], job.result
    assert "Taken back: the records are as they were before runs.xlsx" in text_of(
        facilities.get(answers[0].headers["Location"])
    )
    assert dict(Run.objects.values_list("key", "length_m")) == lengths
    assert dict(Segment.objects.values_list("key", "verdict")) == verdicts
    assert Segment.objects.filter(because__contains="the intake of runs.xlsx was taken back by").exists()
    assert "not the last that changed anything" in text_of(facilities.get(address, follow=True))  # the back button


def test_the_page_says_which_record_stands_in_the_way(campus_with_verdicts: None) -> None:
    intake = long_runs()
    run = Run.objects.earliest("key")
    edit_record(run, {"length_m": 3.0}, None)
    facilities = signed_in(Role.FACILITIES)
    location = facilities.post(reverse("intake-back", args=[intake.pk])).headers["Location"]
    done(Job.objects.get(kind="intake", state="queued"))
    said = text_of(facilities.get(location))
    assert "Not taken back: everything is as it was" in said
    assert f"1 run changed since: {run.key}" in said
    assert Run.objects.exclude(pk=run.pk).filter(length_m=950).exists()


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.FACILITIES}))
def test_other_roles_cannot_take_an_intake_back(kim: User, role: Role) -> None:
    intake = Intake.objects.get()
    assert signed_in(role).post(reverse("intake-back", args=[intake.pk])).status_code == 403
    assert not Job.objects.filter(kind="intake").exists()
