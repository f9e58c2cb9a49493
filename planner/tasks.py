"""The background work that workers do: one Celery task, and the table of kinds of work."""

import logging
import threading
from collections.abc import Callable
from typing import Any

from celery import shared_task
from celery.signals import worker_ready
from django.db import close_old_connections

from planner.models import Job
from planner.models.jobs import STOPPED
from planner.services import assess, handover, intake, jobs, plan

log = logging.getLogger(__name__)
TEND_EVERY_S = 10.0

WORK: dict[str, Callable[[Job, jobs.Tell], jobs.Outcome]] = {
    "intake": intake.do,
    "assess": assess.do,
    "plan": plan.do,
    "handover": handover.do,
}


@shared_task(name=jobs.TASK_NAME)
def run_job(job_id: int) -> None:
    """Do one job, if nobody else has it; whatever goes wrong ends up in its row in words."""
    job = jobs.claim(job_id)
    if job is None:
        return
    with jobs.Progress(job.pk) as progress:
        try:
            outcome = WORK[job.kind](job, progress.tell)
        except jobs.Stopped as stop:
            jobs.fail(job, str(stop) or "Stopped as asked.", STOPPED)
            return
        except Exception as error:  # the row must say so, whatever it was
            log.exception("job %s failed", job.pk)
            jobs.fail(job, in_words(error))
            return
    jobs.finish(job, outcome)


def in_words(error: Exception) -> str:
    """Return what a person should read about a failure: the message, and its kind where that says more."""
    message = str(error).strip()
    expected = isinstance(error, ValueError) and message
    return message if expected else f"{type(error).__name__}: {message or 'no message'}"


@worker_ready.connect
def keep_tending(**_: Any) -> None:
    """Look after jobs for as long as this worker lives."""
    threading.Thread(target=_tend_for_ever, daemon=True).start()


def _tend_for_ever() -> None:
    pause = threading.Event()
    while True:
        try:
            jobs.tend()
        except Exception:  # a passing trouble with the database must not end the watch
            log.exception("could not look after jobs")
        close_old_connections()
        pause.wait(TEND_EVERY_S)
