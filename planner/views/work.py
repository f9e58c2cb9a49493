"""The work pack: on the phone at the wall box, on paper, and what the crew enters."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode
from uuid import uuid4

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST

from inventory.core.readings import UNIT
from inventory.core.roles import Capability
from inventory.core.saying import day_words
from inventory.models import Node, Part
from inventory.views.guard import person, requires
from inventory.views.numbers import row_number
from planner.core.figures_due import Readings
from planner.core.measuring import meanings
from planner.core.plans import OrderState
from planner.core.print_parts import parts_of, weight_of
from planner.core.repeats import Stage
from planner.core.replanning import BEGUN
from planner.core.workpack import TOOLS, WAY_BACK, WorkPack, WorkStep, hindered_by
from planner.forms.work import EntryForm
from planner.handover.sketch import cable_ends
from planner.models import Order, Photograph, Plan
from planner.services.delays import events_by_order, events_of
from planner.services.order_states import NotNow, last_back_out
from planner.services.photographs import MOST_BYTES, NoPhotograph
from planner.services.segment_sheets import SegmentSheet, sheets_of
from planner.services.sequence import open_before, waits_of
from planner.services.work import (
    Journal,
    Typed,
    WorkRefused,
    beside_window,
    enter,
    journal_of,
    journals_of,
    pack_of,
    packs_of,
    readings_on,
)
from planner.store.lineage import row_in_force
from planner.store.measured import landings_of
from planner.views.own_orders import SENT_BY_SCRIPT, about_crews, may_with, refuse_order, requires_order, visible

if TYPE_CHECKING:
    from django.core.files.uploadedfile import UploadedFile
    from django.db.models import QuerySet

Shown = dict[str, Any]  # what a template is given of one thing

REFUSAL = 'class="refusal"'  # how templates/planner/work/refused.html begins


@requires_order(Capability.SEE)
def order_work(request: HttpRequest, order: Order) -> HttpResponse:
    """Show the steps of an order to tick, and all that is entered with them, under the plan in force."""
    if (now := row_in_force(order.pk)) != order.pk:
        return redirect("order-work", pk=now)
    return render(request, "planner/work/work.html", _context(request, order))


@requires(Capability.SEE)
def offline(request: HttpRequest) -> HttpResponse:
    """Answer with the script that brings a page of the work again without a connection; it answers for addresses beside its own."""
    script = render_to_string("planner/work/offline.js", request=request)
    return HttpResponse(script, content_type="text/javascript", headers={"Cache-Control": "no-cache"})


@requires_order(Capability.WORK)
@require_POST
def order_entry(request: HttpRequest, order: Order) -> HttpResponse:
    """Keep one entry; to a script the answer is the state of the work, to a plain form the page again."""
    order = _again(order)
    if not may_with(request, Capability.WORK, order):
        return refuse_order(request, order)
    refusal = _kept(request, order)
    if refusal is None and SENT_BY_SCRIPT not in request.headers:
        return redirect("order-work", pk=order.pk)
    context = {**_context(request, _again(order)), "refused": _refused(request, refusal)}
    if SENT_BY_SCRIPT in request.headers:
        return JsonResponse({"refused": refusal, "state": _with_words(request, "planner/work/state.html", context)})
    return HttpResponse(_with_words(request, "planner/work/work.html", context), status=400)


def _with_words(request: HttpRequest, template: str, context: dict[str, Any]) -> str:
    """Return the page with a refusal beside its field; on top where the page has no such field any more."""
    html = render_to_string(template, context, request)
    if context["refused"] and REFUSAL not in html:
        return render_to_string(template, {**context, "refused": {**context["refused"], "on_top": True}}, request)
    return html


def _refused(request: HttpRequest, refusal: str | None) -> dict[str, str]:
    """Return why an entry was not kept, with what was typed, so that both stand where it was typed."""
    typed = {name: request.POST.get(name, "") for name in ("act", "code", "text", "instrument", "reason")}
    return {**typed, "words": refusal} if refusal else {}


def _kept(request: HttpRequest, order: Order) -> str | None:
    """Keep the entry of a request; return why it cannot be kept, else None."""
    form = EntryForm(request.POST, request.FILES)
    if not form.is_valid():
        return "; ".join(str(error) for errors in form.errors.values() for error in errors)
    asked = form.cleaned_data
    typed = Typed(
        token=asked["token"],
        act=asked["act"],
        code=asked["code"],
        text=asked["text"],
        done=None if asked["ago_s"] is None else timezone.now() - timedelta(seconds=asked["ago_s"]),
        photograph=_content(asked["photograph"]),
        instrument=asked["instrument"],
        reason=asked["reason"],
    )
    try:
        enter(order, typed, by=person(request))
    except (WorkRefused, NotNow, NoPhotograph) as refusal:
        return str(refusal)
    return None


def _content(sent: "UploadedFile[bytes] | None") -> bytes | None:
    """Return the bytes of a file, one more than can be kept at most."""
    return None if sent is None else sent.read(MOST_BYTES + 1)


def _again(order: Order) -> Order:
    """Return the order as it stands now, under the plan in force."""
    return Order.objects.select_related("building", "plan__brief").get(pk=row_in_force(order.pk))


def _context(request: HttpRequest, order: Order) -> dict[str, Any]:
    pack, journal = pack_of(order), journal_of(order)
    sheets, events = sheets_of(order.plan.assessment_id, pack.order.segments), events_of(order)
    figures = [_figures(sheet, journal, person(request)) for sheet in sheets if sheet.measures]
    readings = readings_on(pack, journal, sheets)
    rest = _at_no_step(figures, readings)
    shown = _Shown(readings=readings, rooms=_rooms([pack]), figures=figures, rest=rest)
    return {
        "order": order,
        "pack": pack,
        "journal": journal,
        "stages": _stages(pack, journal, shown),
        "left": len(pack.steps) - len(journal.ticks),
        "next": next((step for step in pack.steps if step.code not in journal.ticks), None),
        "serials": [(station, journal.serials.get(station, "")) for station in pack.order.stations],
        "events": events,
        "backed_out": last_back_out(events),
        "not_done": _not_done(pack, journal, figures),
        "under_way": order.state == OrderState.UNDER_WAY,
        "may_begin": order.state == OrderState.BOOKED and not pack.missing,
        "before": () if order.state in BEGUN else open_before(order),
        "beside_window": None if order.state in BEGUN else beside_window(order),
        "may_back_out": order.state in (OrderState.BOOKED, OrderState.UNDER_WAY, OrderState.ACCEPTED),
        "may_work": may_with(request, Capability.WORK, order),
        "token": lambda: str(uuid4()),
        "due": readings.due,
        "figures": rest,
        **about_crews(request),
        **_always(pack, _described([pack])),
    }


def _described(packs: Sequence[WorkPack]) -> dict[str, str | None]:
    """Return what the parts of some packs are, by key."""
    wanted = {need.part for pack in packs for need in pack.order.parts}
    return dict(Part.objects.filter(key__in=wanted).values_list("key", "description"))


def _always(pack: WorkPack, said: Mapping[str, str | None]) -> dict[str, Any]:
    return {
        "tools": TOOLS,
        "way_back": WAY_BACK,
        "parts": [(need, said.get(need.part)) for need in pack.order.parts],
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """What is shown beside the steps of an order: its figures, those due at no step, and the room of each node."""

    readings: Readings
    rooms: Mapping[str, str]
    figures: Sequence[Shown] = ()
    rest: Sequence[Shown] = ()

    def at(self, step: WorkStep) -> list[Shown]:
        """Return the lines of the figures that are due at a step."""
        codes = {one.code for one in self.readings.due.get(step.code, ())}
        return [line for one in self.figures for line in one["lines"] if line["measure"].code in codes]

    def beside(self, step: WorkStep) -> Shown | None:
        """Return the figures of a hold point's segment that no step names."""
        return next((one for one in self.rest if step.hold and one["segment"] == step.segment), None)


def _at_no_step(figures: Sequence[Shown], readings: Readings) -> list[Shown]:
    """Return the figures that no step names, by segment, with how many are read and whether one says stop."""
    rest = {one["segment"]: readings.at_no_step(one["segment"]) for one in figures}
    left = [(one, [line for line in one["lines"] if line["measure"] in rest[one["segment"]]]) for one in figures]
    return [{**one, "lines": lines, **_counted(lines)} for one, lines in left if lines]


def _counted(lines: Sequence[Shown]) -> Shown:
    found = [line["compared"] for line in lines if line["compared"] is not None]
    return {"read": len(found), "stop": any(one.doubts for one in found)}


def _stages(pack: WorkPack, journal: Journal, shown: _Shown) -> list[tuple[Stage, list[Shown]]]:
    """Return the steps by stage, each with what was entered, what hinders it, and the figures that are due at it."""
    rows = [_row(pack, step, journal, shown) for step in pack.steps]
    return [(stage, [row for row in rows if row["step"].stage is stage]) for stage in Stage]


def _rooms(packs: Sequence[WorkPack]) -> dict[str, str]:
    """Return the room of each node that a step is done at, by its name."""
    rooms = Node.objects.filter(key__in={step.where for pack in packs for step in pack.steps}, room__isnull=False)
    return dict(rooms.order_by().values_list("key", "room__key"))


def _not_done(pack: WorkPack, journal: Journal, figures: Sequence[Shown]) -> list[str]:
    """Return in words what an order that is accepted now would go without."""
    lines = [line for one in figures for line in one["lines"]]
    unread = sum(not line["entered"] for line in lines)
    unnamed = sum(station not in journal.serials for station in pack.order.stations)
    told = (
        (unread, f"{unread} of {len(lines)} figures are not read"),
        (unnamed, f"{unnamed} of {len(pack.order.stations)} serial numbers are not entered"),
        (not journal.photographs, "there is no photograph"),
    )
    return [words for count, words in told if count]


def _row(pack: WorkPack, step: WorkStep, journal: Journal, shown: _Shown) -> Shown:
    tick = journal.ticks.get(step.code)
    return {
        "step": step,
        "room": shown.rooms.get(step.where),
        "tick": tick,
        "waits": None if tick else hindered_by(pack, journal.ticks, step.code),
        "due": shown.at(step),
        "asked": shown.readings.due.get(step.code, ()),
        "open": () if tick else shown.readings.against(step),
        "figures": shown.beside(step),
    }


@requires_order(Capability.SEE)
def order_pack(request: HttpRequest, order: Order) -> HttpResponse:
    """Show the work pack of one order as it is printed."""
    return _print(request, [order], f"Work pack {order.key}", packs=packs_of([order]))


@requires(Capability.SEE)
def plan_packs(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the work packs of a phase, a crew or a night of a plan as one print."""
    plan = get_object_or_404(Plan.objects.select_related("brief"), pk=pk)
    dated = visible(request, plan.orders.filter(start__isnull=False))
    found: QuerySet[Order] = dated.select_related("building", "plan__brief")
    asked = {name: request.GET[name] for name in ("phase", "crew", "night") if request.GET.get(name)}
    found = found.filter(**{name: value for name, value in asked.items() if name != "night"})
    nights = sorted(
        {night.isoformat() for night in dated.filter(night__isnull=False).values_list("night", flat=True) if night}
    )
    if asked.get("night") in nights:
        found = found.filter(night=asked["night"])
    else:
        asked.pop("night", None)
    built = found.filter(state=OrderState.ACCEPTED).count()
    orders = list(found.exclude(state=OrderState.ACCEPTED).order_by("start", "key"))
    packs = packs_of(orders)
    parts = parts_of([weight_of(packs[order.pk]) for order in orders])
    number = _number(request.GET.get("part", ""), len(parts))
    told = [_part_shown(part, at == number, {**asked, "part": str(at + 1)}) for at, part in enumerate(parts)]
    title = f"Work packs of plan {plan.pk}" + "".join(f", {_part(name, value)}" for name, value in asked.items())
    shown = [orders[place] for place in parts[number]] if parts else []
    return _print(request, shown, title, built=built, packs=packs, parts=told)


def _number(asked: str, count: int) -> int:
    """Return the place of the part asked for, from 0; the first where there is no such part."""
    place = row_number(asked)
    return place - 1 if place is not None and 1 <= place <= count else 0


def _part_shown(part: range, shown: bool, asked: Mapping[str, str]) -> Shown:  # noqa: FBT001 - a part is shown or not
    first, last = part[0] + 1, part[-1] + 1
    words = f"order {first}" if first == last else f"orders {first} to {last}"
    return {"words": words, "shown": shown, "query": urlencode(asked)}


def _part(name: str, value: str) -> str:
    """Return in words what a print is narrowed to."""
    if name == "night":
        return f"night of {day_words(date.fromisoformat(value))}"
    return value if name == "phase" else f"{name} {value}"


def _print(
    request: HttpRequest,
    orders: list[Order],
    title: str,
    *,
    packs: Mapping[int, WorkPack],
    built: int = 0,
    parts: Sequence[Shown] = (),
) -> HttpResponse:
    mine = [packs[order.pk] for order in orders]
    found = _sheets(orders[0].plan.assessment_id, mine) if orders else {}
    journals, events, waits = journals_of(orders), events_by_order(orders), waits_of(orders)
    rooms, described = _rooms(mine), _described(mine)
    sheets = []
    for order, pack in zip(orders, mine, strict=True):
        segments = [found[key] for key in sorted(pack.order.segments) if key in found]
        readings = readings_on(pack, journals[order.pk], segments)
        shown = {
            "order": order,
            "pack": pack,
            "stages": _stages(pack, journals[order.pk], _Shown(readings=readings, rooms=rooms)),
            "before": waits[order.pk],
            "backed_out": last_back_out(events[order.pk]),
            "segments": [_segment(sheet) for sheet in segments],
        }
        sheets.append({**shown, **_always(pack, described)})
    context = {
        "sheets": sheets,
        "title": title,
        "parts": parts,
        "built": built,
        **about_crews(request),
    }
    return render(request, "planner/work/packs.html", context)


def _sheets(assessment: int, packs: Sequence[WorkPack]) -> dict[str, SegmentSheet]:
    segments = [segment for pack in packs for segment in pack.order.segments]
    return {sheet.report.segment: sheet for sheet in sheets_of(assessment, segments)}


def _segment(sheet: SegmentSheet) -> dict[str, Any]:
    """Return what the pack says of one segment: drawings, where each conductor lands, what to measure."""
    drawn_before, drawn_after = sheet.drawings
    return {
        "report": sheet.report,
        "before": [mark_safe(text) for text in drawn_before],  # noqa: S308 - the drawing escapes every word
        "after": [mark_safe(text) for text in drawn_after],  # noqa: S308 - the drawing escapes every word
        "landings": landings_of(sheet.methods),
        "cable_ends": cable_ends(sheet.sketch),
        "measures": sheet.measures,
        "meanings": meanings(sheet.measures),
    }


def _figures(sheet: SegmentSheet, journal: Journal, by: User | None) -> Shown:
    """Return the figures to measure on one segment, how their newest readings compare, and the instrument used last."""
    readings = sheet.readings
    compared = sheet.compared(readings)
    instrument = next((one.instrument for one in readings if one.by == by and one.instrument), "")
    lines = [
        {
            "measure": one,
            "unit": UNIT[one.quantity],
            "compared": compared.get(one.code),
            "entered": one.code in journal.figures,
            "instrument": instrument,
        }
        for one in sheet.measures
    ]
    return {"segment": sheet.report.segment, "lines": lines}


@requires(Capability.SEE)
def photograph(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one photograph."""
    one = get_object_or_404(Photograph.objects.select_related("entry__order"), pk=pk)
    order = _again(one.entry.order)
    if not may_with(request, Capability.SEE, order):
        return refuse_order(request, order)
    return HttpResponse(
        bytes(one.content), content_type="image/jpeg", headers={"Cache-Control": "private, max-age=86400"}
    )
