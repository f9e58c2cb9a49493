"""Put figures that were read on site on record, and have judged again what they bear on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from inventory.core.readings import Quantity
from inventory.core.saying import day_words
from inventory.models import Node, Reading
from inventory.services.records import create_record
from inventory.store.targets import By
from planner.services.reassess import Reassessed, change


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One figure as it was read: quantity, the node where, the far end of its line, value in the quantity's unit."""

    quantity: Quantity
    node: str
    far: str | None = None
    value: float


@transaction.atomic
def enter_readings(
    entries: Iterable[Entry], on: date, *, instrument: str | None = None, note: str | None = None, by: By
) -> Reassessed:
    """Keep figures that were read on one day with one instrument, all or none; say which verdicts they turned.

    ValidationError where the day has not come, a node is not there, or a figure cannot be one.
    """
    entered = tuple(entries)
    if on > timezone.localdate():
        raise ValidationError({"on": f"{day_words(on)} has not come yet. Enter the day of the measurement."})
    nodes = _nodes(entered)
    facts = {"on": on, "instrument": (instrument or "").strip() or None, "note": (note or "").strip() or None}

    def work() -> tuple[None, Sequence[models.Model]]:
        now = timezone.now()
        return None, [
            create_record(
                Reading,
                facts
                | {
                    "quantity": one.quantity.value,
                    "node": nodes[one.node],
                    "value": one.value,
                    "by": by,
                    "entered": now,
                }
                | {"far": nodes[one.far] if one.far is not None else None},
                by,
            )
            for one in entered
        ]

    return change((), work, f"{len(entered)} figures read on {day_words(on)} were entered", by=by)[1]


def _nodes(entries: Sequence[Entry]) -> dict[str, Node]:
    """Return the nodes that entries name."""
    wanted = {key for one in entries for key in (one.node, one.far) if key is not None}
    found = {node.key: node for node in Node.objects.filter(key__in=wanted)}
    gone = sorted(wanted - found.keys())
    if gone:
        raise ValidationError(f"There is no node {', '.join(gone)} any more. Look at the segment again.")
    return found
