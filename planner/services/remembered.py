"""Counts over a whole campus that are asked for again and again: of very many nodes they are remembered until a record changes."""

from collections.abc import Callable
from datetime import date
from hashlib import sha256
from typing import Any, TypeVar

from django.core.cache import cache
from django.db.models import Max

from inventory.models import EquipmentModel, Failure, Node, Part, Room, Spare
from planner.models import Assessment, BriefSetting, Reckoning

MANY = 10_000  # nodes; fewer are counted each time
KEPT_S = 86_400
CHANGING = (Node, EquipmentModel, Room, Failure, Spare, Part)  # whose histories tell that something has changed

Made = TypeVar("Made")


class Memory:
    """What is remembered of the campus as its records, verdicts and risks are now, on one day."""

    def __init__(self, today: date) -> None:
        self.state = _state(today)

    def of(self, name: str, make: Callable[[], Made]) -> Made:
        """Return what `make` makes, or made before of the same records."""
        if self.state is None:
            return make()
        key = f"{name}-{self.state}"
        known: Made | None = cache.get(key)
        if known is None:
            known = make()
            cache.set(key, known, KEPT_S)
        return known


def _state(today: date) -> str | None:
    """Return what changes with the records; None where counting is quick, so that nothing need be remembered."""
    if Node.objects.order_by()[: MANY + 1].count() <= MANY:
        return None
    last = [_newest(model) for model in CHANGING]
    judged = Assessment.objects.order_by("-at", "-id").values_list("pk", "changed").first()
    settings = tuple(BriefSetting.objects.order_by("pk").values_list())
    told = (last, judged, settings, Reckoning.objects.values_list("pk").first(), today)
    return sha256(repr(told).encode()).hexdigest()


def _newest(model: Any) -> int | None:
    """Return the number of the last entry of a history, which grows with every change."""
    newest: int | None = model.history.aggregate(newest=Max("history_id"))["newest"]
    return newest
