"""Background work as people see it: the row is the truth, the message on the broker only carries its number."""

from django.conf import settings
from django.db import models

QUEUED, RUNNING, DONE, FAILED, STOPPED = JOB_STATES = ("queued", "running", "done", "failed", "stopped")
ENDED = (DONE, FAILED, STOPPED)


class Job(models.Model):
    """One piece of background work.

    `kind` names the work in planner.tasks.WORK; `demand` is what it was asked to do, `result` what came of it.
    `beat` is the worker's last sign of life; a running job whose beat is old is dead.
    """

    kind = models.TextField()
    state = models.TextField(default=QUEUED)
    demand = models.JSONField(default=dict)
    upload = models.BinaryField(null=True)
    doing = models.TextField(default="", blank=True)  # what it is doing now, in words
    done_pct = models.PositiveSmallIntegerField(null=True)
    result = models.JSONField(null=True)
    output = models.BinaryField(null=True)  # a file that came of it
    output_name = models.TextField(null=True)
    reason = models.TextField(null=True)  # why it failed, in words
    attempts = models.PositiveIntegerField(default=0)
    stop_asked = models.BooleanField(default=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="jobs")
    made = models.DateTimeField()
    started = models.DateTimeField(null=True)
    beat = models.DateTimeField(null=True)
    ended = models.DateTimeField(null=True)
    worker = models.TextField(null=True)

    class Meta:
        ordering = ["-made", "-id"]
        constraints = [models.CheckConstraint(condition=models.Q(state__in=JOB_STATES), name="job_state")]
        indexes = [models.Index(fields=["state", "beat"], name="job_by_state")]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"
