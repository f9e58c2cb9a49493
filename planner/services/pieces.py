"""Pieces of a plan, solved by the other Celery workers where there are several.

A piece is a job like any other: its row holds what to solve and then the answer, and the message only says "look at
job N". Whoever plans solves one piece himself; what nobody has begun by then he takes back and solves too, so that
workers may be busy, slow or gone. Answers do not depend on who gave them.
"""

import hashlib
import hmac
import pickle
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from time import sleep
from typing import Any, TypeVar

from celery import current_app
from django.conf import settings
from django.utils import timezone
from kombu.exceptions import OperationalError as BrokerError

from planner.models import Job
from planner.models.jobs import DONE, ENDED, QUEUED, STOPPED
from planner.services.jobs import Outcome, Tell, send

KIND = "piece"
ANSWERS_WITHIN_S = 1.0  # how long workers are given to say that they are there
LOOK_EVERY_S = 0.1
SIGNED_BYTES = hashlib.sha256().digest_size
Piece = TypeVar("Piece")
Found = TypeVar("Found")


class NotOurs(ValueError):  # noqa: N818 - says what it is
    """A piece that was not signed with the key of this site; nothing of it is read."""


def places_to_work() -> int:
    """Return how many jobs all workers can do at a time; 0 where they cannot be asked, as without a broker of its own."""
    if settings.EMBEDDED_BROKER:
        return 0
    with suppress(BrokerError, OSError):
        found = current_app.control.inspect(timeout=ANSWERS_WITHIN_S).stats() or {}
        return sum(int(each.get("pool", {}).get("max-concurrency", 1)) for each in found.values())
    return 0


class OtherWorkers:
    """Hands that are the other workers, and this one for the first piece of each round. `of` is the job that plans."""

    def __init__(self, of: Job) -> None:
        self._of = of
        Job.objects.filter(kind=KIND, demand__of=of.pk).delete()  # left by an earlier try that was killed

    def map(self, solve: Callable[[Piece], Found], jobs: Iterable[Piece], /) -> Iterator[Found]:
        """Return the answers, in the order of the jobs."""
        pieces = [*jobs]
        asked = [self._ask(solve, piece) for piece in pieces[1:]]
        try:
            yield from (solve(piece) for piece in pieces[:1])
            for piece, number in zip(pieces[1:], asked, strict=True):
                yield self._answer(solve, piece, number)
        finally:
            Job.objects.filter(pk__in=asked).delete()

    def _ask(self, solve: Callable[[Piece], Found], piece: Piece) -> int:
        job = Job.objects.create(
            kind=KIND, demand={"of": self._of.pk}, upload=signed((solve, piece)), by=self._of.by, made=timezone.now()
        )
        send(job.pk)
        return job.pk

    def _answer(self, solve: Callable[[Piece], Found], piece: Piece, number: int) -> Found:
        """Return the answer of a worker, or of this one where nobody has begun."""
        back = Job.objects.filter(pk=number, state=QUEUED).update(state=STOPPED, ended=timezone.now())
        while not back:
            job = Job.objects.filter(pk=number).values("state", "output").first()
            if job is None or (job["state"] in ENDED and job["state"] != DONE):
                break
            if job["state"] == DONE:
                found: Found = read(job["output"])
                return found
            sleep(LOOK_EVERY_S)
            back = Job.objects.filter(pk=number, state=QUEUED).update(state=STOPPED, ended=timezone.now())
        return solve(piece)


def do(job: Job, tell: Tell) -> Outcome:
    """Solve a piece for whoever plans."""
    tell("Solving a piece of a plan", None)
    solve, piece = read(job.upload)
    return Outcome(result={}, output=signed(solve(piece)))


def signed(what: object) -> bytes:
    """Return a thing as bytes that only this site can have written."""
    written = pickle.dumps(what)
    return _signature(written) + written


def read(kept: bytes | memoryview | None) -> Any:
    """Return a thing that was signed.

    Raises
    ------
    NotOurs
        If somebody else wrote it.

    """
    whole = bytes(kept or b"")
    signature, written = whole[:SIGNED_BYTES], whole[SIGNED_BYTES:]
    if not hmac.compare_digest(signature, _signature(written)):
        message = "This piece of a plan was not written by this site (SECRET_KEY differs, or its row was changed)."
        raise NotOurs(message)
    return pickle.loads(written)  # noqa: S301 - signed by this site


def _signature(written: bytes) -> bytes:
    return hmac.digest(settings.SECRET_KEY.encode(), b"piece of a plan" + written, "sha256")
