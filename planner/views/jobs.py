"""Background work as people see it: what it is doing, how far it is, and how it ended."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from inventory.core.roles import Capability
from inventory.views.downloads import download
from inventory.views.guard import may, refuse, requires
from planner.models import Job
from planner.models.jobs import ENDED
from planner.services import jobs, pieces

# kind of work -> who may stop it or start it again, and the page that shows what came of it
NEEDS = {
    "intake": Capability.TAKE_IN,
    "assess": Capability.ASSESS,
    "plan": Capability.PLAN,
    "handover": Capability.PLAN,
    "way out": Capability.ASSESS,
    "take ways out": Capability.PLAN,
    "check ways out": Capability.PLAN,
    "ageing": Capability.ASSESS,
}
SEES = {"plan": Capability.PLANS, "handover": Capability.PLANS}  # who may look at it; all others: everybody
TITLES = {
    "intake": "Taking records in",
    "assess": "Assessing the campus",
    "plan": "Making a plan",
    "handover": "Making the hand-over files",
    "way out": "Looking for a way out",
    "take ways out": "Taking ways out",
    "check ways out": "Looking whether ways out still hold",
    "ageing": "Reckoning what fails next",
}
LEADS_ON = {
    "intake": "See what came of it",
    "assess": "See the verdicts",
    "plan": "See the plan",
    "handover": "Download the files",
    "way out": "See the way out",
    "take ways out": "See what is taken",
    "check ways out": "See what is taken",
    "ageing": "See what fails next",
}
RESULT: dict[str, Callable[[Job], str]] = {
    "intake": lambda job: reverse("intake-job", args=[job.pk]),
    "assess": lambda _job: reverse("segments"),
    "plan": lambda job: reverse("plan", args=[(job.result or {})["plan"]]),
    "handover": lambda job: reverse("job-file", args=[job.pk]),
    "way out": lambda job: reverse("segment", args=[job.demand["segment"]]),
    "take ways out": lambda job: f"{reverse('taken-ways')}?job={job.pk}",
    "check ways out": lambda _job: reverse("taken-ways"),
    "ageing": lambda _job: reverse("ageing"),
}


def _job(pk: int) -> Job:
    """Return a job that somebody asked for; pieces of plans are between workers."""
    asked_for = Job.objects.exclude(kind=pieces.KIND).select_related("by").defer("upload", "output")
    return get_object_or_404(asked_for, pk=pk)


@never_cache
@requires(Capability.SEE)
def job(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one job; safe to leave and come back to."""
    one = _job(pk)
    if not may(request, _needed(one)):
        return refuse(request, _needed(one))
    return render(request, "planner/job.html", _context(request, one))


@never_cache
@requires(Capability.SEE)
def state(request: HttpRequest, pk: int) -> HttpResponse:
    """Answer with the moving part of the page; when the work has ended, tell the page to load anew."""
    jobs.tend()
    one = _job(pk)
    if not may(request, _needed(one)):
        return refuse(request, _needed(one))
    response = render(request, "planner/parts/job_state.html", _context(request, one))
    if one.state in ENDED:
        response.headers["HX-Refresh"] = "true"
    return response


def _needed(one: Job) -> Capability:
    return SEES.get(one.kind, Capability.SEE)


def _context(request: HttpRequest, one: Job) -> dict[str, object]:
    done = one.state == "done"
    return {
        "job": one,
        "title": TITLES[one.kind],
        "leads_on": LEADS_ON[one.kind],
        "may_steer": may(request, NEEDS[one.kind]),
        "result_address": RESULT[one.kind](one) if done else None,
        "ended": one.state in ENDED,
    }


@requires(Capability.SEE)
@require_POST
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask a job to stop; it keeps what it has."""
    one = _job(pk)
    if not may(request, NEEDS[one.kind]):
        return refuse(request, NEEDS[one.kind])
    jobs.ask_to_stop(one)
    return redirect("job", pk=pk)


@requires(Capability.SEE)
@require_POST
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Start a job that failed or was stopped once more."""
    one = _job(pk)
    if not may(request, NEEDS[one.kind]):
        return refuse(request, NEEDS[one.kind])
    try:
        jobs.ask_again(one)
    except jobs.JobRefused as refusal:
        return render(request, "planner/job.html", {**_context(request, one), "refusal": str(refusal)}, status=409)
    return redirect("job", pk=pk)


@requires(Capability.SEE)
def file(request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out the file that came of a job."""
    one = get_object_or_404(Job, pk=pk, output__isnull=False)
    if not may(request, _needed(one)):
        return refuse(request, _needed(one))
    return download(bytes(one.output or b""), one.output_name or f"job-{one.pk}")
