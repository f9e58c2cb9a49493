"""Buildings, rooms, and the calendars that rooms name."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models.fields import History, Key, at_least


class Building(models.Model):
    """One building."""

    key = Key(unique=True)
    name = models.TextField(null=True, blank=True)
    district = models.TextField(null=True, blank=True)
    time_zone = models.TextField(null=True, blank=True)
    holidays = models.TextField(null=True, blank=True)
    outages_at_once = models.PositiveIntegerField(null=True, blank=True)
    crews_admitted = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["key"]
        constraints = [at_least("building", "outages_at_once", 1)]

    def __str__(self) -> str:
        return self.key


class Room(models.Model):
    """One room."""

    building = models.ForeignKey(Building, models.PROTECT, related_name="rooms")
    key = Key()
    floor = models.TextField(null=True, blank=True)
    name = models.TextField(null=True, blank=True)
    use = models.TextField(null=True, blank=True)
    importance = models.PositiveSmallIntegerField(null=True, blank=True)
    calendar = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["building__key", "key"]
        constraints = [
            models.UniqueConstraint(fields=["building", "key"], name="room_once_a_building"),
            models.CheckConstraint(
                condition=Q(importance__isnull=True) | Q(importance__range=(1, 5)), name="room_importance"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.building.key} {self.key}"


class CalendarFile(models.Model):
    """The content of an .ics file that rooms name."""

    name = models.TextField(unique=True)
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    taken_in = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
