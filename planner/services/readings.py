"""Put figures that were read on site on record, and have judged again what they bear on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from inventory.core.readings import UNIT, Quantity
from inventory.core.saying import day_words
from inventory.models import Node, Reading
from inventory.services.records import create_record
from inventory.store.targets import By
from inventory.workbook.numerals import AmbiguousNumberError, number_from_text
from planner.models import FiguresSent
from planner.services.reassess import Reassessed, change

MOST_OHM = 1e6
HAZARD_V = 60.0  # d.c., above which even dry skin is no protection (IEC 61140, from memory): no bus of stations has it
UNIT_WORDS = {"ohm": ("ohms", "ohm", "Ω", "\N{OHM SIGN}"), "V": ("volts", "volt", "V", "v")}


class NoFigure(ValueError):  # noqa: N818 - says what is the matter
    """What was typed is no figure that a meter can show here; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One figure as it was read: quantity, the node where, the far end of its line, value in the quantity's unit."""

    quantity: Quantity
    node: str
    far: str | None = None
    value: float


def figure_of(text: str, quantity: Quantity) -> float:
    """Return the figure that a text stands for, with or without its unit; NoFigure where it stands for none."""
    text, unit = text.strip(), UNIT[quantity]
    figure = float(_number(text, unit))
    if figure < 0:
        raise NoFigure(f"{text} is below 0. Swap the leads of the meter and read again.")
    if unit == "V" and figure > HAZARD_V:
        raise NoFigure(
            f"{text} is more than this wiring can have. Stop, isolate and prove dead: mains may be on the pair. "
            "Measure again once that is settled."
        )
    if unit == "ohm" and figure > MOST_OHM:
        raise NoFigure(f"{text} is an open pair: no resistance to compare. Look for the break, and measure again.")
    return figure


def _number(text: str, unit: str) -> Decimal:
    words = next((word for word in UNIT_WORDS[unit] if text.endswith(word)), "")
    try:
        number = number_from_text(text.removesuffix(words).strip())
    except AmbiguousNumberError:
        raise NoFigure(f"{text} can be read in two ways. Write it with a point, such as 1.234.") from None
    if number is None:
        raise NoFigure(f"{text} is no figure in {unit}. Write the number alone, such as 12.4.")
    return number


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

    count = "a figure" if len(entered) == 1 else f"{len(entered)} figures"
    was = "was" if len(entered) == 1 else "were"
    return change((), work, f"{count} read on {day_words(on)} {was} entered", by=by)[1]


@transaction.atomic
def enter_once(
    token: UUID, entries: Iterable[Entry], on: date, *, instrument: str | None = None, note: str | None = None, by: By
) -> Reassessed | None:
    """Keep figures that come in under a token; None where they came in before, so that sent twice they count once."""
    _, new = FiguresSent.objects.get_or_create(token=token, defaults={"at": timezone.now(), "by": by})
    return enter_readings(entries, on, instrument=instrument, note=note, by=by) if new else None


def _nodes(entries: Sequence[Entry]) -> dict[str, Node]:
    """Return the nodes that entries name."""
    wanted = {key for one in entries for key in (one.node, one.far) if key is not None}
    found = {node.key: node for node in Node.objects.filter(key__in=wanted)}
    gone = sorted(wanted - found.keys())
    if gone:
        raise ValidationError(f"There is no node {', '.join(gone)} any more. Look at the segment again.")
    return found
