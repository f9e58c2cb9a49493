"""Who tried to sign in, when and from where: for the wait after repeated failures and for the record."""

from django.conf import settings
from django.db import models


class SignInAttempt(models.Model):
    """One attempt to sign in.

    `key` is a digest of the name and the address it came from, so that a password typed into the wrong field is never
    stored; `user` is there where the name is somebody's.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, null=True, blank=True, related_name="sign_ins")
    key = models.CharField(max_length=64)
    address = models.TextField(default="", blank=True)
    at = models.DateTimeField()
    worked = models.BooleanField()

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["key", "at"], name="signin_by_key")]

    def __str__(self) -> str:
        return f"{self.user or 'nobody'} {self.at:%Y-%m-%d %H:%M} {'worked' if self.worked else 'failed'}"
