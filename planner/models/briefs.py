"""What the planner decides: briefs, crews, phases, closures."""

from collections.abc import Collection

from django.db import models
from django.db.models import F, Q, Value
from django.db.models.functions import Coalesce

from inventory.models import Building, Room
from inventory.models.fields import History, Key, not_below_zero
from inventory.workbook.choices import CLOSURE_KINDS

FIRST_BRIEF = "First plan"  # the brief that the workbook's sheet Brief fills


class Brief(models.Model):
    """A named set of settings; what is not set keeps its default (planner.core.brief.SETTINGS)."""

    name = models.TextField(unique=True, default=FIRST_BRIEF)
    copied_from = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, related_name="copies")
    history = History()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class BriefSetting(models.Model):
    """One setting of a brief, as people wrote it."""

    brief = models.ForeignKey(Brief, models.CASCADE, related_name="settings")
    setting = models.TextField()  # title of the setting
    value = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["brief__name", "setting"]
        constraints = [models.UniqueConstraint(fields=["brief", "setting"], name="briefsetting_once")]

    def __str__(self) -> str:
        return f"{self.brief.name}: {self.setting}"


class Crew(models.Model):
    """People who work together on one order at a time, under one brief; those of the first are the workbook's."""

    brief = models.ForeignKey(Brief, models.CASCADE, related_name="crews")
    key = Key()
    people = models.PositiveIntegerField()
    days = models.TextField(null=True, blank=True)
    shift_from = models.TimeField(null=True, blank=True)
    shift_to = models.TimeField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["brief_id", "key"]
        constraints = [
            models.UniqueConstraint(fields=["brief", "key"], name="crew_once"),
            models.CheckConstraint(condition=Q(people__gte=1), name="crew_people"),
        ]

    def __str__(self) -> str:
        return self.key


class Phase(models.Model):
    """A span of dates with a budget, under one brief; those of the first are the workbook's."""

    brief = models.ForeignKey(Brief, models.CASCADE, related_name="phases")
    key = Key()
    start = models.DateField()
    end = models.DateField()
    budget = models.DecimalField(max_digits=16, decimal_places=2, null=True, blank=True)
    materials_ordered_on = models.DateField(null=True, blank=True)
    districts = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["brief_id", "start", "key"]
        constraints = [
            models.UniqueConstraint(fields=["brief", "key"], name="phase_once"),
            models.CheckConstraint(condition=Q(end__gte=F("start")), name="phase_dates"),
            *not_below_zero("phase", "budget"),
        ]

    def __str__(self) -> str:
        return self.key


class Closure(models.Model):
    """A span in which work must keep out of, or is welcome in, the campus, a building or a room.

    Times are local to the building (to the campus's first building where none is named), as people write them. Those
    of the first brief are the workbook's and hold for every brief that does not lift them; others hold for their own.
    """

    brief = models.ForeignKey(Brief, models.CASCADE, related_name="closures")
    lifted_in = models.ManyToManyField(Brief, related_name="lifted", blank=True)
    building = models.ForeignKey(Building, models.CASCADE, null=True, blank=True, related_name="closures")
    room = models.ForeignKey(Room, models.CASCADE, null=True, blank=True, related_name="closures")
    start = models.CharField(max_length=16)  # 2027-03-01 08:00, local
    end = models.CharField(max_length=16)
    kind = models.TextField(null=True, blank=True)
    why = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["start", "end", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(end__gt=F("start")), name="closure_span"),
            models.CheckConstraint(condition=Q(kind__isnull=True) | Q(kind__in=CLOSURE_KINDS), name="closure_kind"),
            models.UniqueConstraint(
                "brief",
                Coalesce("building", 0),
                Coalesce("room", 0),
                "start",
                "end",
                Coalesce("kind", Value("")),
                name="closure_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.start} to {self.end}"

    def validate_constraints(self, exclude: Collection[str] | None = None) -> None:
        """Check all but `closure_once`, which the database keeps: Django finds its parts of mixed types."""
        super().validate_constraints({*(exclude or ()), "kind"})
