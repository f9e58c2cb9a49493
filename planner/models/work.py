"""What happens at the wall box: a journal of entries for each order, its photographs, and what acceptance changed."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from planner.models.plans import Order

BEGIN, TICK, UNTICK, SERIAL, NOTE, PHOTOGRAPH, FIGURE, ACCEPT, BACK_OUT = ACTS = (
    "begin",
    "tick",
    "untick",
    "serial",
    "note",
    "photograph",
    "figure",
    "accept",
    "back out",
)


class WorkEntry(models.Model):
    """One entry of the crew. `token` is made where it is typed, so that sending it twice counts once.

    `code` is the step or the station it is about; `text` what was typed: a second person's name at a hold point, a serial
    number, a note, a figure, a reason. `done` is when it was done on site, `at` when it came in.
    """

    order = models.ForeignKey(Order, models.CASCADE, related_name="entries")
    token = models.UUIDField(unique=True)
    act = models.TextField()
    code = models.TextField(default="", blank=True)
    text = models.TextField(default="", blank=True)
    done = models.DateTimeField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["order_id", "at", "id"]
        constraints = [models.CheckConstraint(condition=Q(act__in=ACTS), name="workentry_act")]

    def __str__(self) -> str:
        return f"{self.order_id} {self.act} {self.code}".strip()


class Photograph(models.Model):
    """One photograph of an order, as it is kept: made anew from what was sent, without place, time or other data in it."""

    entry = models.OneToOneField(WorkEntry, models.CASCADE, related_name="photograph")
    content = models.BinaryField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()

    class Meta:
        ordering = ["entry_id"]

    def __str__(self) -> str:
        return f"photograph of {self.entry}"


class FiguresSent(models.Model):
    """Figures that came in from the page of a segment: `token` is made where they are typed, so that sent twice they count once."""

    token = models.UUIDField(unique=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"figures {self.token}"


class Rebuild(models.Model):
    """What accepting an order changed in the inventory: `changes` are planner.services.as_built.Changed as JSON."""

    order = models.OneToOneField(Order, models.CASCADE, related_name="rebuild")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    changes = models.JSONField(default=list)
    undone = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"as built by {self.order}"


class CrewMember(models.Model):
    """That a person was put on a crew (by its name on the sheet Crews): when and by whom, and when and by whom off it again."""

    member = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="crew_memberships")
    crew = models.TextField()
    since = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    until = models.DateTimeField(null=True, blank=True)
    until_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["member_id", "crew", "id"]
        constraints = [
            models.UniqueConstraint(fields=["member", "crew"], condition=Q(until=None), name="crewmember_once"),
        ]

    def __str__(self) -> str:
        return f"{self.member} on {self.crew}"


class Feed(models.Model):
    """A private address under which a calendar program reads one building's or one crew's orders without signing in."""

    token = models.CharField(max_length=64, unique=True)
    kind = models.TextField()  # building or crew
    key = models.TextField()
    made = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    ended = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["kind", "key", "id"]
        constraints = [models.CheckConstraint(condition=Q(kind__in=("building", "crew")), name="feed_kind")]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"

    def get_absolute_url(self) -> str:
        """Return the address without the site's name."""
        return reverse("feed", args=[self.token])
