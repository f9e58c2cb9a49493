"""Verdicts as stored: one assessment at a time is current, and its segments are what the site shows."""

from datetime import datetime

from django.db import models

from inventory.models import Building, Node
from planner.core.findings import Verdict

VERDICTS = tuple(verdict.value for verdict in Verdict)


class Assessment(models.Model):
    """One assessment of the whole campus."""

    at = models.DateTimeField()
    by = models.TextField(null=True, blank=True)
    counts = models.JSONField(default=dict)  # verdict -> segments
    problems = models.JSONField(default=list)
    changed = models.DateTimeField(null=True)  # the last change of the records that segments were judged again for

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M}"

    @property
    def as_of(self) -> datetime:
        """Since when its verdicts stand as they are."""
        return self.changed or self.at


class Segment(models.Model):
    """One segment of the current assessment.

    `report` is planner.core.findings.SegmentReport as JSON, None while its words have not been written: on a large
    campus they follow the verdicts. Services read it by `planner.services.words`.
    """

    assessment = models.ForeignKey(Assessment, models.CASCADE, related_name="segments")
    key = models.TextField()
    building = models.ForeignKey(Building, models.CASCADE, null=True, related_name="segments")
    verdict = models.TextField()
    why = models.TextField()
    decided_by = models.TextField(null=True)
    station_count = models.PositiveIntegerField()  # old stations
    node_count = models.PositiveIntegerField()
    oldest = models.DateField(null=True)
    buses = models.JSONField(default=list)  # ids
    since = models.DateTimeField(null=True)  # since when the verdict holds
    because = models.TextField(null=True)  # what changed it, in words
    was = models.TextField(null=True)  # the verdict before
    report = models.JSONField(null=True)

    class Meta:
        ordering = ["key"]
        constraints = [
            models.UniqueConstraint(fields=["assessment", "key"], name="segment_once"),
            models.CheckConstraint(condition=models.Q(verdict__in=VERDICTS), name="segment_verdict"),
        ]
        indexes = [models.Index(fields=["assessment", "verdict"], name="segment_by_verdict")]

    def __str__(self) -> str:
        return self.key


class SegmentMember(models.Model):
    """That a node has a side on a segment."""

    segment = models.ForeignKey(Segment, models.CASCADE, related_name="members", db_index=False)  # member_once has it
    node = models.ForeignKey(Node, models.CASCADE, related_name="memberships")

    class Meta:
        ordering = ["segment_id", "node_id"]
        constraints = [models.UniqueConstraint(fields=["segment", "node"], name="member_once")]

    def __str__(self) -> str:
        return f"{self.segment_id} {self.node_id}"
