# ruff: noqa: SLF001 - _meta is how Django tells of any table
"""Who did what, when: read from the tables that keep it anyway, newest first, a span at a time.

SOURCES is the one table of it. Rows that an intake wrote are told by the intake, not one by one.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.apps import apps
from django.contrib.admin.models import LogEntry
from django.db.models import F, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from inventory.core.saying import day_words, moment_words, plain_number
from inventory.models import CalendarFile, Intake, Protocol, Reading, SignInAttempt, StockEntry
from inventory.store.targets import natural_key
from inventory.workbook.sheets import BY_CODE
from planner.core.plans import OrderState
from planner.models import (
    Adoption,
    Brief,
    BriefSetting,
    CrewMember,
    Feed,
    Job,
    OrderChoice,
    OrderEvent,
    Plan,
    Precedence,
    TakenWay,
    WorkEntry,
)
from planner.models.work import ACCEPT, BACK_OUT, BEGIN
from planner.store.intake import ALL_TARGETS

Row = Mapping[str, Any]
RECORDS, CHOICES, INTAKES, PLANS, ORDERS, WORK, STOCK, SIGN_INS, ROLES, FEEDS, BACKGROUND = KINDS = (
    "records",
    "briefs and choices",
    "intakes",
    "plans",
    "orders",
    "entries of the crew",
    "stock",
    "sign-ins",
    "people and roles",
    "calendar feeds",
    "background work",
)
DID = {"+": "put on record", "~": "changed", "-": "removed"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One table that tells of acts.

    `rows` gives them as rows of values with `moment`, `person` and `row` among them; `say` makes words of one, `lead` says where
    it is shown: the name of an address and its argument, None where nowhere.
    """

    kind: str
    rows: Callable[[], QuerySet[Any, Row]]
    say: Callable[[Row], str]
    lead: Callable[[Row], tuple[str, object] | None] = lambda _row: None
    model: type[Any] | None = None  # the table whose history it is


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where an act stands in the order of all: newer first, then by source, then by row."""

    at: datetime
    source: int
    pk: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One thing that somebody did."""

    place: Place
    who: int | None
    kind: str
    what: str
    lead: tuple[str, object] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which acts are asked for: of one person (`nobody`: of none that is known), from, before, of one kind."""

    who: int | None = None
    nobody: bool = False
    since: datetime | None = None
    until: datetime | None = None
    kind: str | None = None


def _values(rows: "QuerySet[Any]", at: str, who: str, *names: str, pk: str = "pk") -> QuerySet[Any, Row]:
    found: QuerySet[Any, Row] = rows.order_by().values(*names, moment=F(at), person=F(who), row=F(pk))
    return found


def acts(asked: Asked, before: Place | None, most: int) -> list[Act]:
    """Return the newest `most` acts that answer, older than `before`."""
    found: list[tuple[Place, Row]] = []
    for number, source in enumerate(SOURCES):
        if asked.kind in {None, source.kind}:
            rows = _narrowed(source.rows(), asked, before, number).order_by("-moment", "-row")[:most]
            found += [(Place(row["moment"], number, row["row"]), row) for row in rows]
    found.sort(key=lambda one: (one[0].at, -one[0].source, one[0].pk), reverse=True)
    shown = found[:most]
    facts = _facts(shown)
    return [_act(place, row, facts) for place, row in shown]


def _narrowed(rows: QuerySet[Any, Row], asked: Asked, before: Place | None, number: int) -> QuerySet[Any, Row]:
    if asked.who is not None:
        rows = rows.filter(person=asked.who)
    if asked.nobody:
        rows = rows.filter(person__isnull=True)
    if asked.since is not None:
        rows = rows.filter(moment__gte=asked.since)
    if asked.until is not None:
        rows = rows.filter(moment__lt=asked.until)
    if before is None:
        return rows
    if number > before.source:
        return rows.filter(moment__lte=before.at)
    same = Q(moment=before.at, row__lt=before.pk) if number == before.source else Q(pk__in=())
    return rows.filter(Q(moment__lt=before.at) | same)


def _act(place: Place, row: Row, facts: Mapping[Place, str]) -> Act:
    source = SOURCES[place.source]
    what = source.say(row)
    more = facts.get(place)
    return Act(
        place=place,
        who=row["person"],
        kind=source.kind,
        what=f"{what}: {more}" if more else what,
        lead=source.lead(row),
    )


def _facts(shown: Sequence[tuple[Place, Row]]) -> dict[Place, str]:
    """Return which facts each change of a record changed, in one query a table."""
    by_source: dict[int, list[tuple[Place, Row]]] = {}
    for place, row in shown:
        if SOURCES[place.source].model is not None and row["history_type"] == "~" and row["before"]:
            by_source.setdefault(place.source, []).append((place, row))
    found: dict[Place, str] = {}
    for number, rows in by_source.items():
        model: Any = SOURCES[number].model
        pages = model.history.in_bulk([pk for place, row in rows for pk in (place.pk, row["before"])])
        for place, row in rows:
            found[place] = ", ".join(_differing(model, pages[row["before"]], pages[place.pk]))
    return found


def _differing(model: Any, old: Any, new: Any) -> Iterable[str]:
    headings = _headings(model)
    for field in model._meta.concrete_fields:
        if getattr(old, field.attname) != getattr(new, field.attname):
            yield headings.get(field.name, str(field.verbose_name))


def _headings(model: type[Any]) -> dict[str, str]:
    from_sheet = SHEET_OF.get(model)
    return {column.name: column.heading for column in BY_CODE[from_sheet].columns} if from_sheet else {}


# Histories of tables

SHEET_OF = {target.model: code for code, target in ALL_TARGETS.items()}
NAMED_BY: dict[type[Any], tuple[str, ...]] = {
    Protocol: ("key",),
    Reading: ("quantity", "node__key"),
    Brief: ("name",),
    BriefSetting: ("brief__name", "setting"),
    TakenWay: ("segment",),
    OrderChoice: ("building__key",),
    Precedence: ("first", "then"),
}


def _said(value: object) -> str:
    """Return one part of a record's name as people write it."""
    if isinstance(value, datetime):
        return moment_words(timezone.localtime(value))
    return day_words(value) if isinstance(value, date) else str(value)


def _history(model: Any) -> Source:
    code = SHEET_OF.get(model)
    paths = NAMED_BY.get(model) or natural_key(code or "")
    pages = model.history.filter(history_change_reason__isnull=True)
    older = model.history.filter(id=OuterRef("id"), history_id__lt=OuterRef("history_id")).order_by("-history_id")
    before = Subquery(older.values("history_id")[:1])

    def rows() -> QuerySet[Any, Row]:
        return _values(
            pages.annotate(before=before), "history_date", "history_user_id", "id", "history_type", "before", *paths,
            pk="history_id",
        )  # fmt: skip

    def say(row: Row) -> str:
        name = " ".join(_said(row[path]) for path in paths if row[path] is not None)
        return f"{model._meta.verbose_name} {name} {DID[row['history_type']]}"

    def lead(row: Row) -> tuple[str, object] | None:
        has_page = code is not None and code != "brief" and row["history_type"] != "-"
        return (f"{(code or '').replace('_', '-')}-record", row["id"]) if has_page else None

    is_planner = model._meta.app_label == "planner"
    return Source(kind=CHOICES if is_planner else RECORDS, rows=rows, say=say, lead=lead, model=model)


def _histories() -> list[Source]:
    kept = [model for app in ("inventory", "planner") for model in apps.get_app_config(app).get_models()]
    return [_history(model) for model in kept if hasattr(model, "history")]


# Everything else


def _sign_in(row: Row) -> str:
    where = f" from {row['address']}" if row["address"] else ""
    return f"{'signed in' if row['worked'] else 'could not sign in'}{where}"


def _adopted(row: Row) -> str:
    instead = f" in place of plan {row['in_place_of_id']}" if row["in_place_of_id"] else ""
    return f"plan {row['plan_id']} adopted{instead}"


def _event(row: Row) -> str:
    off = f", put off to {day_words(row['not_before'])}" if row["not_before"] else ""
    if row["mended"]:
        return f"said of order {row['order__key']}, which was backed out, what was done about it: {row['mended']}"
    why = f": {row['why']}" if row["why"] else ""
    return f"order {row['order__key']} {row['state']}{off}{why}"


def _entry(row: Row) -> str:
    return " ".join(part for part in (f"order {row['order__key']}:", row["act"], row["code"], row["text"]) if part)


def _logged(row: Row) -> str:
    entry = LogEntry(action_flag=row["action_flag"], change_message=row["change_message"])
    return f"{row['content_type__model']} {row['object_repr']}: {entry.get_change_message() or entry}"


def _people() -> QuerySet[Any]:
    return LogEntry.objects.filter(content_type__app_label="auth")


SOURCES: tuple[Source, ...] = (
    Source(
        kind=SIGN_INS,
        rows=lambda: _values(SignInAttempt.objects.all(), "at", "user_id", "worked", "address", "key"),
        say=_sign_in,
    ),
    Source(
        kind=INTAKES,
        rows=lambda: _values(Intake.objects.all(), "at", "by_id", "file_name"),
        say=lambda row: f"{row['file_name']} taken in",
        lead=lambda _row: ("intake", None),
    ),
    Source(
        kind=INTAKES,
        rows=lambda: _values(Intake.objects.exclude(taken_back=None), "taken_back", "taken_back_by_id", "file_name"),
        say=lambda row: f"the intake of {row['file_name']} taken back",
        lead=lambda _row: ("intake", None),
    ),
    Source(
        kind=INTAKES,
        rows=lambda: _values(CalendarFile.objects.all(), "taken_in", "by_id", "name"),
        say=lambda row: f"calendar {row['name']} put on file",
    ),
    Source(
        kind=PLANS,
        rows=lambda: _values(Plan.objects.all(), "made", "by_id", "brief__name"),
        say=lambda row: f"plan {row['row']} made of the brief {row['brief__name']}",
        lead=lambda row: ("plan", row["row"]),
    ),
    Source(
        kind=PLANS,
        rows=lambda: _values(Adoption.objects.all(), "at", "by_id", "plan_id", "in_place_of_id"),
        say=_adopted,
        lead=lambda row: ("plan", row["plan_id"]),
    ),
    Source(
        kind=ORDERS,
        rows=lambda: _values(
            OrderEvent.objects.exclude(state=OrderState.BOOKED, not_before=None),  # adopting the plan says that of all
            "at", "by_id", "order_id", "order__key", "state", "not_before", "why", "mended",
        ),
        say=_event,
        lead=lambda row: ("order", row["order_id"]),
    ),
    Source(
        kind=WORK,
        rows=lambda: _values(
            WorkEntry.objects.exclude(act__in=(BEGIN, ACCEPT, BACK_OUT)),  # the order's own events say these
            "at", "by_id", "order_id", "order__key", "act", "code", "text",
        ),
        say=_entry,
        lead=lambda row: ("order-work", row["order_id"]),
    ),
    Source(
        kind=STOCK,
        rows=lambda: _values(StockEntry.objects.all(), "at", "by_id", "kind", "part_id", "part__key", "quantity"),
        say=lambda row: f"part {row['part__key']}: {plain_number(row['quantity'])} {row['kind']}",
        lead=lambda row: ("material", row["part_id"]),
    ),
    Source(kind=ROLES, rows=lambda: _values(
        _people(), "action_time", "user_id", "action_flag", "change_message", "object_repr", "content_type__model",
    ), say=_logged),
    Source(
        kind=ROLES,
        rows=lambda: _values(CrewMember.objects.all(), "since", "by_id", "member__username", "crew"),
        say=lambda row: f"{row['member__username']} put on crew {row['crew']}",
        lead=lambda _row: ("crew-people", None),
    ),
    Source(
        kind=ROLES,
        rows=lambda: _values(CrewMember.objects.exclude(until=None), "until", "until_by_id", "member__username", "crew"),
        say=lambda row: f"{row['member__username']} taken off crew {row['crew']}",
        lead=lambda _row: ("crew-people", None),
    ),
    Source(
        kind=FEEDS,
        rows=lambda: _values(Feed.objects.all(), "made", "by_id", "kind", "key"),
        say=lambda row: f"calendar feed of {row['kind']} {row['key']} opened",
    ),
    Source(
        kind=BACKGROUND,
        rows=lambda: _values(Job.objects.exclude(by=None), "made", "by_id", "kind", "state"),
        say=lambda row: f"asked for: {row['kind']} ({row['state']})",
        lead=lambda row: ("job", row["row"]),
    ),
    *_histories(),
)  # fmt: skip
