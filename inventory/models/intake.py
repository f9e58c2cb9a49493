"""Every workbook that was taken in: the file, who, when, and what it changed."""

from django.conf import settings
from django.db import models


class Intake(models.Model):
    """One workbook taken in."""

    file_name = models.TextField()
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="intakes")
    at = models.DateTimeField()
    counts = models.JSONField(default=dict)  # sheet -> {new, changed, unchanged, absent, removed}
    problems = models.JSONField(default=list)  # warnings that were stored with it
    unknown_columns = models.JSONField(default=list)
    taken_back = models.DateTimeField(null=True, blank=True)  # when its changes were undone
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="intakes_taken_back"
    )

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.file_name} {self.at:%Y-%m-%d}"
