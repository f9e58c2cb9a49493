"""Records on pages: each by its sheet, with words beside the field, nothing lost between two people, nothing done twice."""

import re
from typing import Any

import pytest
from django.contrib.auth.models import Group, User
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags

from inventory.core.roles import CAN, Role, changes
from inventory.models import Node, Part, Room, Run, Zone
from planner.core.plans import OrderState
from planner.models import Brief, Job, Order, Plan, Segment
from planner.services.assess import assess_campus
from planner.services.records import REGISTERS
from planner.store.verdicts import current_assessment
from planner.tables.records import address
from tests.campus_tables import assessed_by_hand
from tests.site_campus import assessment, order, person, plan

pytestmark = pytest.mark.django_db


@pytest.fixture
def campus() -> None:
    assessed_by_hand()


def signed_in(name: str, role: Role) -> Client:
    user = person(name)
    user.groups.add(Group.objects.get(name=role))
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def ann(campus: None) -> Client:
    return signed_in("ann", Role.FACILITIES)


def typed(client: Client, code: str, row: Any, **facts: str) -> dict[str, str]:
    """Return what a person sends who opened the form of a record now and changed some facts."""
    page = client.get(address(code, "change", row.pk))
    form = page.context["form"]
    data = {name: str(form[name].value() or "") for name in form.fields}
    data |= dict(page.context["opened"])
    return data | facts


def change(client: Client, code: str, row: Any, **facts: str) -> Any:
    return client.post(address(code, "change", row.pk), typed(client, code, row, **facts), follow=True)


def verdict(key: str) -> Segment:
    return Segment.objects.get(assessment=current_assessment(), key=key)


def said(answer: Any) -> str:
    return " ".join(str(message) for message in answer.context["messages"])


@pytest.mark.parametrize("code", REGISTERS)
def test_every_sheet_has_a_list_a_page_a_record_and_forms(campus: None, code: str) -> None:
    user = User.objects.create_superuser("super")
    client = Client()
    client.force_login(user)
    pages = [address(code, "records"), address(code, "new"), address(code, "bulk")]
    row = REGISTERS[code].rows().first()
    if row is not None:
        pages += [address(code, name, row.pk) for name in ("record", "change", "remove")]
    assert {page: client.get(page).status_code for page in pages} == dict.fromkeys(pages, 200)


@pytest.mark.parametrize("role", Role)
def test_records_are_changed_by_those_whose_work_they_are(role: Role) -> None:
    client = signed_in("one", role)
    may = {code: role in CAN[changes(code)] for code in REGISTERS}
    assert {code: client.post(address(code, "new"), {}).status_code for code in REGISTERS} == {
        code: 400 if allowed else 403 for code, allowed in may.items()
    }


def test_a_length_entered_turns_the_verdict_at_once_and_is_named_as_what_turned_it(ann: Client) -> None:
    # B1-L06 waits for the length of its only run (tests/campuses.py); 40 m is what B1-L01 converts with
    run = Run.objects.get(key="R-B1-S107")
    assert verdict("B1-L06").verdict == "survey first"
    answer = change(ann, "runs", run, length_m="40")
    assert "survey first" in said(answer)
    assert "in place" in said(answer)
    now = verdict("B1-L06")
    assert (now.verdict, now.was) == ("in place", "survey first")
    assert now.because == "run R-B1-S107 was changed by ann: Length (m) from not known to 40"
    assert now.since is not None


def test_a_fact_that_no_rule_reads_judges_nothing_again(ann: Client) -> None:
    before = current_assessment()
    answer = change(ann, "nodes", Node.objects.get(key="B1-S101"), note="behind the bookcase")
    after = current_assessment()
    assert before is not None
    assert after is not None
    assert (after.pk, after.changed) == (before.pk, before.changed)
    assert "again" not in said(answer)
    assert Node.objects.get(key="B1-S101").history.latest().history_user.username == "ann"


def test_a_wrong_value_is_refused_beside_its_field_in_the_words_of_an_intake(ann: Client) -> None:
    run = Run.objects.get(key="R-B1-S107")
    answer = change(ann, "runs", run, length_m="far", cable="", to_node="B1-S999")
    assert answer.status_code == 400
    errors = answer.context["form"].errors
    assert errors["length_m"] == ["This must be a number: write a number without its unit."]
    assert "There is no such row on sheet Nodes" in errors["to_node"][0]
    assert answer.context["form"]["length_m"].value() == "far"
    assert Run.objects.get(pk=run.pk).length_m is None


def test_a_name_spelt_otherwise_is_offered(ann: Client) -> None:
    answer = change(ann, "runs", Run.objects.get(key="R-B1-S107"), to_node="b1-s101")
    assert "did you mean B1-S101?" in answer.context["form"].errors["to_node"][0]


def test_the_second_of_two_people_is_told_and_loses_nothing(ann: Client) -> None:
    run = Run.objects.get(key="R-B1-S107")
    ben = signed_in("ben", Role.FACILITIES)
    opened = typed(ben, "runs", run, length_m="44", cable="2x2 24AWG")
    change(ann, "runs", run, length_m="40", surveyed="2027-03-01")
    answer = ben.post(address("runs", "change", run.pk), opened)
    text = answer.content.decode()
    assert answer.status_code == 409
    assert Run.objects.get(pk=run.pk).length_m == 40.0
    assert "Changed by ann" in text
    form = answer.context["form"]
    assert [form[name].value() for name in ("length_m", "cable", "surveyed")] == ["44", "2x2 24AWG", "1 Mar 2027"]
    assert form.errors["length_m"] == ["Now on file: 40."]
    assert "cable" not in form.errors
    again = {name: form[name].value() for name in form.fields} | dict(answer.context["opened"])
    assert ben.post(address("runs", "change", run.pk), again).status_code == 302
    kept = Run.objects.get(pk=run.pk)
    assert (kept.length_m, kept.cable.key, str(kept.surveyed)) == (44.0, "2x2 24AWG", "2027-03-01")


def test_sending_a_form_twice_changes_it_once(ann: Client) -> None:
    run = Run.objects.get(key="R-B1-S107")
    data = typed(ann, "runs", run, length_m="40")
    for _ in range(2):
        answer = ann.post(address("runs", "change", run.pk), data, follow=True)
        assert answer.status_code == 200
    assert run.history.count() == 1
    assert "nothing has changed" in said(answer)


def test_a_new_record_sent_twice_is_made_once(ann: Client) -> None:
    data = {"building": "B1", "key": "2.10", "floor": "2", "importance": "3"}
    for _ in range(2):
        answer = ann.post(address("rooms", "new"), data, follow=True)
        assert answer.status_code == 200
    assert Room.objects.filter(key="2.10").count() == 1


def test_a_name_that_is_taken_is_refused_with_what_to_do(ann: Client) -> None:
    answer = ann.post(address("rooms", "new"), {"building": "B1", "key": "101", "floor": "9"})
    assert answer.status_code == 400
    assert "is on record already" in answer.context["form"].errors["key"][0]


def test_the_name_of_a_record_stays(ann: Client) -> None:
    run = Run.objects.get(key="R-B1-S107")
    change(ann, "runs", run, key="R-other", length_m="40")
    assert Run.objects.get(pk=run.pk).key == "R-B1-S107"


def test_a_removal_says_what_hangs_on_it(ann: Client) -> None:
    node = Node.objects.get(key="B1-S104")
    page = ann.get(address("nodes", "remove", node.pk)).content.decode()
    assert "It cannot go" in page
    assert "1 run (R-B1-S104)" in page
    assert "1 run (R-B1-P104)" in page
    answer = ann.post(address("nodes", "remove", node.pk), follow=True)
    assert "cannot be removed" in said(answer)
    assert Node.objects.filter(pk=node.pk).exists()


def test_what_is_part_of_a_record_goes_with_it_and_a_second_click_is_told(ann: Client) -> None:
    node = Node.objects.get(key="B3-S199")
    Zone.objects.create(node=node, key="1")
    assert "1 zone" in ann.get(address("nodes", "remove", node.pk)).content.decode()
    answer = ann.post(address("nodes", "remove", node.pk), follow=True)
    assert "Node B3-S199 is removed" in said(answer)
    assert verdict("B3-L01").verdict == "in place"  # nobody else may share its line now
    assert "on file no more" in said(ann.post(address("nodes", "remove", node.pk), follow=True))


def test_a_removed_record_shows_what_it_was_and_who_removed_it_but_a_number_never_used_shows_nothing(
    ann: Client,
) -> None:
    node = Node.objects.get(key="B3-S199")
    page = address("nodes", "record", node.pk)
    ann.post(address("nodes", "remove", node.pk))
    shown = " ".join(strip_tags(ann.get(page).content.decode()).split())
    for words in ("Node B3-S199, removed", "no longer on record", "BuildingB3", "ModelWS-20", "ann removed"):
        assert words in shown, words
    for name in ("change", "remove"):
        assert ann.get(address("nodes", name, node.pk)).status_code in {302, 404}
    assert ann.get(address("nodes", "record", 999_999)).status_code == 404


def test_many_are_changed_after_a_look_all_at_once(ann: Client) -> None:
    asked = "?bus=B1-L02&set=condition&look=1&to-condition=5"
    page = ann.get(address("nodes", "bulk") + asked)
    assert page.context["looked"].rows == 3
    assert len(page.context["looked"].changes) == 3
    answer = ann.post(address("nodes", "bulk") + asked, {"digest": page.context["looked"].digest}, follow=True)
    assert answer.status_code == 200
    assert set(Node.objects.filter(bus__key="B1-L02").values_list("condition", flat=True)) == {5}
    node = Node.objects.get(key="B1-S102")
    assert node.history.latest().history_user.username == "ann"
    assert "nothing has changed" in said(
        ann.post(address("nodes", "bulk") + asked, {"digest": page.context["looked"].digest}, follow=True)
    )


def test_many_are_not_changed_on_what_was_seen_before_somebody_else_changed_them(ann: Client) -> None:
    asked = "?bus=B1-L02&set=length_m&look=1&to-length_m=7"
    digest = ann.get(address("runs", "bulk") + asked).context["looked"].digest
    change(ann, "runs", Run.objects.get(key="R-B1-S102"), length_m="8")
    answer = ann.post(address("runs", "bulk") + asked, {"digest": digest})
    assert answer.status_code == 409
    assert Run.objects.get(key="R-B1-S103").length_m == 12.0


def test_a_value_that_one_record_cannot_take_changes_none(ann: Client) -> None:
    asked = "?bus=B1-L02&set=bus_2&look=1&to-bus_2=B1-N0"
    looked = ann.get(address("nodes", "bulk") + asked).context["looked"]
    assert any("Only a gateway is on more than one bus" in fault for fault in looked.faults)
    ann.post(address("nodes", "bulk") + asked, {"digest": looked.digest})
    assert Node.objects.filter(key__startswith="B1-S", bus_2__isnull=False).count() == 0


def test_a_price_is_changed_by_purchasing_and_kept_as_money(campus: None) -> None:
    pat = signed_in("pat", Role.PURCHASING)
    part = Part.objects.get(key="P-1001")
    assert change(pat, "parts", part, price="7.55").status_code == 200
    assert str(Part.objects.get(pk=part.pk).price) == "7.5500"
    page = pat.get(address("parts", "record", part.pk)).content.decode()
    assert "Price: 7.4 → 7.55" in page
    assert "pat" in page


def test_a_list_of_records_asks_the_database_the_same_however_long(
    ann: Client, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(14):
        ann.get(address("nodes", "records"))


def test_verdicts_keep_their_day_through_a_whole_assessment_that_changes_nothing(ann: Client) -> None:
    change(ann, "runs", Run.objects.get(key="R-B1-S107"), length_m="40")
    before = verdict("B1-L06")
    assess_campus(by="planning")
    after = verdict("B1-L06")
    assert before.pk != after.pk
    assert (before.since, before.because, before.was) == (after.since, after.because, after.was)


def test_a_plan_keeps_the_verdicts_it_was_made_from(ann: Client) -> None:
    made_from = current_assessment()
    brief = Brief.objects.get_or_create(name="First plan")[0]
    Plan.objects.create(
        brief=brief, assessment=made_from, made=timezone.now(), method="exact", objective=1, bound=1, gap=0,
        list_objective=1, seed=1, seconds=1.0,
    )  # fmt: skip
    change(ann, "runs", Run.objects.get(key="R-B1-S107"), length_m="40")
    assert Segment.objects.get(assessment=made_from, key="B1-L06").verdict == "survey first"
    assert verdict("B1-L06").verdict == "in place"
    assert current_assessment() != made_from


def test_the_index_leads_to_every_sheet(ann: Client) -> None:
    page = ann.get(reverse("records")).content.decode()
    assert all(address(code, "records") in page for code in REGISTERS)


def test_a_brief_that_judges_otherwise_has_the_campus_judged_again_and_says_why(ann: Client) -> None:
    planner = signed_in("pia", Role.PLANNING)
    texts = {"name": "First plan", "seconds": "1", "seed": "1", "reserve_pct": "35"}
    planner.post(reverse("brief"), texts)
    asked = Job.objects.filter(kind="assess")
    assert [job.demand["because"] for job in asked] == [
        "the brief First plan was changed by pia: Reserve from as usual to 35"
    ]
    planner.post(reverse("brief"), texts)  # nothing differs
    planner.post(reverse("brief"), {**texts, "setup_min": "25"})  # no rule reads it
    planner.post(reverse("brief"), {**texts, "name": "Slower", "setup_min": "25", "reserve_pct": "50"})  # not the first
    assert asked.count() == 1


def test_a_removal_says_which_orders_of_the_plan_in_force_count_on_the_station(ann: Client) -> None:
    node = Node.objects.get(key="B3-S199")
    assert "plan in force" not in ann.get(address("nodes", "remove", node.pk)).content.decode()
    campus_plan = plan(current_assessment() or assessment(), User.objects.get(username="ann"))
    made = order(campus_plan, "B3-O001", OrderState.BOOKED, timezone.now())
    Order.objects.filter(pk=made.pk).update(data={**made.data, "stations": [node.key]})
    assert "with B3-O001 (booked)" in ann.get(address("nodes", "remove", node.pk)).content.decode()


def test_many_records_that_are_odd_are_named_once_with_what_is_odd(ann: Client) -> None:
    asked = "?building=B1&set=bus&look=1&to-bus=B3-L01"
    looked = ann.get(address("nodes", "bulk") + asked).context["looked"]
    (odd,) = [one for one in looked.oddities if "belongs to another building" in one]
    assert re.match(r"B1-\S+, B1-\S+, B1-\S+, \d+ more: The bus", odd), odd
