"""Hand a plan over: the workbook, and the calendars of buildings and crews."""

import zipfile
from io import BytesIO

from django.conf import settings

from inventory.store import load_snapshot
from planner.core.schedule import places_of
from planner.core.windows import find_windows
from planner.handover.facts import Handed
from planner.handover.ics import write_calendars
from planner.handover.notices import write_notices
from planner.handover.xlsx import write_handover
from planner.models import Job, Plan
from planner.services.how_sure import how_sure
from planner.services.jobs import Outcome, Tell
from planner.services.words import load_reports
from planner.store.briefs import load_closures, load_crews, load_phases
from planner.store.plans import keys_over, load_orders, load_plan, load_settings, load_takeoff

WORKBOOK = "changeover-plan-{}.xlsx"


def facts_of(plan: Plan) -> Handed:
    """Return everything that leaves the tool for one plan: the plan as made, on the campus as stored now."""
    snapshot = load_snapshot(taken_on=plan.made.date(), closures=load_closures(plan.brief.name))
    brief, orders, crews = load_settings(plan), load_orders(plan), load_crews(plan.brief.name)
    return Handed(
        campus=settings.CAMPUS_NAME,
        made=plan.made,
        snapshot=snapshot,
        brief=brief,
        reports=load_reports(plan.assessment),
        orders=orders,
        windows=find_windows(snapshot, orders, crews, load_phases(plan.brief.name), brief),
        plan=load_plan(plan),
        takeoff=load_takeoff(plan),
        time_zone=places_of(snapshot).time_zone,
        over=keys_over(plan),
        crews=tuple(crew.key for crew in crews),
        outlook=how_sure(plan).outlook,
    )


def hand_over(plan: Plan) -> dict[str, bytes]:
    """Return the files of a plan by name: one workbook, one calendar a building and one a crew, notices for the rooms."""
    handed = facts_of(plan)
    return {WORKBOOK.format(plan.pk): write_handover(handed), **write_calendars(handed), **write_notices(handed)}


def do(job: Job, tell: Tell) -> Outcome:
    """Make the files in the background, as one archive."""
    plan = Plan.objects.get(pk=job.demand["plan"])
    tell("Writing workbook, calendars and notices", 0.1)
    files = hand_over(plan)
    return Outcome(
        result={"plan": plan.pk, "files": sorted(files)},
        output=_archive(files),
        output_name=f"changeover-plan-{plan.pk}.zip",
    )


def _archive(files: dict[str, bytes]) -> bytes:
    content = BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return content.getvalue()
