"""Reporting that a node failed."""

from datetime import date

from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.models import Failure, Node
from inventory.services.records import create_record
from inventory.store.targets import By


def report_failure(node: Node, day: date, what: str | None, outcome: str | None, by: By) -> Failure:
    """Put a failure on record; ValidationError where the day cannot be, or the same failure is on record already."""
    if day > timezone.localdate():
        raise ValidationError({"date": f"{day:%-d %b %Y} has not come yet. Enter the day on which it failed."})
    if node.installed and day < node.installed:
        raise ValidationError({"date": f"{node} was installed on {node.installed:%-d %b %Y}, after that day."})
    values = {"node": node, "date": day, "what_failed": (what or "").strip() or None, "outcome": outcome or None}
    return create_record(Failure, values, by)
