"""Records: every sheet of the workbook as a list, a page a record, and forms to change one or many of them."""

from collections.abc import Callable, Iterator, Mapping
from hashlib import sha256
from typing import Any

from django.contrib import messages
from django.db import models
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import URLPattern, path, reverse
from django.utils.html import format_html
from django.utils.http import urlencode
from django.utils.safestring import SafeString
from django.utils.text import capfirst

from inventory.core.roles import Capability, changes
from inventory.services.editing import OPENED, Register, texts_of
from inventory.services.history import changes_of, removed
from inventory.services.records import StillNeeded
from inventory.templatetags.saying import marked
from inventory.views.guard import may, person, requires
from inventory.views.lists import show_list
from inventory.workbook.columns import Column
from planner.filters.records import filter_of
from planner.forms.records import RecordForm
from planner.services import records
from planner.services.reassess import Reassessed
from planner.services.records import MOST_AT_ONCE, REGISTERS, Kept, NotKept, Overtaken
from planner.store.verdicts import Turned
from planner.tables.records import address, said_fact, slug, table_of

SAID_TURNED = 6
TO = "to"  # in front of the name of a field: what many records are given
MOST_CHANGES = 200
OWN_PAGES = {"nodes": "station", "rooms": "room", "buildings": "building"}
View = Callable[..., HttpResponseBase]


@requires(Capability.SEE)
def index(request: HttpRequest) -> HttpResponse:
    """List the sheets, with how many records each has."""
    rows = [
        {"sheet": one.sheet, "count": one.rows().count(), "address": address(code, "records"), "code": code,
         "new": address(code, "new") if may(request, changes(code)) else None}
        for code, one in REGISTERS.items()
    ]  # fmt: skip
    return render(request, "planner/records.html", {"rows": rows})


def listing(request: HttpRequest, code: str) -> HttpResponse:
    """List the records of a sheet."""
    register = REGISTERS[code]
    context = {
        "register": register,
        "new": address(code, "new") if may(request, changes(code)) else None,
        "bulk": f"{address(code, 'bulk')}?{request.GET.urlencode()}" if may(request, changes(code)) else None,
    }
    rows = register.rows()
    return show_list(request, "planner/record_list.html", table_of(code), filter_of(code), rows, context)


def record(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Show one record: its facts, what refers to it, its history."""
    register = REGISTERS[code]
    row = register.rows().filter(pk=pk).first()
    if row is None:
        return _removed(request, register, pk)
    context = {
        "register": register,
        "row": row,
        "facts": [(column, said_fact(row, column)) for column in register.sheet.columns],
        "own_page": reverse(OWN_PAGES[code], args=[pk]) if code in OWN_PAGES else None,
        "referring": list(_referring(code, row)),
        "changes": changes_of(row, register.sheet, MOST_CHANGES),
        "may_change": may(request, changes(code)),
        **_pages(code, pk),
    }
    return render(request, "planner/record.html", context)


def _removed(request: HttpRequest, register: Register, pk: int) -> HttpResponse:
    """Show what a record was that is no longer there: histories and the audit lead to it."""
    found = removed(register.target.model, pk, register.sheet, MOST_CHANGES)
    if found is None:
        raise Http404(f"No {register.what} was ever on record under this number.")
    context = {"register": register, "removed": found, "changes": found.changes, **_pages(register.sheet.code, pk)}
    return render(request, "planner/record_removed.html", context)


def _pages(code: str, pk: int) -> dict[str, str]:
    return {name: address(code, name, pk) for name in ("record", "change", "remove")} | {
        "list": address(code, "records")
    }


def _referring(code: str, row: Any) -> Iterator[tuple[str, int, str]]:
    """Yield what refers to a record: by which fact of which sheet, how many, and where they are listed."""
    for other, register in REGISTERS.items():
        for column in register.sheet.columns:
            if column.refers_to != code or (count := register.rows().filter(**{column.name: row}).count()) == 0:
                continue
            asked = {column.name: row.key, **({"building": row.building.key} if column.within else {})}
            words = f"{register.sheet.title} ({column.heading})"
            yield words, count, f"{address(other, 'records')}?{urlencode(asked)}"


def new(request: HttpRequest, code: str) -> HttpResponse:
    """Put a record on file."""
    register = REGISTERS[code]
    form = RecordForm(register, request.POST if request.method == "POST" else None, initial=request.GET.dict())
    if request.method == "POST":
        done = records.keep_new(register, form.texts(), by=person(request))
        if isinstance(done, Kept):
            return _told(request, register, done, "is on file")
        form.refuse(done.faults)
    return _form_page(request, register, form, None, {})


def change(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Change a record."""
    register = REGISTERS[code]
    row = get_object_or_404(register.rows(), pk=pk)
    stored = texts_of(register, row)
    columns = [column for column in register.sheet.columns if not register.is_fixed(column)]
    if request.method != "POST":
        return _form_page(request, register, RecordForm(register, initial=stored, only=columns), row, stored)
    form = RecordForm(register, request.POST, only=columns)
    opened = {name: request.POST[OPENED + name] for name in stored if OPENED + name in request.POST}
    done = records.keep_changed(register, pk, {**stored, **form.texts()}, opened, by=person(request))
    if isinstance(done, Kept):
        return _told(request, register, done, "was so already: nothing has changed" if done.was_so else "is changed")
    if isinstance(done, NotKept):
        form.refuse(done.faults)
        return _form_page(request, register, form, row, opened)
    return _overtaken_page(request, register, row, columns, done)


def _overtaken_page(
    request: HttpRequest, register: Register, row: models.Model, columns: list[Column], done: Overtaken
) -> HttpResponse:
    """Show what somebody else has changed meanwhile, with everything that was typed still in the form."""
    form = RecordForm(register, dict(done.merged), only=columns)
    form.refuse({name: (f"Now on file: {done.now[name] or 'not known'}.",) for name in done.both})
    by = next((one for one in changes_of(row, register.sheet, 1)), None)
    return _form_page(request, register, form, row, done.now, {"overtaken": done, "by": by}, status=409)


def _form_page(  # noqa: PLR0917 - all that a form is shown with
    request: HttpRequest,
    register: Register,
    form: RecordForm,
    row: models.Model | None,
    opened: Mapping[str, str],
    more: Mapping[str, Any] | None = None,
    status: int = 200,
) -> HttpResponse:
    code = register.sheet.code
    fixed = [(one, said_fact(row, one)) for one in register.sheet.columns if register.is_fixed(one)] if row else []
    context = {
        "register": register,
        "row": row,
        "form": form,
        "fixed": fixed,
        "state": sha256(repr(sorted(opened.items())).encode()).hexdigest()[:12],
        "opened": [(OPENED + name, text) for name, text in opened.items()],
        "list": address(code, "records"),
        **(_pages(code, row.pk) if row else {}),
        **(more or {}),
    }
    wrong = 400 if form.is_bound and form.errors and status == 200 else status  # noqa: PLR2004 - all is well
    return render(request, "planner/record_form.html", context, status=wrong)


def _told(request: HttpRequest, register: Register, done: Kept, words: str) -> HttpResponseRedirect:
    """Go to the record's page and say there what came of it."""
    messages.success(request, f"{capfirst(records.name_of(register, done.row))} {words}.")
    for oddity in done.oddities:
        messages.warning(request, oddity)
    _tell_verdicts(request, done.reassessed)
    code = register.sheet.code
    return (
        redirect(OWN_PAGES[code], pk=done.row.pk)
        if code in OWN_PAGES
        else redirect(address(code, "record", done.row.pk))
    )


def _tell_verdicts(request: HttpRequest, done: Reassessed) -> None:
    """Say what a change did to verdicts."""
    if done.job is not None:
        words = '<a href="{}">The whole campus is being assessed anew</a>: this touches more segments than are judged at once.'
        messages.info(request, format_html(words, reverse("job", args=[done.job])))
    for one in done.turned[:SAID_TURNED]:
        messages.info(request, _turned_words(one))
    if len(done.turned) > SAID_TURNED:
        messages.info(request, f"{len(done.turned) - SAID_TURNED} more verdicts have changed.")
    if done.judged and not done.turned:
        segments = "1 segment was" if done.judged == 1 else f"{done.judged} segments were"
        messages.info(request, f"{segments} judged again; no verdict has changed.")


def _turned_words(one: Turned) -> SafeString:
    if one.verdict is None:
        return format_html("Segment {} is no more; it was {}.", one.segment, marked(one.was))
    at = format_html('<a href="{}">{}</a>', reverse("segment", args=[one.segment]), one.segment)
    if one.was is None:
        return format_html("New segment {}: {}. {}", at, marked(one.verdict), one.why)
    return format_html("Segment {}: {} → {}. {}", at, marked(one.was), marked(one.verdict), one.why)


def remove(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Say what hangs on a record, and remove it when that is confirmed."""
    register = REGISTERS[code]
    row = register.rows().filter(pk=pk).first()
    if row is None:
        messages.info(request, f"This {register.what} is on file no more.")
        return redirect(address(code, "records"))
    if request.method == "POST":
        name = records.name_of(register, row)
        try:
            done = records.remove(register, row, by=person(request))
        except StillNeeded as needed:
            messages.error(request, str(needed))
            return redirect(address(code, "remove", pk))
        messages.success(request, f"{capfirst(name)} is removed. Its history stays on record.")
        _tell_verdicts(request, done)
        return redirect(address(code, "records"))
    going = records.look_at_removal(row)
    context = {"register": register, "row": row, "going": going, **_pages(code, pk)}
    return render(request, "planner/record_remove.html", context)


def bulk(request: HttpRequest, code: str) -> HttpResponse:
    """Give one fact of all records that a list shows the same value: look first, then do it."""
    register = REGISTERS[code]
    narrowed = filter_of(code)(request.GET, queryset=register.rows().order_by("pk"))
    rows = narrowed.qs if narrowed.is_valid() else register.rows().none()
    count = rows.count()
    columns = {column.name: column for column in records.may_change_many(register)}
    column = columns.get(request.GET.get("set", ""))
    context: dict[str, Any] = {
        "register": register,
        "count": count,
        "counted": register.counted(count),
        "columns": list(columns.values()),
        "column": column,
        "most": MOST_AT_ONCE,
        "list": f"{address(code, 'records')}?{_narrowing(request)}",
        "keep": [(name, value) for name, values in request.GET.lists() for value in values if not _is_of_bulk(name)],
    }
    if column is None or count > MOST_AT_ONCE:
        return render(request, "planner/record_bulk.html", context)
    return _bulk_of(request, register, rows, column, context)


def _is_of_bulk(name: str) -> bool:
    """Tell whether a part of the address says what to change, and not which records."""
    return name in {"set", "look"} or name.startswith(f"{TO}-")


def _narrowing(request: HttpRequest) -> str:
    asked = request.GET.copy()
    for name in filter(_is_of_bulk, request.GET):
        asked.pop(name)
    return asked.urlencode()


def _bulk_of(
    request: HttpRequest, register: Register, rows: Any, column: Column, context: dict[str, Any]
) -> HttpResponse:
    text = context["text"] = request.GET.get(f"{TO}-{column.name}", "")
    context["field"] = RecordForm(register, initial={column.name: text}, only=[column], prefix=TO)[column.name]
    if "look" in request.GET:
        looked = context["looked"] = records.look_at_bulk(register, rows, column, text)
        context |= {
            "changing": register.counted(len(looked.changes)),
            "judges": records.bears_on_verdicts(register, column),
        }
        if request.method == "POST" and not looked.faults:
            return _bulk_done(request, register, column, looked, context)
    return render(request, "planner/record_bulk.html", context)


def _bulk_done(
    request: HttpRequest, register: Register, column: Column, looked: records.Bulk, context: dict[str, Any]
) -> HttpResponse:
    if not looked.changes:
        messages.info(request, "All of them are so already: nothing has changed.")
        return redirect(context["list"])
    if request.POST.get("digest") != looked.digest:
        context["stale"] = True
        return render(request, "planner/record_bulk.html", context, status=409)
    done = records.keep_bulk(register, looked, column, context["text"], by=person(request))
    messages.success(request, f"{column.heading} of {register.counted(len(looked.changes))} is changed.")
    for oddity in looked.oddities[:SAID_TURNED]:
        messages.warning(request, oddity)
    _tell_verdicts(request, done)
    return redirect(context["list"])


PAGES: tuple[tuple[str, str, View, bool], ...] = (  # name, address, view, whether it changes anything
    ("records", "", listing, False),
    ("new", "new/", new, True),
    ("bulk", "change/", bulk, True),
    ("record", "<int:pk>/", record, False),
    ("change", "<int:pk>/change/", change, True),
    ("remove", "<int:pk>/remove/", remove, True),
)


def addresses() -> list[URLPattern]:
    """Return the addresses of all records, each guarded by what its sheet takes."""
    found = [path("records/", index, name="records")]
    for code in REGISTERS:
        for name, tail, view, alters in PAGES:
            guard = requires(changes(code) if alters else Capability.SEE)
            found.append(path(f"records/{slug(code)}/{tail}", guard(view), {"code": code}, name=f"{slug(code)}-{name}"))
    return found
