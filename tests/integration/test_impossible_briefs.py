"""Briefs that cannot work, through the command and in the background: named in words before anything is solved."""

import json
from decimal import Decimal

import pytest

from inventory.core.calendars import MOST_EVENTS, calendar_faults
from planner.models import Crew, Job, Phase, Plan
from planner.models.briefs import FIRST_BRIEF
from planner.services import jobs
from planner.tasks import run_job
from tests.integration.test_commands import CAMPUS, PROBLEMS, ran


@pytest.mark.django_db
def test_a_brief_that_cannot_work_names_what_clashes_and_leaves_no_plan() -> None:
    ran("intake", CAMPUS)
    Phase.objects.update(budget=Decimal(0))
    code, text = ran("plan", "--seconds", "1", "--json", "-")
    problems = {problem["code"]: problem for problem in json.loads(text)["problems"]}
    assert code == PROBLEMS
    assert "No phase can pay for a single order" in problems["budget"]["message"]
    assert all("has a budget of 0.00" in demand for demand in problems["clash"]["demands"])
    assert problems["clash"]["reliefs"][0].startswith("the budget of ")
    Crew.objects.all().delete()
    job = jobs.ask("plan", {"brief": FIRST_BRIEF, "seconds": 1}, by=None)
    run_job(job.pk)
    job = Job.objects.get(pk=job.pk)
    assert job.state == "failed"
    assert "There is no crew. Add one with its days and shift." in (job.reason or "")
    assert not Plan.objects.exists()


def test_a_calendar_of_a_hundred_thousand_events_is_refused_by_its_count_before_it_is_read() -> None:
    event = b"BEGIN:VEVENT\r\nUID:1\r\nEND:VEVENT\r\n"
    (fault,) = calendar_faults(b"BEGIN:VCALENDAR\r\n" + event * 100_000 + b"END:VCALENDAR\r\n")
    assert "100,000 events" in fault.why
    assert f"{MOST_EVENTS:,}" in fault.why
