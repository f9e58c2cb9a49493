"""What the crew enters at the wall box. Each entry carries a token of its own, so that one sent twice counts once."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from inventory.core.saying import counted_words, moment_words
from inventory.services.records import StillNeeded
from inventory.store.targets import By
from planner.core.as_built import as_built
from planner.core.figures_due import Readings, figures_due
from planner.core.plans import OrderState
from planner.core.workpack import WorkPack, WorkStep, first_hindrance, work_pack
from planner.models import Order, Photograph, WorkEntry
from planner.models.work import ACCEPT, BACK_OUT, BEGIN, FIGURE, NOTE, PHOTOGRAPH, SERIAL, TICK, UNTICK
from planner.services.as_built import build, put_back
from planner.services.order_states import NotNow, bring
from planner.services.photographs import picture_of
from planner.services.readings import Entry, NoFigure, enter_readings, figure_of
from planner.services.segment_sheets import SegmentSheet, measure_of, sheets_of
from planner.services.sequence import open_before, waits_in_words
from planner.store.lineage import lineages, row_in_force
from planner.store.work import load_work_part, record_of

MOST_TEXT = 2000
EARLY = timedelta(hours=1)  # a crew may be there a little before its window


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """One entry as it was typed. `done` is when, by the clock of the campus; None: now. `photograph` is a file."""

    token: UUID
    act: str
    code: str = ""
    text: str = ""
    done: datetime | None = None
    photograph: bytes | None = None
    instrument: str = ""  # that a figure was read off
    reason: str = ""  # why a step is done although a figure of it is not read, or says stop


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A step that is done: when, by whom, and the second person at a hold point."""

    done: datetime
    by: str | None
    witness: str


@dataclass(slots=True, kw_only=True)
class Journal:
    """What the entries of an order come to."""

    ticks: dict[str, Tick] = field(default_factory=dict)
    serials: dict[str, str] = field(default_factory=dict)
    notes: list[WorkEntry] = field(default_factory=list)
    photographs: list[WorkEntry] = field(default_factory=list)
    figures: set[str] = field(default_factory=set)  # codes of those read since the work began


class WorkRefused(ValueError):  # noqa: N818 - says what is the matter
    """The entry cannot be kept; the message says why and what to do."""


def journal_of(order: Order) -> Journal:
    """Return what was entered for an order, under the plans before as well, read in the order in which it came in."""
    return journals_of([order])[order.pk]


def journals_of(orders: Iterable[Order]) -> dict[int, Journal]:
    """Return what was entered for each of some orders, by id; see `journal_of`."""
    rows = lineages(orders)
    wanted = {pk for several in rows.values() for pk in several}
    entries = WorkEntry.objects.filter(order__in=wanted).select_related("by", "photograph")
    found = {pk: Journal() for pk in rows}
    holders: dict[int, list[Journal]] = {}
    for pk, several in rows.items():
        for row in several:
            holders.setdefault(row, []).append(found[pk])
    for entry in entries.defer("photograph__content").order_by("at", "pk"):
        for journal in holders[entry.order_id]:
            _READ[entry.act](journal, entry)
    return found


def _ticked(journal: Journal, entry: WorkEntry) -> None:
    by = None if entry.by is None else entry.by.get_full_name() or entry.by.get_username()
    journal.ticks[entry.code] = Tick(done=entry.done, by=by, witness=entry.text)


def _anew(journal: Journal, _entry: WorkEntry) -> None:
    """Open every step again: what was ticked before an order was backed out has been undone on site."""
    journal.ticks.clear()
    journal.serials.clear()
    journal.figures.clear()


def _no_fact(_journal: Journal, _entry: WorkEntry) -> None:
    """Pass over what the order's own events tell."""


_READ: dict[str, Callable[[Journal, WorkEntry], object]] = {
    BEGIN: _anew,
    TICK: _ticked,
    UNTICK: lambda journal, entry: journal.ticks.pop(entry.code, None),
    SERIAL: lambda journal, entry: journal.serials.__setitem__(entry.code, entry.text),
    NOTE: lambda journal, entry: journal.notes.append(entry),
    PHOTOGRAPH: lambda journal, entry: journal.photographs.append(entry),
    FIGURE: lambda journal, entry: journal.figures.add(entry.code),
    ACCEPT: _no_fact,
    BACK_OUT: _anew,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """An order at work, with its pack and what was entered so far."""

    order: Order
    pack: WorkPack
    journal: Journal
    by: By


def pack_of(order: Order) -> WorkPack:
    """Return the work pack of a stored order, with the campus as it stands now."""
    return work_pack(record_of(order), load_work_part([order]))


def packs_of(orders: Sequence[Order]) -> dict[int, WorkPack]:
    """Return the work packs of some orders by id, read from the campus at once."""
    part = load_work_part(orders)
    return {order.pk: work_pack(record_of(order), part) for order in orders}


@transaction.atomic
def enter(order: Order, typed: Typed, *, by: By) -> WorkEntry:
    """Keep one entry and do what it says; what came in before under the same token is returned as it was kept.

    Raises
    ------
    WorkRefused, NotNow, NoPhotograph
        Where it cannot be kept; nothing has changed then.

    """
    order = Order.objects.select_for_update(of=("self",)).select_related("plan").get(pk=row_in_force(order.pk))
    kept = WorkEntry.objects.filter(token=typed.token).first()
    if kept is not None:
        return kept
    if typed.act not in _DO:
        raise WorkRefused(f"There is nothing called {typed.act!r} to do here. Load the page again.")
    longest = max(len(typed.text), len(typed.reason))
    if longest > MOST_TEXT:
        raise WorkRefused(f"Keep it under {MOST_TEXT} letters; this has {longest}.")
    bench = Bench(order=order, pack=pack_of(order), journal=journal_of(order), by=by)
    _DO[typed.act](bench, typed)
    now = timezone.now()
    entry = WorkEntry.objects.create(
        order=order,
        token=typed.token,
        act=typed.act,
        code=typed.code,
        text=typed.text.strip(),
        done=_when(typed),
        at=now,
        by=by,
    )
    if typed.act == PHOTOGRAPH:
        picture = picture_of(typed.photograph or b"")
        Photograph.objects.create(entry=entry, content=picture.content, width=picture.width, height=picture.height)
    return entry


def _at_work(bench: Bench) -> None:
    if bench.order.state != OrderState.UNDER_WAY:
        raise NotNow(f"Order {bench.order.key} is {bench.order.state}. Begin the work first; nothing else is ticked.")


def _begin(bench: Bench, typed: Typed) -> None:
    """Begin the work; where something speaks against it, that is kept with the reason and nothing is refused.

    A crew without a connection has begun long before this is asked, and a refusal would lose what it ticked since.
    """
    if bench.pack.missing:
        raise WorkRefused(" ".join(bench.pack.missing))
    if bench.order.state == OrderState.DRAFTED:
        raise NotNow(f"Order {bench.order.key} is not booked. The planner adopts its plan first.")
    against = [said for said in (waits_in_words(open_before(bench.order)), beside_window(bench.order)) if said]
    why = f"begun although {'; '.join(against)}. Reason: {typed.text.strip() or 'none given'}" if against else None
    bring(bench.order, OrderState.UNDER_WAY, by=bench.by, why=why)


def beside_window(order: Order) -> str | None:
    """Return in words how far the present is from the window of an order, None within it or a little before."""
    now = timezone.now()
    if order.start is None or order.end is None or order.start - EARLY <= now <= order.end:
        return None
    zone = ZoneInfo(order.building.time_zone) if order.building.time_zone else timezone.get_current_timezone()
    if now < order.start:
        return f"its window begins on {moment_words(order.start.astimezone(zone))} only, and its rooms may be in use until then"
    return f"its window ended on {moment_words(order.end.astimezone(zone))}, and its rooms may be in use again"


def _tick(bench: Bench, typed: Typed) -> None:
    _at_work(bench)
    step = next((step for step in bench.pack.steps if step.code == typed.code), None)
    if step is None:
        raise WorkRefused(f"This order has no step {typed.code}. Load the page again.")
    hindrance = first_hindrance(bench.pack, bench.journal.ticks, typed.code)
    if hindrance:
        raise WorkRefused(hindrance)
    if step.hold and not typed.text.strip():
        raise WorkRefused("A hold point needs a second person: type the name of who looked with you.")
    if step.hold and bench.by is not None and typed.text.strip().casefold() in _names_of(bench.by):
        raise WorkRefused("The second person at a hold point is somebody else than you.")
    if step.reading or step.hold:
        _go_on_past(bench, step, typed)


def _go_on_past(bench: Bench, step: WorkStep, typed: Typed) -> None:
    """Keep why a step is done although a figure of it is not read or says stop; refuse it where no reason is given."""
    sheets = sheets_of(bench.order.plan.assessment_id, bench.pack.order.segments)
    against = "; ".join(readings_on(bench.pack, bench.journal, sheets).against(step))
    if not against:
        return
    if not typed.reason.strip():
        raise WorkRefused(f"{against.capitalize()}. Read it, or say why the work goes on all the same.")
    WorkEntry.objects.create(
        order=bench.order,
        token=uuid5(typed.token, "reason"),
        act=NOTE,
        text=f"Went on at {step.where}, {step.text}, although {against}. Reason: {typed.reason.strip()}",
        done=_when(typed),
        at=timezone.now(),
        by=bench.by,
    )


def readings_on(pack: WorkPack, journal: Journal, sheets: Iterable[SegmentSheet]) -> Readings:
    """Return what is to be read on an order, step by step, and what was read since its work began."""
    sheets = tuple(sheets)
    measures = {sheet.report.segment: sheet.measures for sheet in sheets}
    compared = {code: one for sheet in sheets for code, one in sheet.compared(sheet.readings).items()}
    return Readings(due=figures_due(pack, measures), measures=measures, read=journal.figures, compared=compared)


def _names_of(by: object) -> set[str]:
    full, short = getattr(by, "get_full_name", str)(), getattr(by, "get_username", str)()
    return {full.casefold(), short.casefold()} - {""}


def _untick(bench: Bench, typed: Typed) -> None:
    _at_work(bench)
    if typed.code not in bench.journal.ticks:
        raise WorkRefused("This step is not ticked.")


def _serial(bench: Bench, typed: Typed) -> None:
    _at_work(bench)
    if typed.code not in bench.pack.order.stations:
        raise WorkRefused(f"{typed.code} is no station of this order.")
    if not typed.text.strip():
        raise WorkRefused("Type the serial number from the label of the new station.")


def _note(_bench: Bench, typed: Typed) -> None:
    if not typed.text.strip():
        raise WorkRefused("Type the note first.")


def _photograph(_bench: Bench, typed: Typed) -> None:
    if not typed.photograph:
        raise WorkRefused("Choose or take a photograph first.")


def _figure(bench: Bench, typed: Typed) -> None:
    if bench.order.state == OrderState.ACCEPTED:
        raise NotNow(f"Order {bench.order.key} is accepted. Enter what is measured now on the page of its segment.")
    measure = measure_of(bench.order.plan.assessment_id, bench.pack.order.segments, typed.code)
    if measure is None:
        raise WorkRefused(
            "Its segments have changed meanwhile and ask for no such figure any more. Load the page again."
        )
    try:
        value = figure_of(typed.text, measure.quantity)
        entry = Entry(quantity=measure.quantity, node=measure.node, far=measure.far, value=value)
        enter_readings([entry], timezone.localdate(_when(typed)), instrument=typed.instrument, by=bench.by)
    except (NoFigure, ValidationError) as refusal:
        raise WorkRefused(" ".join(getattr(refusal, "messages", [str(refusal)]))) from None


def _when(typed: Typed) -> datetime:
    now = timezone.now()
    return min(typed.done or now, now)


def _accept(bench: Bench, _typed: Typed) -> None:
    _at_work(bench)
    open_steps = [step for step in bench.pack.steps if step.code not in bench.journal.ticks]
    if open_steps:
        first = open_steps[0]
        raise WorkRefused(
            f"{counted_words(len(open_steps), 'step')} {'is' if len(open_steps) == 1 else 'are'} not ticked yet, the first: {first.text} ({first.where})."
        )
    built = as_built(bench.pack.order, load_work_part([bench.order]), timezone.localdate())
    if built.refused:
        raise WorkRefused(" ".join(built.refused))
    bring(bench.order, OrderState.ACCEPTED, by=bench.by)
    try:
        build(bench.order, built, bench.journal.serials, by=bench.by)
    except StillNeeded as needed:  # nothing has changed: all of it is one transaction
        raise WorkRefused(str(needed)) from None


def _back_out(bench: Bench, typed: Typed) -> None:
    if not typed.text.strip():
        raise WorkRefused("Say why it is backed out: the planner needs the reason.")
    bring(bench.order, OrderState.BACKED_OUT, by=bench.by, why=typed.text.strip())
    put_back(bench.order, by=bench.by)


_DO: Mapping[str, Callable[[Bench, Typed], None]] = {
    BEGIN: _begin,
    TICK: _tick,
    UNTICK: _untick,
    SERIAL: _serial,
    NOTE: _note,
    PHOTOGRAPH: _photograph,
    FIGURE: _figure,
    ACCEPT: _accept,
    BACK_OUT: _back_out,
}
