"""The log of failures out of the tables, by position in a snapshot."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from inventory.core.lives import FailureLog, Outcome
from inventory.models import Failure

CODES = {
    None: Outcome.NOT_KNOWN,
    "repaired": Outcome.REPAIRED,
    "replaced": Outcome.REPLACED,
    "removed": Outcome.REMOVED,
}


def load_failures(nodes: Sequence[str], starts: date | None = None) -> FailureLog:
    """Return all failures on record of the nodes of a snapshot; `starts` is the first day from which they are complete."""
    at = {key: position for position, key in enumerate(nodes)}
    rows = Failure.objects.order_by("node__key", "date", "pk").values_list("node__key", "date", "outcome")
    found = [(at[key], day, CODES[outcome]) for key, day, outcome in rows.iterator() if key in at]
    return FailureLog(
        node=np.array([row[0] for row in found], dtype=np.int32),
        day=np.array([row[1] for row in found], dtype="datetime64[D]"),
        outcome=np.array([row[2] for row in found], dtype=np.int8),
        starts=starts,
    )
