"""The background work that workers do: one Celery task, and the table of kinds of work."""

import logging
import os
import signal
import threading
from collections.abc import Callable
from typing import Any

from celery import shared_task
from celery.signals import worker_ready, worker_shutting_down
from django.db import close_old_connections

from planner.models import Job
from planner.models.jobs import STOPPED
from planner.services import ageing, assess, handover, intake, jobs, pieces, plan, taken_ways, ways_out

log = logging.getLogger(__name__)
TEND_EVERY_S = 5.0
KEEPER = "CHANGEOVER_KEEPER"  # process id of the `manage.py serve` that keeps this worker

WORK: dict[str, Callable[[Job, jobs.Tell], jobs.Outcome]] = {
    "intake": intake.do,
    "assess": assess.do,
    "plan": plan.do,
    pieces.KIND: pieces.do,
    "handover": handover.do,
    "way out": ways_out.do,
    "ageing": ageing.do,
    "take ways out": taken_ways.do_take,
    "check ways out": taken_ways.do_check,
}


@shared_task(name=jobs.TASK_NAME)  # type: ignore[untyped-decorator]
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


class Watch:
    """Looks after jobs for as long as this worker lives.

    It ends when the worker is told to stop: a job whose process then goes away has not died, it goes on after the
    next start.
    """

    def __init__(self) -> None:
        self._over = threading.Event()

    def begin(self, **_: Any) -> None:
        """Begin to look after jobs, in a thread of its own."""
        self._over.clear()
        threading.Thread(target=self._keep_tending, daemon=True).start()

    def end(self, **_: Any) -> None:
        """Stop looking after jobs."""
        self._over.set()

    def _keep_tending(self) -> None:
        while not self._over.is_set():
            if orphaned():
                os.kill(os.getpid(), signal.SIGTERM)
            self._tend()
            self._over.wait(TEND_EVERY_S)

    def _tend(self) -> None:
        try:
            jobs.tend()
        except Exception:  # a passing trouble with the database must not end the watch
            log.exception("could not look after jobs")
        close_old_connections()


def orphaned() -> bool:
    """Tell whether `manage.py serve`, which started this worker, is gone."""
    keeper = os.environ.get(KEEPER)
    return keeper is not None and os.getppid() != int(keeper)


WATCH = Watch()
worker_ready.connect(WATCH.begin)
worker_shutting_down.connect(WATCH.end)
