"""What was measured on site: who read which figure off which instrument, where and when."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.core.readings import BETWEEN_TWO, UNIT, Quantity
from inventory.models.fields import History
from inventory.models.network import Node

LINES = sorted(one.value for one in BETWEEN_TWO)


class Reading(models.Model):
    """One figure read off an instrument; the newest of a quantity and place counts, earlier ones stay on record."""

    quantity = models.TextField()  # inventory.core.readings.Quantity, which also sets the unit
    node = models.ForeignKey(Node, models.CASCADE, related_name="readings")
    far = models.ForeignKey(Node, models.CASCADE, null=True, blank=True, related_name="far_readings")
    value = models.FloatField()
    on = models.DateField()
    instrument = models.TextField(null=True, blank=True)
    note = models.TextField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="readings")
    entered = models.DateTimeField()
    history = History()

    class Meta:
        ordering = ["-on", "-entered", "-id"]
        constraints = [
            models.CheckConstraint(condition=Q(value__gte=0), name="reading_value_low"),
            models.CheckConstraint(condition=Q(quantity__in=[one.value for one in Quantity]), name="reading_quantity"),
            models.CheckConstraint(
                condition=Q(quantity__in=LINES, far__isnull=False) | Q(~Q(quantity__in=LINES), far__isnull=True),
                name="reading_between_two",
            ),
            models.CheckConstraint(condition=~Q(far=F("node")), name="reading_two_places"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} at {self.node.key}"

    @property
    def unit(self) -> str:
        """Return the unit of the value."""
        return UNIT[Quantity(self.quantity)]
