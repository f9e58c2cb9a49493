"""What a planner chooses by hand: ways out that are taken, which segments share an order, and what comes first."""

from django.conf import settings
from django.db import models

from inventory.models import Building
from inventory.models.fields import History
from planner.core.findings import Verdict

VERDICTS = tuple(verdict.value for verdict in Verdict)


class TakenWay(models.Model):
    """A way out that a planner has taken for one segment, and against which verdict.

    `way` is planner.core.findings.WayOut as JSON, as it was then. `void` says why it does not hold any more, found when it
    was last looked at (`checked`); `price_now` is its price then. A segment goes by its name, which outlives assessments.
    """

    segment = models.TextField(unique=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    verdict = models.TextField()
    assessed = models.DateTimeField()
    way = models.JSONField()
    price = models.DecimalField(max_digits=16, decimal_places=2, null=True)
    currency = models.TextField()
    void = models.TextField(null=True)
    price_now = models.DecimalField(max_digits=16, decimal_places=2, null=True)
    checked = models.DateTimeField(null=True)
    history = History()

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.CheckConstraint(condition=models.Q(verdict__in=VERDICTS), name="takenway_verdict")]

    def __str__(self) -> str:
        return self.segment


class OrderChoice(models.Model):
    """That the segments of each part share an order, and that no two parts do; `parts` are lists of segment names.

    `void` says why it did not hold when a plan was last made.
    """

    building = models.ForeignKey(Building, models.CASCADE, related_name="order_choices")
    parts = models.JSONField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    why = models.TextField(null=True, blank=True)
    void = models.TextField(null=True)
    checked = models.DateTimeField(null=True)
    history = History()

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return " | ".join(", ".join(part) for part in self.parts)


class Precedence(models.Model):
    """That the work on some segments comes after that on others; `earlier` and `later` are lists of segment names.

    Orders change their names from plan to plan, segments do not: `first` and `then` are the orders as they were called when
    it was chosen. `void` says why it did not hold when a plan was last made.
    """

    earlier = models.JSONField()
    later = models.JSONField()
    first = models.TextField()
    then = models.TextField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    why = models.TextField(null=True, blank=True)
    void = models.TextField(null=True)
    checked = models.DateTimeField(null=True)
    history = History()

    class Meta:
        ordering = ["at", "id"]
        verbose_name = "sequence of work"

    def __str__(self) -> str:
        return f"{self.then} after {self.first}"
