"""Spares on the shelf and failures on record."""

from django.db import models
from django.db.models import Q

from inventory.core.saying import day_words
from inventory.models.catalogue import EquipmentModel
from inventory.models.fields import History, one_of
from inventory.models.network import Node
from inventory.workbook.choices import OUTCOMES


class Spare(models.Model):
    """Units of a model in one store."""

    model = models.ForeignKey(EquipmentModel, models.PROTECT, related_name="spares")
    on_hand = models.PositiveIntegerField()
    store = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["model__key", "store", "id"]
        constraints = [
            models.UniqueConstraint(fields=["model", "store"], name="spare_once"),
            models.UniqueConstraint(fields=["model"], condition=Q(store__isnull=True), name="spare_once_without_store"),
        ]

    def __str__(self) -> str:
        return f"{self.model.key} {self.store or ''}".strip()


class Failure(models.Model):
    """One failure of one node."""

    node = models.ForeignKey(Node, models.PROTECT, related_name="failures")
    date = models.DateField()
    what_failed = models.TextField(null=True, blank=True)
    outcome = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["-date", "node__key", "id"]
        constraints = [
            models.UniqueConstraint(fields=["node", "date", "what_failed"], name="failure_once"),
            models.UniqueConstraint(
                fields=["node", "date"], condition=Q(what_failed__isnull=True), name="failure_once_without_words"
            ),
            one_of("failure", "outcome", OUTCOMES),
        ]
        indexes = [models.Index(fields=["date"], name="failure_by_date")]

    def __str__(self) -> str:
        return f"{self.node.key} {day_words(self.date)}"
