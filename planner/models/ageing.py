"""What the records say of each station's risk, as reckoned last."""

from django.db import models

from inventory.models import Node


class Reckoning(models.Model):
    """When risks were reckoned, and to which day ages were counted; there is one row."""

    at = models.DateTimeField()
    on = models.DateField()
    stations = models.PositiveIntegerField()
    told = models.PositiveIntegerField()  # of them with a figure

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.on}"


class StationRisk(models.Model):
    """One station's risk: chance to fail within twelve months, importance of its room, days without a working one."""

    node = models.OneToOneField(Node, models.CASCADE, related_name="risk")
    age_years = models.FloatField(null=True)
    chance = models.FloatField(null=True)
    importance = models.PositiveSmallIntegerField()
    days_without = models.FloatField(null=True)
    score = models.FloatField(null=True)  # their product; None where age or life is not known

    class Meta:
        ordering = [models.F("score").desc(nulls_last=True), "node_id"]
        indexes = [models.Index(fields=["score", "node"], name="risk_by_score")]

    def __str__(self) -> str:
        return f"{self.node_id} {self.score}"
