"""What is on its way to the shelf, and what has come."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.core.saying import day_words, number_words
from inventory.models.catalogue import Part
from inventory.models.fields import History


class Delivery(models.Model):
    """So many units of a part that are ordered and still to come, with the day on which they are due."""

    part = models.ForeignKey(Part, models.PROTECT, related_name="deliveries")
    due = models.DateField()
    quantity = models.DecimalField(max_digits=16, decimal_places=4)
    reference = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["due", "part__key", "reference", "id"]
        verbose_name_plural = "deliveries"
        constraints = [
            models.UniqueConstraint(fields=["part", "due", "reference"], name="delivery_once"),
            models.UniqueConstraint(
                fields=["part", "due"], condition=Q(reference__isnull=True), name="delivery_once_without_reference"
            ),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="delivery_quantity"),
        ]

    def __str__(self) -> str:
        return f"{self.part.key} {day_words(self.due)} {self.reference or ''}".strip()


class StockEntry(models.Model):
    """One thing done to stock by hand, once: `token` is the form's, so that the same form sent twice counts once."""

    token = models.UUIDField(unique=True)
    kind = models.TextField()  # ordered or delivered
    part = models.ForeignKey(Part, models.PROTECT, related_name="stock_entries")
    quantity = models.DecimalField(max_digits=16, decimal_places=4)
    due = models.DateField()
    reference = models.TextField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-at", "-id"]
        verbose_name_plural = "stock entries"
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="stockentry_quantity")]

    def __str__(self) -> str:
        return f"{self.kind} {number_words(self.quantity)} of {self.part.key}"
