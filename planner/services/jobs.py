"""Background work: asking for it, doing it, seeing that it died.

The row `Job` is the truth. A message on the broker only says "look at job N", so a message that is lost, doubled
or late does no harm: `claim` lets exactly one worker begin, and `tend` asks again for what nobody began.
"""

import os
import socket
import threading
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Self

from celery import current_app
from django.contrib.auth.models import User
from django.db import OperationalError, connection, transaction
from django.db.models import F, Q
from django.utils import timezone
from kombu.exceptions import OperationalError as BrokerError

from planner.models import Job
from planner.models.jobs import DONE, ENDED, FAILED, QUEUED, RUNNING, STOPPED

TASK_NAME = "planner.run_job"
BEAT_EVERY_S = 3.0
DEAD_AFTER_S = 60.0  # on another host, where only the beat tells
SILENT_AFTER_S = 900.0  # on this host, where the process is still there
ASK_AGAIN_AFTER_S = 30.0
MOST_ATTEMPTS = 3
SAME_CLICK_S = 3.0  # two clicks on one button lie closer than this (common practice)
THIS_MAIN = f"{socket.gethostname()}/{uuid.uuid4().hex[:12]}"  # made before workers fork: names the main process


class Stopped(Exception):  # noqa: N818 - not an error: somebody asked for it
    """The person asked the job to stop, and it has nothing worth keeping."""


class JobRefused(ValueError):  # noqa: N818 - says what happened
    """What was asked cannot be done to this job; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of a job: facts for the page, and a file if there is one."""

    result: dict[str, Any]
    output: bytes | None = None
    output_name: str | None = None
    keep_upload: bool = False  # the upload is needed again by a later job


Tell = Callable[[str, float | None], bool]  # (what it is doing, fraction done) -> whether to go on


def ask(kind: str, demand: dict[str, Any], *, by: User | None, upload: bytes | None = None) -> Job:
    """Put a job in the queue and tell the workers; it stays queued where the broker cannot be reached."""
    with transaction.atomic():
        job = Job.objects.create(kind=kind, demand=demand, upload=upload, by=by, made=timezone.now())
        transaction.on_commit(lambda: send(job.pk))
    return job


@transaction.atomic
def ask_once(kind: str, demand: dict[str, Any], *, by: User | None, upload: bytes | None = None) -> Job:
    """Put a job in the queue, unless the same person asked for the same a moment ago: a second click is no wish."""
    since = timezone.now() - timedelta(seconds=SAME_CLICK_S)
    just_asked = Job.objects.filter(kind=kind, by=by, made__gte=since).exclude(state__in=(FAILED, STOPPED))
    found = next((job for job in just_asked.defer("upload", "output") if job.demand == demand), None)
    return found or ask(kind, demand, by=by, upload=upload)


def send(job_id: int) -> bool:
    """Tell the workers to look at a job; False where the broker cannot be reached (`tend` asks again later)."""
    try:
        current_app.send_task(TASK_NAME, args=[job_id])
    except (BrokerError, OSError):
        return False
    return True


def ask_again(job: Job) -> Job:
    """Start a job that failed or was stopped once more, with what it was first asked to do."""
    changed = Job.objects.filter(pk=job.pk, state__in=(FAILED, STOPPED)).update(
        state=QUEUED,
        reason=None,
        doing="",
        done_pct=None,
        attempts=0,
        stop_asked=False,
        ended=None,
        made=timezone.now(),
    )
    if not changed:
        message = f"Job {job.pk} is {job.state}. Only a failed or stopped job can be started again."
        raise JobRefused(message)
    job.refresh_from_db()
    send(job.pk)
    return job


def ask_to_stop(job: Job) -> None:
    """Ask a job to stop; a queued one ends at once, a running one as soon as it looks up."""
    now = timezone.now()
    Job.objects.filter(pk=job.pk, state=QUEUED).update(state=STOPPED, ended=now, reason="Stopped before it began.")
    Job.objects.filter(pk=job.pk, state=RUNNING).update(stop_asked=True)


def claim(job_id: int) -> Job | None:
    """Begin a queued job, or return None if another worker has it or it has ended."""
    now = timezone.now()
    mine = Job.objects.filter(pk=job_id, state=QUEUED).update(
        state=RUNNING, started=now, beat=now, worker=f"{THIS_MAIN}/{os.getpid()}", attempts=F("attempts") + 1
    )
    return Job.objects.get(pk=job_id) if mine else None


class Progress:
    """Keeps a running job's row alive and takes what the work tells about itself.

    A thread of its own writes the beat, so that a long step without a word is not taken for a death.
    """

    def __init__(self, job_id: int) -> None:
        self.job_id = job_id
        self.doing = ""
        self.done: float | None = None
        self.stop_asked = False
        self._told = threading.Event()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._keep_beating, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._told.set()
        self._thread.join(timeout=BEAT_EVERY_S)

    def tell(self, doing: str, done: float | None = None) -> bool:
        """Say what the work is doing and how far it is (0 to 1); False where it should stop."""
        self.doing, self.done = doing, done if done is not None else self.done
        self._told.set()
        return not self.stop_asked

    def _keep_beating(self) -> None:
        while not self._over.is_set():
            self._beat()
            self._told.wait(BEAT_EVERY_S)
            self._told.clear()
            self._over.wait(0.3)  # at most about three rows a second, however talkative the work is
        connection.close()

    def _beat(self) -> None:
        pct = None if self.done is None else round(100 * min(max(self.done, 0.0), 1.0))
        try:
            running = Job.objects.filter(pk=self.job_id, state=RUNNING)
            running.update(beat=timezone.now(), doing=self.doing, done_pct=pct)
            self.stop_asked = running.filter(stop_asked=True).exists()
        except OperationalError:
            return  # the database is busy with a long write: the next beat will do


def keep_so_far(job: Job, result: dict[str, Any]) -> bool:
    """Write down what a running job has so far, for the next who does it; False where the database was too busy."""
    try:
        return bool(Job.objects.filter(pk=job.pk, state=RUNNING).update(result=result))
    except OperationalError:
        return False


def finish(job: Job, outcome: Outcome) -> None:
    """Record what came of a job; a stop that was asked for and kept something counts as done."""
    kept = {} if outcome.keep_upload else {"upload": None}
    Job.objects.filter(pk=job.pk, state=RUNNING).update(
        state=DONE,
        ended=timezone.now(),
        done_pct=100,
        doing="",
        result=outcome.result,
        output=outcome.output,
        output_name=outcome.output_name,
        **kept,
    )


def fail(job: Job, reason: str, state: str = FAILED) -> None:
    """Record that a job failed (or was stopped), and why, in words."""
    Job.objects.filter(pk=job.pk).exclude(state__in=ENDED).update(state=state, ended=timezone.now(), reason=reason)


def tend(now: datetime | None = None) -> None:
    """Look after jobs: those whose worker is gone go back into the queue or fail; forgotten ones are asked for again.

    Safe to call from anywhere at any time, by several processes at once.
    """
    now = now or timezone.now()
    for job in Job.objects.filter(state=RUNNING).defer("upload", "output"):
        if _is_dead(job, now):
            _bury_or_revive(job)
    waiting = Q(state=QUEUED, made__lt=now - timedelta(seconds=ASK_AGAIN_AFTER_S))
    for job_id in Job.objects.filter(waiting).order_by("made").values_list("pk", flat=True)[:20]:
        Job.objects.filter(pk=job_id).update(made=now)
        send(job_id)


def _is_dead(job: Job, now: datetime) -> bool:
    """Tell whether nobody works on a running job any more.

    On this host the process is asked for. Its beat alone proves little here: a long write keeps it out of SQLite.
    """
    silent_s = (now - job.beat).total_seconds() if job.beat else SILENT_AFTER_S
    host, _, pid = (job.worker or "//").split("/")
    if host != socket.gethostname() or not pid:
        return silent_s >= DEAD_AFTER_S
    return silent_s >= SILENT_AFTER_S or not _process_exists(int(pid))


def _process_exists(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _bury_or_revive(job: Job) -> None:
    """Fail a job whose process was killed under a living worker; queue again one whose worker was restarted."""
    same_main = (job.worker or "").rsplit("/", 1)[0] == THIS_MAIN
    seen = f"last sign of life {job.beat:%H:%M:%S} UTC" if job.beat else "no sign of life"
    where = f"while {job.doing or 'starting'}"
    kept = " It goes on from the best plan that there was." if "best" in (job.result or {}) else ""
    if same_main:
        fail(
            job,
            f"The process doing it was killed {where} ({seen}); often this means too little memory. Start it again.{kept}",
        )
    elif job.attempts >= MOST_ATTEMPTS:
        fail(
            job,
            f"The worker stopped {job.attempts} times {where} ({seen}). Start it again when the cause is found.{kept}",
        )
    else:
        revived = Job.objects.filter(pk=job.pk, state=RUNNING, worker=job.worker, attempts=job.attempts)
        if revived.update(state=QUEUED, doing="Waiting for a worker after a restart"):
            send(job.pk)
