"""The log of failures out of the tables, and the page of the spares along a plan."""

import re
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.core.lives import Outcome
from inventory.models import EquipmentModel, Failure, Method, Node, Protocol, Spare
from inventory.store import load_snapshot
from inventory.store.failures import load_failures
from planner.core.as_built import AsBuilt, Rebuilt
from planner.core.as_wired import Wired
from planner.core.brief import Brief
from planner.handover.pool_chart import month_named
from planner.models import Assessment, BriefSetting, Plan, SegmentMember, StationRisk
from planner.services.ageing import FEWEST_MONTHS, campus_ageing, reckon_risks, spares_along
from planner.services.as_built import build, put_back
from planner.services.clock import standing_at
from planner.store.ageing import floors_at_risk, load_former
from planner.store.plans import load_plan
from planner.store.records import to_json
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def campus() -> dict[str, User]:
    made = whole_campus()
    models = {model.key: model for model in EquipmentModel.objects.all()}
    for old in ("WS-10", "WS-20"):
        Method.objects.create(
            key=f"M-{old}",
            old_model=models[old],
            new_model=models["WS-70"],
            new_protocol=Protocol.objects.get(key="NEWPAIR"),
        )
    return made


def fail(*, outcome: str | None = "replaced", count: int = 12) -> list[Node]:
    """Put on record one failure each of so many old stations of known age."""
    today = timezone.localdate()
    old = Node.objects.filter(model__key="WS-10", installed__lt=today - timedelta(days=900)).order_by("key")[:count]
    Failure.objects.bulk_create(
        Failure(node=node, date=today - timedelta(days=60 * at + 5), outcome=outcome) for at, node in enumerate(old)
    )
    return list(old)


def page(user: User) -> str:
    client = Client()
    client.force_login(user)
    answer = client.get(reverse("plan-spares", args=[Plan.objects.get().pk]))
    assert answer.status_code == 200
    return answer.content.decode().replace("\N{NO-BREAK SPACE}", " ")


def test_the_log_names_nodes_by_their_place_in_the_snapshot(campus: dict[str, User]) -> None:
    failed = fail(outcome=None, count=2)
    keys = sorted(Node.objects.values_list("key", flat=True))
    log = load_failures(keys, starts=date(2020, 1, 1))
    assert sorted(keys[at] for at in log.node) == [node.key for node in failed]
    assert set(log.outcome) == {Outcome.NOT_KNOWN}
    assert log.starts == date(2020, 1, 1)
    assert len(load_failures([])) == 0


@pytest.mark.parametrize(("word", "code"), [("repaired", 0), ("replaced", 1), ("removed", 2)])
def test_each_outcome_has_its_code(campus: dict[str, User], word: str, code: int) -> None:
    failed = fail(outcome=word, count=1)
    assert list(load_failures([failed[0].key]).outcome) == [code]


def test_a_campus_with_failures_is_ranked(campus: dict[str, User]) -> None:
    fail()
    snapshot, risk = campus_ageing(timezone.localdate())
    assert risk.problems == ()
    assert len(risk.ranking) == Node.objects.filter(model__kind="station").count()
    assert risk.ranking.score[0] > 0
    assert {life.model for life in risk.model_lives} == {model.key for model in snapshot.catalogue.models}


def test_an_estimate_is_made_only_when_asked(campus: dict[str, User]) -> None:
    fail()
    today = timezone.localdate()
    assert not campus_ageing(today)[1].estimated.any()
    assert campus_ageing(today, estimate_unknown=True)[1].estimated.any()


def test_the_pools_run_to_the_end_of_the_plan(campus: dict[str, User]) -> None:
    fail()
    today = timezone.localdate()
    along = spares_along(Plan.objects.get(), today)
    last = max(order.night for order in Plan.objects.get().orders.filter(start__isnull=False) if order.night)
    assert along.months == max(FEWEST_MONTHS, 12 * (last.year - today.year) + last.month - today.month + 1)
    assert [pool.model for pool, *_ in along.rows] == ["WS-10", "WS-20"]
    assert along.rows[0][0].on_hand == 4
    assert (along.rows[0][0].leaves_month >= 0).any()


def test_the_page_tells_each_pool_in_figures_and_draws_it(campus: dict[str, User]) -> None:
    fail()
    text = page(campus["reader"])
    assert "WS-10" in text
    assert text.count('role="img"') == 2
    assert "count at the median age of the others" in text
    assert "Not told of" not in text


def test_what_another_sequence_would_do_stands_beside_the_plan(campus: dict[str, User]) -> None:
    fail()
    plan, today = Plan.objects.get(), timezone.localdate()
    assert "Plan again to compare" in page(campus["reader"])
    placed = [each for each in load_plan(plan).placed if each.night >= today]
    plan.listed = to_json(tuple(replace(each, night=each.night + timedelta(days=150)) for each in placed))
    plan.save()
    for pool, course, by_list, _ in spares_along(plan, today).rows:
        assert by_list is not None
        later = by_list.expected_failures.sum() > course.expected_failures.sum()
        assert later == bool((pool.leaves_month >= 0).any()), "what comes down later fails longer"
    text = page(campus["reader"])
    assert "Plan again to compare" not in text
    assert text.count('stroke-dasharray="5 3"') == 2


def test_each_pool_is_told_month_by_month_by_simulation_and_by_poisson(campus: dict[str, User]) -> None:
    fail()
    along = spares_along(Plan.objects.get(), timezone.localdate())
    text = page(campus["reader"])
    assert text.count("Month by month") == 2
    _, course, *_ = along.rows[0]
    rows = text.partition("WS-10 month by month")[2].partition("</table>")[0].split("<tr>")[2:]
    assert len(rows) == along.months
    for month in (0, along.months // 2, along.months - 1):
        cells = re.findall(r'<td class="n">(.*?)</td>', rows[month])
        assert month_named(timezone.localdate(), month) in rows[month]
        figures = course.run_out_odds[month], course.short_odds[month], course.short_odds_poisson[month]
        assert cells[5:8] == [f"{100 * odds:.1f} %" for odds in figures]
        assert cells[1] == f"{course.expected_failures[month]:.2f}"


def test_of_many_months_some_are_told_with_the_first_short_one_and_the_last(
    campus: dict[str, User], monkeypatch: pytest.MonkeyPatch
) -> None:
    fail()
    Spare.objects.all().delete()
    monkeypatch.setattr("planner.views.spares.MOST_MONTH_ROWS", 4)
    along = spares_along(Plan.objects.get(), timezone.localdate())
    course = along.rows[0][1]
    rows = page(campus["reader"]).partition("WS-10 month by month")[2].partition("</table>")[0].split("<tr>")[2:]
    assert len(rows) <= 4
    assert course.first_month is not None
    for month in (course.first_month, along.months - 1):
        assert any(month_named(timezone.localdate(), month) in row for row in rows)


def test_what_is_overdue_frees_nothing_until_it_is_done_or_put_off(campus: dict[str, User]) -> None:
    fail()
    plan, today = Plan.objects.get(), timezone.localdate()
    assert spares_along(plan, today).overdue == ("B2-O1",)
    assert "Overdue, so not counted until they are accepted or put off" in page(campus["reader"])
    before = int((spares_along(plan, today).rows[0][0].leaves_month >= 0).sum())
    late = plan.orders.get(key="B2-O1")
    late.night = today + timedelta(days=9)
    late.save()
    along = spares_along(plan, today)
    assert along.overdue == ()
    assert int((along.rows[0][0].leaves_month >= 0).sum()) > before
    late.night, late.state = today - timedelta(days=9), "accepted"
    late.save()
    assert spares_along(plan, today).overdue == (), "what is accepted is in the records"


def test_what_is_accepted_or_backed_out_counts_no_more(campus: dict[str, User]) -> None:
    fail()
    plan, today = Plan.objects.get(), timezone.localdate()
    plan.orders.filter(key__startswith="B1").exclude(key="B1-O3").update(start=None, night=None, reason="left out")
    assert plan.orders.get(key="B1-O3").state == "accepted"
    assert not (spares_along(plan, today).rows[0][0].leaves_month >= 0).any()
    plan.orders.filter(key="B1-O3").update(state="backed out")
    assert not (spares_along(plan, today).rows[0][0].leaves_month >= 0).any()
    plan.orders.filter(key="B1-O3").update(state="booked")
    assert (spares_along(plan, today).rows[0][0].leaves_month >= 0).any()


def convert(plan: Plan, on: date) -> AsBuilt:
    """Accept an order as the site does: new stations of today in the places of the old, which go to the shelf."""
    order = plan.orders.get(key="B1-O3")
    stations = Node.objects.filter(bus__key="B1-L0", model__key="WS-10").order_by("key")
    built = AsBuilt(
        wired=Wired(),
        on=on,
        nodes=tuple(Rebuilt(node=node.key, model="WS-70", bus=None, note="as built") for node in stations),
        runs=(),
        buses=(),
        parts=(),
        freed=(("WS-10", 1),),
        refused=(),
    )
    build(order, built, {}, by=None)
    return built


def test_a_plan_can_be_told_by_the_records_of_the_day_on_which_it_was_made(campus: dict[str, User]) -> None:
    fail()
    plan, today = Plan.objects.get(), timezone.localdate()
    told = [(pool, course) for pool, course, *_ in spares_along(plan, today, as_made=True).rows]
    with standing_at(timezone.now() + timedelta(days=1)):
        built = convert(plan, today + timedelta(days=1))
        assert len(built.nodes) == 1
        later = timezone.localdate()
        Failure.objects.create(node=Node.objects.filter(model__key="WS-20").earliest("key"), date=later)
        now, then = (spares_along(plan, later, as_made=made).rows for made in (False, True))
        assert campus_ageing(later)[1].problems == (), "failures of the old stations are no contradiction"
    assert now[0][0].on_hand == 5
    assert now[0][0].age_years.size == told[0][0].age_years.size - 1
    for (pool, course), (same_pool, same_course, *_) in zip(told, then, strict=True):
        assert np.array_equal(pool.age_years, same_pool.age_years)
        assert (pool.on_hand, pool.curve) == (same_pool.on_hand, same_pool.curve)
        assert np.array_equal(course.run_out_odds, same_course.run_out_odds)


def test_what_was_put_back_after_its_acceptance_never_hung_elsewhere(campus: dict[str, User]) -> None:
    fail()
    plan = Plan.objects.get()
    convert(plan, timezone.localdate())
    assert len(load_former(load_snapshot())) == 1
    put_back(plan.orders.get(key="B1-O3"), by=None)
    assert len(load_former(load_snapshot())) == 0


def test_a_plan_that_was_gone_on_from_is_told_as_of_its_day_and_says_so(campus: dict[str, User]) -> None:
    fail()
    plan = Plan.objects.get()
    assert "when this plan was made, by the records of that day" not in page(campus["reader"])
    follower = Plan.objects.get()
    follower.pk, follower.goes_on_from = None, plan
    follower.save()
    client = Client()
    client.force_login(campus["reader"])
    text = client.get(reverse("plan-spares", args=[plan.pk])).content.decode()
    assert "when this plan was made, by the records of that day" in text
    assert "Tell them from today" in text
    text = client.get(reverse("plan-spares", args=[plan.pk]), {"from": "today"}).content.decode()
    assert "when this plan was made, by the records of that day" not in text
    text = client.get(reverse("plan-spares", args=[follower.pk])).content.decode()
    assert "along the plan that this one goes on from" in text


def test_a_short_pool_names_the_orders_that_would_free_enough(campus: dict[str, User]) -> None:
    fail()
    plan, late = Plan.objects.get(), timezone.now() + timedelta(days=500)
    plan.orders.exclude(key="B1-O0").delete()
    order = plan.orders.get(key="B1-O0")
    order.start, order.end, order.night = late, late + timedelta(hours=3), late.date()
    order.data["stations"] = list(Node.objects.filter(model__key="WS-10").values_list("key", flat=True))
    order.save()
    _, course, _, forward = spares_along(plan, timezone.localdate()).rows[0]
    assert course.first_month
    assert forward is not None
    assert (forward.orders, forward.before_month) == (("B1-O0",), course.first_month)
    assert forward.run_out_odds <= 0.05
    text = page(campus["reader"])
    assert (
        f'or done before {month_named(timezone.localdate(), course.first_month)}: <a href="{reverse("order", args=[order.pk])}">B1-O0</a>'
        in text
    )
    assert f"({forward.units} down; odds then" in text


def test_the_share_scrapped_and_the_begin_of_the_log_are_settings_of_the_plan(campus: dict[str, User]) -> None:
    fail()
    plan, today = Plan.objects.get(), timezone.localdate()
    usual = spares_along(plan, today).rows[0][1]
    assert "20.0 % of it is taken to be no use" in page(campus["reader"])
    plan.settings_used = to_json(Brief(scrapped_pct=50.0))
    plan.save()
    assert spares_along(plan, today).rows[0][1].freed.sum() == pytest.approx(usual.freed.sum() * 0.5 / 0.8)
    assert "50.0 % of it is taken to be no use" in page(campus["reader"])
    plan.settings_used = to_json(Brief(log_starts=today - timedelta(days=4000)))
    plan.save()
    longer = spares_along(plan, today).rows[0][1]
    assert longer.expected_failures.sum() < usual.expected_failures.sum(), "as many failures in more years under watch"


def test_the_begin_of_the_log_is_a_setting_of_the_first_brief(campus: dict[str, User]) -> None:
    fail()
    today = timezone.localdate()
    before = campus_ageing(today)[1].lives.entry_years.sum()
    since = str(today - timedelta(days=5000))
    BriefSetting.objects.create(brief=Plan.objects.get().brief, setting="Failures logged from", value=since)
    assert campus_ageing(today)[1].lives.entry_years.sum() < before


def test_without_failures_the_page_says_that_nothing_can_be_told(campus: dict[str, User]) -> None:
    text = page(campus["reader"])
    assert "No pool can be told of" in text
    assert "WS-10: no failure is on record, so no risk can be told." in text


def ageing_page(user: User, query: str = "") -> str:
    client = Client()
    client.force_login(user)
    answer = client.get(reverse("ageing") + query)
    assert answer.status_code == 200
    return answer.content.decode().replace("\N{NO-BREAK SPACE}", " ")


def test_the_ageing_page_names_ten_rooms_and_twenty_stations(campus: dict[str, User]) -> None:
    fail()
    text = ageing_page(campus["reader"])
    assert text.count(f'<a href="{reverse("campus")}rooms/') == 10
    first = text.partition("Stations at most risk")[2].partition("Age and support by model")[0]
    assert first.count('<th scope="row" class="pin"><a href="') == 20
    assert "From its own 12 failures" in text
    assert "WS-10: fit against what was seen" in text
    assert text.count('role="img"') == 1
    assert "estimate the unknown ones" in text


def test_ages_are_estimated_and_marked_only_where_asked(campus: dict[str, User]) -> None:
    fail()
    assert "leave them unknown" not in ageing_page(campus["reader"])
    assert "leave them unknown" in ageing_page(campus["reader"], "?estimate=yes")


def test_each_estimated_day_is_shown_and_marked_and_the_records_keep_it_not_known(campus: dict[str, User]) -> None:
    fail()
    unknown = Node.objects.filter(installed=None)
    assert "Estimated days of installation" not in ageing_page(campus["reader"])
    part = ageing_page(campus["reader"], "?estimate=yes").partition("Estimated days of installation")[2]
    part = part.partition("Age and support by model")[0]
    assert (
        part.count("(estimated)") == campus_ageing(timezone.localdate(), estimate_unknown=True)[1].estimated.sum() > 0
    )
    assert {node.key for node in unknown if node.key in part}
    assert Node.objects.filter(installed=None).count() == unknown.count()


def test_models_are_told_with_age_life_end_of_sale_and_support(campus: dict[str, User]) -> None:
    text = (
        ageing_page(campus["reader"]).partition("Age and support by model")[2].partition("Trouble that comes again")[0]
    )
    rows = {row.partition("</a>")[0].rpartition(">")[2]: row for row in text.split("<tr>")[2:]}
    assert set(rows) == {"WS-10", "WS-20"}
    assert "ended 30 Jun 2012" in rows["WS-10"]
    assert "30 Jun 2030" in rows["WS-20"]
    today = timezone.localdate()
    ages = [
        (today - day).days / 365.2425
        for day in Node.objects.filter(model__key="WS-10").exclude(installed=None).values_list("installed", flat=True)
    ]
    assert f'data-label="Past it">{sum(age > 20 for age in ages)}<' in rows["WS-10"]
    assert (
        f'data-label="Age not known">{Node.objects.filter(model__key="WS-10", installed=None).count()}<'
        in rows["WS-10"]
    )


def test_risk_is_drawn_by_building_and_floor_and_adds_up(campus: dict[str, User]) -> None:
    fail()
    assert "Risk by building, drawn" not in ageing_page(campus["reader"]), "nothing was reckoned yet"
    reckon_risks()
    text = ageing_page(campus["reader"])
    assert "B1 floor 0: " in text
    sums = {(building.key, floor): days for building, floors in floors_at_risk() for floor, days, _, _ in floors}
    kept = StationRisk.objects.filter(node__building__key="B1", node__room__floor="0")
    assert sums["B1", "0"] == pytest.approx(sum(row.score or 0.0 for row in kept))
    assert sum(count for _, floors in floors_at_risk() for _, _, count, _ in floors) == StationRisk.objects.count()


def test_a_room_with_trouble_again_and_again_is_named(campus: dict[str, User]) -> None:
    failed = fail()
    assert "No room has more failures than chance explains" in ageing_page(campus["reader"])
    node, today = failed[0], timezone.localdate()
    Failure.objects.bulk_create(
        Failure(node=node, date=today - timedelta(days=7 * at + 1), outcome="repaired") for at in range(40)
    )
    text = ageing_page(campus["reader"])
    assert "Look for what these rooms share" in text


def test_a_segment_with_trouble_again_and_again_is_named_and_repaired_failures_are_counted(
    campus: dict[str, User],
) -> None:
    failed = fail()
    assert "No segment of the last assessment has more" in ageing_page(campus["reader"])
    station = failed[0]
    member = SegmentMember.objects.get(node=station, segment__assessment=Assessment.objects.latest("at"))
    days = [timezone.localdate() - timedelta(days=7 * at + 1) for at in range(40)]
    Failure.objects.bulk_create(Failure(node=station, date=day, outcome="repaired") for day in days)
    text = ageing_page(campus["reader"])
    assert f'<a href="{reverse("segment", args=[member.segment.key])}">{member.segment.key}</a>' in text
    assert "Failures of a unit by age" in text
    assert "Failures of a unit by age" not in ageing_page_without(campus["reader"])


def ageing_page_without(user: User) -> str:
    """Return the page of the same campus with too few failures for a count."""
    Failure.objects.exclude(pk__in=Failure.objects.order_by("pk").values("pk")[:3]).delete()
    return ageing_page(user)


def test_a_contradicting_row_is_left_out_and_said(campus: dict[str, User]) -> None:
    node = fail()[0]
    assert node.installed is not None
    Failure.objects.create(node=node, date=node.installed - timedelta(days=1))
    text = ageing_page(campus["reader"])
    assert f"{node.key} failed on" in text
    assert "before it was installed on" in text


def test_two_failures_on_a_day_and_one_after_a_removal_are_left_out_and_said(campus: dict[str, User]) -> None:
    twice, gone = fail()[:2]
    today = timezone.localdate()
    Failure.objects.create(node=twice, date=today - timedelta(days=5), what_failed="dark again", outcome="repaired")
    Failure.objects.create(node=gone, date=today - timedelta(days=4), outcome="removed")
    Failure.objects.create(node=gone, date=today - timedelta(days=2), outcome="repaired")
    left_out = ageing_page(campus["reader"]).partition("Left out of the log")[2]
    assert twice.key in left_out
    assert gone.key in left_out
    assert page(campus["reader"])


def test_without_failures_the_ageing_page_says_what_to_do(campus: dict[str, User]) -> None:
    assert "take in a workbook with the sheet Failures" in ageing_page(campus["reader"])


def test_an_empty_campus_has_an_ageing_page() -> None:
    assert "None can be told" in ageing_page(User.objects.create_superuser("one"))


def test_the_plan_leads_to_its_spares(campus: dict[str, User]) -> None:
    client = Client()
    client.force_login(campus["reader"])
    plan = Plan.objects.get()
    assert reverse("plan-spares", args=[plan.pk]) in client.get(reverse("plan", args=[plan.pk])).content.decode()
