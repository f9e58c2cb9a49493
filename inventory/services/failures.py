"""Reporting that a node failed."""

from datetime import date

from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.models import Failure, Node
from inventory.services.records import create_record
from inventory.store.targets import By

REMOVED = "removed"


def report_failure(node: Node, day: date, what: str | None, outcome: str | None, by: By) -> Failure:
    """Put a failure on record; ValidationError where the day cannot be, or the same failure is on record already."""
    if day > timezone.localdate():
        raise ValidationError({"date": f"{day:%-d %b %Y} has not come yet. Enter the day on which it failed."})
    if node.installed and day < node.installed:
        raise ValidationError({"date": f"{node} was installed on {node.installed:%-d %b %Y}, after that day."})
    gone = _taken_away(node, day)
    if gone:
        raise ValidationError(
            {
                "date": f"{node} was taken away on {gone:%-d %b %Y} by its own record. Correct that failure's outcome first, or name the node that hangs there now."
            }
        )
    values = {"node": node, "date": day, "what_failed": (what or "").strip() or None, "outcome": outcome or None}
    return create_record(Failure, values, by)


def _taken_away(node: Node, day: date) -> date | None:
    """Return the day before this one on which the node was removed for good, None if it was not."""
    gone = node.failures.filter(outcome=REMOVED, date__lt=day).order_by("date").first()
    put_in_since = gone is not None and node.installed is not None and node.installed > gone.date
    return None if gone is None or put_in_since else gone.date


def others_that_day(failure: Failure) -> int:
    """Return how many more failures of the same node are on record for the same day; all of them count once."""
    return Failure.objects.filter(node=failure.node, date=failure.date).exclude(pk=failure.pk).count()
