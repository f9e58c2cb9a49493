"""Every form of the site with what nobody should type: words beside the field, nothing stored, nothing done twice.

The table names every address that takes a form; one that is not in it fails the first test.
"""

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from html.parser import HTMLParser
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import URLPattern, reverse
from django.utils import timezone

from inventory.models import Building, Delivery, Intake, Node, Part
from inventory.workbook.columns import Kind
from planner.core.plans import OrderState
from planner.models import Brief, Crew, Feed, Job, Order, OrderChoice, Phase, Plan, Precedence
from planner.services.order_states import bring
from planner.services.records import REGISTERS, may_change_many
from planner.tables.records import address as record_address
from planner.tables.records import slug
from tests.bad_input import (
    FEW,
    REDIRECT,
    VALUES,
    holding,
    patterns,
    put_back,
    quoted,
    send,
    stored,
    takes_a_form,
    wrong_with,
)
from tests.campus_tables import assessed_by_hand
from tests.kept import begin_with
from tests.site_campus import PASSWORD, person, whole_campus
from tests.work import work_order

pytestmark = pytest.mark.django_db

GONE, NOT_THIS_WAY = 404, 405
MANY_NAMES = 3
Typed = dict[str, Any]


def _nothing() -> Typed:
    return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One form: where it goes, what a person types who does it right, and why two of the same may count twice."""

    at: Callable[[], str]
    typed: Callable[[], Typed] = _nothing
    twice: str = ""
    keeps: str = ""  # why a refusal may keep something all the same
    files: bool = False  # the form is about a file: tests/integration/test_bad_uploads.py


def at(name: str, **found: Callable[[], Any]) -> Callable[[], str]:
    """Return the address of this name, with what is looked up when it is asked for."""
    return lambda: reverse(name, kwargs={key: look() for key, look in found.items()})


def an_order() -> int:
    return Order.objects.get(key="B1-O1").pk


def a_stopped_order() -> int:
    """Return the order that was backed out; the first to ask backs one out."""
    row = Order.objects.get(key="B1-O1")
    if row.state != OrderState.BACKED_OUT:
        bring(row, OrderState.BACKED_OUT, by=None, why="a joint is wet")
    return row.pk


def a_station() -> int:
    return Node.objects.filter(model__kind="station").earliest("key").pk


def a_delivery() -> int:
    return Delivery.objects.get().pk


def only(model: Any) -> Callable[[], int]:
    return lambda: model.objects.earliest("pk").pk


def a_job(state: str) -> Callable[[], int]:
    return lambda: Job.objects.filter(state=state).earliest("pk").pk


def rows_of(what: str, **one: str) -> Callable[[], Typed]:
    """Return what the form of the crews, phases or closures of a brief sends: one new row."""
    counts = {"TOTAL_FORMS": "1", "INITIAL_FORMS": "0", "MIN_NUM_FORMS": "0", "MAX_NUM_FORMS": "60"}
    return lambda: (
        {f"{what}-{name}": value for name, value in counts.items()}
        | {f"{what}-0-{name}": value for name, value in one.items()}
    )


def a_delivered() -> Typed:
    return {f"came-{a_delivery()}-token": str(uuid4()), f"came-{a_delivery()}-quantity": "2", "back": ""}


def an_entry(**more: str) -> Callable[[], Typed]:
    return lambda: {"token": str(uuid4()), "act": "note", "code": "", "text": "cover loose", "ago_s": "3", **more}


def day() -> str:
    return timezone.localdate().isoformat()


WHOLE: dict[str, Row] = {
    "sign-in": Row(at=at("sign-in"), typed=lambda: {"username": "ada", "password": PASSWORD, "kept": "", "next": "/"}),
    "sign-out": Row(at=at("sign-out")),
    "password": Row(
        at=at("password"),
        typed=lambda: {"old_password": PASSWORD, "new_password1": "tide-7-lantern-quay", "new_password2": "tide-7-lantern-quay"},
    ),
    "report-failure": Row(
        at=at("report-failure", pk=a_station),
        typed=lambda: {"what_failed": "slider 2 jumps", "date": day(), "outcome": "repaired"},
    ),
    "crew-people-keep": Row(
        at=at("crew-people-keep", pk=lambda: User.objects.get(username="crew").pk),
        typed=lambda: {"crew": ["Night A"], "seen": ["Night A"]},
    ),
    "assess": Row(at=at("assess")),
    "way-out": Row(at=at("way-out", key=lambda: "B1-L3")),
    "way-out-take": Row(at=at("way-out-take", key=lambda: "B1-L3")),
    "way-out-give-up": Row(at=at("way-out-give-up", key=lambda: "B1-L3"), typed=lambda: {"list": "1"}),
    "take-below": Row(at=at("take-below"), typed=lambda: {"below": "2500"}),
    "brief": Row(
        at=at("brief"), typed=lambda: {"name": "Other", "seconds": "1", "seed": "1", "goes_on": "on", "reserve_pct": "35", "longest_outage_min": "200"},
        keeps="the brief, and says so: crews and phases are given to it on a page of its own",
    ),
    "order-choice-keep": Row(
        at=at("order-choice-keep", pk=only(Building)), typed=lambda: {"act": "together", "segment": ["B1-L0", "B1-L1"], "why": "one stair"}
    ),
    "order-choice-drop": Row(at=at("order-choice-drop", pk=only(OrderChoice))),
    "scenario-copy": Row(at=at("scenario-copy", pk=only(Brief)), typed=lambda: {"name": "Summer only"}),
    "scenario-keep": Row(
        at=at("scenario-keep", pk=only(Brief), what=lambda: "crews"),
        typed=rows_of("crews", key="Night C", people="2", days="Mon-Fri", shift_from="21:00", shift_to="06:00"),
    ),
    "plan-again": Row(at=at("plan-again", pk=only(Plan))),
    "order-move": Row(
        at=at("order-move", pk=an_order), typed=lambda: {"crew": "Night A", "day": "2027-03-02", "clock": "21:00"}
    ),
    "order-put-off": Row(
        at=at("order-put-off", pk=an_order), typed=lambda: {"not_before": "2027-06-01", "why": "exams"}
    ),
    "order-mended": Row(
        at=at("order-mended", pk=a_stopped_order), typed=lambda: {"what": "Joint dried and remade; the loop reads 4.2 ohm."}
    ),
    "plan-adopt": Row(at=at("plan-adopt", pk=only(Plan))),
    "plan-handover": Row(at=at("plan-handover", pk=only(Plan))),
    "order-entry": Row(at=at("order-entry", pk=an_order), typed=an_entry()),
    "feed-open": Row(
        at=at("feed-open"), typed=lambda: {"what": "crew:Night A"}, twice="the newer address closes the older"
    ),
    "order-after": Row(at=at("order-after", pk=an_order), typed=lambda: {"first": "B1-O0", "why": "one stair"}),
    "sequence-drop": Row(at=at("sequence-drop", pk=only(Precedence)), typed=lambda: {"order": str(an_order())}),
    "feed-end": Row(at=at("feed-end", pk=only(Feed))),
    "material-ordered": Row(
        at=at("material-ordered"),
        typed=lambda: {"token": str(uuid4()), "part": "P-1001", "quantity": "12", "due": "2027-02-01", "reference": "PO-8", "back": ""},
    ),
    "material-delivered": Row(at=at("material-delivered", pk=a_delivery), typed=a_delivered),
    "material-expected": Row(
        at=at("material-expected", pk=a_delivery), typed=lambda: {f"due-{a_delivery()}-due": "2027-03-01", "back": ""}
    ),
    "materials-counted": Row(at=at("materials-counted")),
    "intake": Row(at=at("intake"), files=True),
    "intake-calendars": Row(at=at("intake-calendars"), files=True),
    "intake-take": Row(at=at("intake-take", pk=a_job("done")), typed=lambda: {"remove": ["nodes:1", "rooms:all"]}),
    "intake-back": Row(at=at("intake-back", pk=only(Intake))),
    "job-stop": Row(at=at("job-stop", pk=a_job("queued"))),
    "job-again": Row(at=at("job-again", pk=a_job("failed"))),
}  # fmt: skip


def first_of(code: str) -> Any:
    return REGISTERS[code].rows().order_by("pk").first()


def typed_of(code: str) -> Typed:
    """Return what a person types who puts the first record of a sheet on file once more, under another name."""
    client = superuser()
    row = first_of(code)
    page = client.get(record_address(code, "change", row.pk) if row else record_address(code, "new"))
    form = page.context["form"]
    known = {name: str(form[name].value() or "") for name in form.fields}
    return known | dict(page.context.get("opened", ()))


def superuser() -> Client:
    client = Client()
    client.force_login(User.objects.get(username="super"))
    return client


HAND: dict[str, Row] = {
    "segment-read": Row(
        at=at("segment-read", key=lambda: "B1-L01"), typed=lambda: _figures() | {"on": day(), "instrument": "M-4", "note": ""}
    )
}  # fmt: skip


def _figures() -> Typed:
    page = superuser().get(reverse("segment", args=["B1-L01"]))
    return {name: "24.1" if "V" in name else "3.2" for name in page.context["form"].fields if name.startswith("read|")}


RECORD_PAGES = ("new", "change", "bulk", "remove")
RECORDS = {f"{slug(code)}-{name}": (code, name) for code in REGISTERS for name in RECORD_PAGES}


def test_every_form_of_the_site_is_in_the_table() -> None:
    forms = {pattern.name for pattern in patterns() if takes_a_form(pattern)}
    assert forms - {"feed"} == {*WHOLE, *HAND, *RECORDS}


@pytest.fixture
def whole(db: None) -> Client:
    begin_with(_whole)
    return superuser()


def _whole() -> None:
    people = whole_campus()
    work_order()
    User.objects.create_user("ada", password=PASSWORD)
    people["super"].set_password(PASSWORD)
    people["super"].save()
    part = Part.objects.get(key="P-1001")
    Delivery.objects.create(part=part, quantity=5, due=timezone.localdate(), reference="PO-7")
    brief = Brief.objects.earliest("pk")
    Crew.objects.create(brief=brief, key="Night A", people=2)
    Phase.objects.create(brief=brief, key="1", start=date(2026, 1, 1), end=date(2028, 12, 31))
    building = Building.objects.earliest("pk")
    OrderChoice.objects.create(building=building, parts=[["B1-L0", "B1-L1"]], at=timezone.now(), by=people["planning"])
    Precedence.objects.create(earlier=["B1-L1"], later=["B1-L2"], first="B1-O3", then="B1-O4", at=timezone.now())
    Feed.objects.create(kind="crew", key="Night A", by=people["super"], token="t" * 43, made=timezone.now())
    result = {"can_be_stored": True, "problems": [], "counts": {}}
    for state in ("done", "failed", "queued"):
        more = {"upload": b"x", "result": result} if state == "done" else {}
        Job.objects.create(
            kind="intake", state=state, demand={"mode": "look", "file_name": "x.xlsx"}, made=timezone.now(), **more
        )


@pytest.fixture
def hand(db: None) -> Client:
    assessed_by_hand()
    person("super", is_staff=True, is_superuser=True)
    return superuser()


def faults(
    client: Client, address: str, typed: Typed, few: Collection[str] = FEW, in_turn: Collection[str] = ()
) -> Iterator[str]:
    """Yield what goes wrong where all fields hold each value, and where each field in turn holds each of a few.

    Fields that are named `in_turn` hold all of them, one by one.
    """
    before = stored()
    for kind, value in VALUES.items():
        each = [name for name in typed if kind in few or name in in_turn]
        for names in [list(typed), *([name] for name in each)]:
            told = f"{kind} in {', '.join(names) if len(names) < MANY_NAMES else 'all fields'}"
            with put_back():
                yield from (
                    f"{told}: {fault}"
                    for fault in _tried(client, address, typed | dict.fromkeys(names, value), kind, before)
                )


def _tried(client: Client, address: str, typed: Typed, kind: str, before: dict[str, int]) -> Iterator[str]:
    answer = send(client, address, typed)
    yield from wrong_with(answer)
    if answer.status_code != REDIRECT:
        if stored() != before:
            yield f"refused with {answer.status_code} and stored all the same"
        return
    if kind == "huge":
        yield from (f"a megabyte is kept in {where}" for where in holding("x" * 5000))
    if kind in {"script", "formula"}:
        yield from (f"on the next page: {fault}" for fault in wrong_with(client.get(answer.headers["Location"])))


def none(wrong: Iterable[str]) -> None:
    """Fail with every line of what is wrong."""
    told = list(wrong)
    assert not told, "\n" + "\n".join(told)


@pytest.mark.parametrize("name", [name for name, row in WHOLE.items() if not row.files])
def test_no_form_takes_what_is_wrong_or_breaks_on_it(whole: Client, name: str) -> None:
    row = WHOLE[name]
    client = Client() if name == "sign-in" else whole
    kept = "stored all the same" if row.keeps else None
    none(one for one in faults(client, row.at(), row.typed()) if kept is None or not one.endswith(kept))
    with put_back():
        none(wrong_with(send(client, row.at(), {})))


@pytest.mark.parametrize("name", [name for name, row in WHOLE.items() if not row.files])
def test_a_form_sent_twice_counts_once(whole: Client, name: str) -> None:
    row = WHOLE[name]
    client = Client() if name == "sign-in" else whole
    address, typed = row.at(), row.typed()
    first = send(client, address, typed)
    none(wrong_with(first))
    once = stored()
    again = send(client, address, typed)
    none(wrong_with(again))
    assert again.status_code != GONE, "the second click is left with a page that says nothing of the first"
    assert stored() == once or row.twice


# Records: all sheets have one form, so that each kind of column is tried in turn once, and each sheet as a whole


@pytest.mark.parametrize("code", REGISTERS)
def test_no_record_takes_what_is_wrong_or_breaks_on_it(hand: Client, code: str) -> None:
    row = first_of(code)
    typed = typed_of(code)
    wrong = [f"new: {one}" for one in faults(hand, record_address(code, "new"), typed, ())]
    if row is not None:
        wrong += [f"change: {one}" for one in faults(hand, record_address(code, "change", row.pk), typed, ())]
    wrong += [f"bulk: {one}" for one in _faults_of_bulk(hand, code)]
    none(wrong)


KINDS = {column.kind: (code, column.name) for code in reversed(REGISTERS) for column in REGISTERS[code].sheet.columns}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_kind_of_column_takes_what_is_wrong_where_all_else_is_right(hand: Client, kind: Kind) -> None:
    code, name = KINDS[kind]
    row, typed = first_of(code), typed_of(code)
    address = record_address(code, "change", row.pk) if row else record_address(code, "new")
    none(faults(hand, address, typed, (), in_turn=(name,)))


def _faults_of_bulk(client: Client, code: str) -> Iterator[str]:
    """Yield what goes wrong where many are changed: one column of each kind, since columns of a kind are read alike."""
    before = stored()
    for column in {column.kind: column for column in may_change_many(REGISTERS[code])}.values():
        for kind, value in VALUES.items():
            asked = f"set={column.name}&look=1&to-{column.name}={quoted(value[:2000])}"
            address = f"{record_address(code, 'bulk')}?{asked}"
            with put_back():
                looked = client.get(address)
                yield from (f"{kind} in {column.name}: {fault}" for fault in wrong_with(looked))
                answer = send(client, address, {"digest": value})
                yield from (f"{kind} in {column.name}, sent: {fault}" for fault in wrong_with(answer))
                if stored() != before:
                    yield f"{kind} in {column.name}: stored without a look that holds"


# What is typed into addresses: filters, searches, pages of lists


class Asked(HTMLParser):
    """Collects the names of what a page can be narrowed by."""

    def __init__(self) -> None:
        super().__init__()
        self.names: list[str] = []
        self.inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if tag == "form":
            self.inside = found.get("method", "get") == "get"
        elif tag in {"input", "select"} and self.inside and found.get("name"):
            self.names.append(found["name"] or "")


ALWAYS_ASKED = (
    "page",
    "sort",
    "column",
    "building",
    "night",
    "crew",
    "phase",
    "plan",
    "job",
    "before",
    "as",
    "estimate",
    "supplier",
    "brief",
)
IN_TURN = ("null byte", "beyond all numbers", "many digits", "other digits")


def pages() -> Iterator[URLPattern]:
    """Yield every address that names no row: the lists and the pages of a place."""
    return (one for one in patterns() if "<" not in str(one.pattern) and one.name != "sign-out")


@pytest.mark.parametrize("name", sorted(one.name or "" for one in pages()))
def test_no_address_breaks_on_what_stands_behind_its_question_mark(whole: Client, name: str) -> None:
    page = whole.get(reverse(name))
    if page.status_code == NOT_THIS_WAY:
        return
    asked = Asked()
    asked.feed(page.content.decode() if page.headers["Content-Type"].startswith("text/html") else "")
    names = [*dict.fromkeys([*asked.names, *ALWAYS_ASKED])]
    wrong = []
    for kind, value in VALUES.items():
        short = value[:2000]  # a server takes no longer line
        for some in [names, *([one] for one in names if kind in IN_TURN)]:
            query = "&".join(f"{one}={quoted(short)}" for one in some)
            wrong += [f"{kind} in {some}: {fault}" for fault in wrong_with(whole.get(f"{reverse(name)}?{query}"))]
    none(wrong)
