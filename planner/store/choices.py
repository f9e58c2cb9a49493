"""What a planner chose by hand, from tables to records, and what became of it back into tables."""

from collections.abc import Iterable
from datetime import datetime

from planner.core.choices import After, Choices, Refusal, Sharing, Tick
from planner.core.findings import WayOut
from planner.core.reliefs import TakenUp
from planner.core.sequence import APART
from planner.models import OrderChoice, Precedence, TakenWay
from planner.store.records import from_json
from planner.store.stops import load_stops

STATE = ["void", "price_now", "checked"]


def load_choices() -> Choices:
    """Return all that was chosen by hand, the oldest first."""
    return Choices(ticks=load_ticks(), sharings=load_sharings(), afters=load_afters(), stops=load_stops())


def load_ticks() -> tuple[Tick, ...]:
    """Return the ways out that were taken, the oldest first."""
    rows = TakenWay.objects.order_by("at", "pk").values_list("segment", "way")
    return tuple(Tick(segment=segment, way=from_json(WayOut, way)) for segment, way in rows)


def load_sharings() -> tuple[Sharing, ...]:
    """Return which segments share an order by choice, the oldest first."""
    rows = OrderChoice.objects.order_by("at", "pk").values_list("pk", "parts")
    return tuple(Sharing(name=str(pk), parts=tuple(map(tuple, parts))) for pk, parts in rows)


def load_afters() -> tuple[After, ...]:
    """Return what comes after what by choice, the oldest first."""
    rows = Precedence.objects.order_by("at", "pk").values_list("pk", "earlier", "later")
    return tuple(After(name=str(pk), earlier=tuple(earlier), later=tuple(later)) for pk, earlier, later in rows)


def keep_taken(taken: TakenUp, *, at: datetime) -> None:
    """Keep which of the ways out that were taken hold, and at what price."""
    rows = list(TakenWay.objects.all())
    holding = {tick.segment: tick.way.price for tick in taken.ways}
    falling = {one.about: one.why for one in taken.refused}
    for row in rows:
        row.void, row.price_now, row.checked = falling.get(row.segment), holding.get(row.segment), at
    TakenWay.objects.bulk_update(rows, STATE, batch_size=500)


def keep_not_grouped(refused: Iterable[Refusal], *, at: datetime) -> None:
    """Keep which choices about orders, and about what comes first, did not hold, and why."""
    said = {one.about: one.why for one in refused}
    grouped, sequences = list(OrderChoice.objects.all()), list(Precedence.objects.all())
    for choice in grouped:
        choice.void, choice.checked = said.get(str(choice.pk)), at
    for sequence in sequences:
        sequence.void, sequence.checked = said.get(f"{APART}{sequence.pk}"), at
    OrderChoice.objects.bulk_update(grouped, ["void", "checked"], batch_size=500)
    Precedence.objects.bulk_update(sequences, ["void", "checked"], batch_size=500)
