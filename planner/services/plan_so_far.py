"""The best plan of a running job, written down in its row, so that a worker that is killed loses little of it."""

from time import monotonic

from planner.core.plans import Placed, Progress
from planner.models import Job
from planner.services.jobs import keep_so_far
from planner.store.records import from_json, to_json

KEEP_EVERY_S = 5.0  # at most so often is a better plan written down


class PlanSoFar:
    """Takes better plans as they come. `begin` is what an earlier try of the same job had, nothing where there is none."""

    def __init__(self, job: Job | None = None) -> None:
        self._job = job
        self._written_s = -KEEP_EVERY_S
        self._last: object = None
        kept = (job.result or {}).get("best", {}) if job else {}
        self.begin = tuple(from_json(Placed, one) for one in kept.get("placed", ()))

    def take(self, progress: Progress) -> None:
        """Write a better plan down, unless the last one was written just now: then its turn comes later."""
        if self._job is None or progress.best is None or progress.best is self._last:
            return
        if monotonic() < self._written_s + KEEP_EVERY_S:
            return
        best = {"placed": to_json(progress.best()), "objective": progress.objective, "bound": progress.bound}
        if keep_so_far(self._job, {"best": best}):
            self._last, self._written_s = progress.best, monotonic()
