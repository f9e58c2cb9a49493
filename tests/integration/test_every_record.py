"""Every kind of record on the page, one table: made, changed, changed by two at once, changed in bulk, taken away; and who did it."""

from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client

from inventory.core.roles import Role, changes, who_can
from planner.services.records import REGISTERS
from planner.tables.records import address
from tests.campus_tables import assessed_by_hand
from tests.integration.test_records import said, signed_in, typed

pytestmark = pytest.mark.django_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is tried with one kind of record: a new one, and two of its facts: column, heading, what is typed."""

    new: dict[str, str]
    first: tuple[str, str, str]
    second: tuple[str, str, str]


TABLE: dict[str, Facts] = {
    "buildings": Facts(new={"key": "B9"}, first=("name", "Name", "Weir House"), second=("district", "District", "Quay")),
    "rooms": Facts(
        new={"building": "B1", "key": "901"}, first=("use", "Use", "seminar"), second=("importance", "Importance", "4")
    ),
    "protocols": Facts(
        new={"protocol": "NINEPAIR", "longest_bus_m": "90"},
        first=("longest_bus_m", "Longest bus (m)", "120"),
        second=("source", "Source", "the maker's sheet"),
    ),
    "parts": Facts(new={"key": "P-9"}, first=("price", "Price", "7.55"), second=("supplier", "Supplier", "Northquay Supply")),
    "deliveries": Facts(
        new={"part": "P-1001", "due": "1 Feb 2027", "quantity": "4", "reference": "PO-9"},
        first=("quantity", "Quantity", "6"),
        second=("due", "Due", "1 Mar 2027"),
    ),
    "cables": Facts(
        new={"key": "9x9"}, first=("impedance_ohm", "Impedance (ohm)", "118"), second=("category", "Category", "5e")
    ),
    "models": Facts(
        new={"key": "WS-9", "kind": "station", "protocol": "PAIRBUS"},
        first=("draw_w", "Draw (W)", "2.5"),
        second=("description", "Description", "six sliders"),
    ),
    "buses": Facts(
        new={"key": "B1-L99", "building": "B1", "protocol": "PAIRBUS"},
        first=("bit_rate_kbit_s", "Bit rate (kbit/s)", "9.6"),
        second=("protocol", "Protocol", "OPENPAIR"),
    ),
    "nodes": Facts(
        new={"key": "B1-S999", "building": "B1", "model": "WS-20", "bus": "B1-L01"},
        first=("model", "Model", "WS-21"),
        second=("note", "Note", "behind the bookcase"),
    ),
    "runs": Facts(
        new={"key": "R-9", "bus": "B1-L01", "from_node": "B1-S101", "to_node": "B1-L01-G"},
        first=("length_m", "Length (m)", "40"),
        second=("surveyed", "Surveyed", "1 Mar 2026"),
    ),
    "zones": Facts(
        new={"node": "B1-S101", "key": "1"}, first=("label", "Label", "Front row"), second=("circuit", "Circuit", "C-4")
    ),
    "scenes": Facts(
        new={"node": "B1-S101", "key": "1"}, first=("label", "Label", "Slides"), second=("levels", "Levels", "1=80, 2=40")
    ),
    "methods": Facts(
        new={"key": "M-9", "old_model": "WS-20", "new_model": "WS-70", "new_protocol": "OPENPAIR"},
        first=("patch_lead_m", "Patch lead (m)", "2"),
        second=("caution", "Caution", "Mains may share the box."),
    ),
    "method_parts": Facts(
        new={"method": "M-20", "part": "P-1003", "quantity": "1", "per": "segment"},
        first=("quantity", "Quantity", "2"),
        second=("per", "Per", "station"),
    ),
    "method_steps": Facts(
        new={"method": "M-20", "step": "9", "text": "Sweep up", "minutes": "5"},
        first=("minutes", "Minutes", "7"),
        second=("text", "Text", "Sweep up and lock"),
    ),
    "method_pins": Facts(
        new={"method": "M-20", "signal": "data high", "rj45_pin": "1"},
        first=("terminal", "Terminal", "T3"),
        second=("source", "Source", "the maker's sheet"),
    ),
    "spares": Facts(new={"model": "WS-20", "on_hand": "3", "store": "Attic"}, first=("on_hand", "On hand", "5"), second=("store", "Store", "Quay")),
    "failures": Facts(
        new={"node": "B1-S101", "date": "2 Jan 2026", "what_failed": "slider"},
        first=("outcome", "Outcome", "repaired"),
        second=("what_failed", "What failed", "slider 2"),
    ),
    "crews": Facts(new={"key": "Night", "people": "2"}, first=("people", "People", "3"), second=("days", "Days", "Mon Tue")),
    "phases": Facts(
        new={"key": "9", "start": "1 Feb 2027", "end": "30 Apr 2027"},
        first=("budget", "Budget", "60000"),
        second=("districts", "Districts", "Quay"),
    ),
    "closures": Facts(
        new={"start": "1 Mar 2027, 08:00", "end": "5 Mar 2027, 18:00", "kind": "keep out"},
        first=("why", "Why", "exams"),
        second=("end", "To", "6 Mar 2027, 18:00"),
    ),
}  # fmt: skip


@pytest.fixture
def campus(db: None) -> None:
    assessed_by_hand()


def clients(code: str) -> tuple[Client, Client]:
    """Return two people whose work these records are."""
    role: Role = who_can(changes(code))[0]
    return signed_in("ann", role), signed_in("ben", role)


def made(client: Client, code: str) -> Any:
    """Put the record of the table on file by its form; return it."""
    answer = client.post(address(code, "new"), TABLE[code].new, follow=True)
    assert "is on file" in said(answer), answer.context["form"].errors
    return REGISTERS[code].rows().order_by("-pk").first()


def text_of(answer: Any) -> str:
    text: str = answer.content.decode()
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_every_kind_of_record_is_in_the_table() -> None:
    assert set(TABLE) == set(REGISTERS)


@pytest.mark.parametrize("code", TABLE)
def test_a_record_is_made_and_changed_and_its_page_says_who_did_what_when(campus: None, code: str) -> None:
    ann, _ = clients(code)
    row, (name, heading, value) = made(ann, code), TABLE[code].first
    before = typed(ann, code, row)[name]
    answer = ann.post(address(code, "change", row.pk), typed(ann, code, row, **{name: value}), follow=True)
    assert "is changed" in said(answer)
    page = text_of(ann.get(address(code, "record", row.pk)))
    assert (
        f"{heading}: {before or 'not known'} → " in page
        or f'{heading}: <span class="unknown">not known</span> → ' in page
    )
    pages = list(row.history.order_by("history_date", "history_id"))
    assert [(one.history_type, one.history_user.username) for one in pages] == [("+", "ann"), ("~", "ann")]
    assert "put on record" in page
    assert page.count("ann") >= len(pages)


TURNS = {  # records that segments hang on: the page says at once what a change of theirs did to verdicts
    "protocols": ("OPENPAIR 125", "longest_bus_m", "90"),
    "cables": ("2x2 18AWG", "power_conductor", "24 AWG"),
    "models": ("WS-70", "draw_w", "9"),
    "buses": ("B1-L01", "protocol", "OPENPAIR"),
    "nodes": ("B1-S101", "model", "WS-21"),
    "runs": ("R-B1-S107", "length_m", "40"),
    "methods": ("M-20", "patch_lead_m", "2"),
}


@pytest.mark.parametrize("code", TURNS)
def test_a_change_that_verdicts_hang_on_is_told_with_them_at_once(campus: None, code: str) -> None:
    ann, _ = clients(code)
    key, name, value = TURNS[code]
    row = next(one for one in REGISTERS[code].rows() if str(one) == key)
    answer = ann.post(address(code, "change", row.pk), typed(ann, code, row, **{name: value}), follow=True)
    assert any(words in said(answer) for words in ("judged again", "assessed anew", "→")), said(answer)


@pytest.mark.parametrize("code", TABLE)
def test_of_two_people_at_one_record_the_second_is_told_and_loses_nothing(campus: None, code: str) -> None:
    ann, ben = clients(code)
    row = made(ann, code)
    (first, heading, value), (second, _, other) = TABLE[code].first, TABLE[code].second
    opened = typed(ben, code, row, **{second: other})
    ann.post(address(code, "change", row.pk), typed(ann, code, row, **{first: value}))
    answer = ben.post(address(code, "change", row.pk), opened)
    assert answer.status_code == 409
    assert "Changed by ann" in text_of(answer)
    assert heading in text_of(answer)
    form = answer.context["form"]
    assert form[second].value() == other
    again = {name: form[name].value() for name in form.fields} | dict(answer.context["opened"])
    assert ben.post(address(code, "change", row.pk), again).status_code == 302
    kept = typed(ben, code, REGISTERS[code].rows().get(pk=row.pk))
    assert kept[second] == other
    assert kept[first] == form[first].value()
    assert row.history.count() == 3


@pytest.mark.parametrize("code", TABLE)
def test_what_a_filter_shows_is_changed_at_once_after_a_look_and_once_only(campus: None, code: str) -> None:
    ann, _ = clients(code)
    row = made(ann, code)
    columns = {column.name for column in REGISTERS[code].sheet.columns if column.name not in REGISTERS[code].sheet.key}
    name, heading, value = next(one for one in (TABLE[code].second, TABLE[code].first) if one[0] in columns)
    asked = f"?set={name}&look=1&to-{name}={value.replace(' ', '+')}&{_narrow(code, row)}"
    looked = ann.get(address(code, "bulk") + asked).context["looked"]
    assert not looked.faults, looked.faults
    changed = [one.pk for one, _, _ in looked.changes]
    assert row.pk in changed
    for words in (f"{heading} of {len(changed)}", "nothing has changed"):
        answer = ann.post(address(code, "bulk") + asked, {"digest": looked.digest}, follow=True)
        assert words in said(answer)
    assert row.history.filter(history_type="~").count() == 1
    assert row.history.latest().history_user.username == "ann"


def _narrow(code: str, row: Any) -> str:
    """Return what narrows a list to few records, this one among them, where a sheet has something for it."""
    facts = {"nodes": "bus=B1-L01", "runs": "bus=B1-L01", "models": "kind=station"}
    return facts.get(code, "")


@pytest.mark.parametrize("code", TABLE)
def test_a_record_that_goes_keeps_its_history_and_a_second_click_is_told(campus: None, code: str) -> None:
    ann, _ = clients(code)
    row = made(ann, code)
    gone = row.pk
    answer = ann.post(address(code, "remove", gone), follow=True)
    assert "is removed. Its history stays on record." in said(answer)
    assert not REGISTERS[code].rows().filter(pk=gone).exists()
    last = type(row).history.filter(id=gone).latest()
    assert (last.history_type, last.history_user.username) == ("-", "ann")
    assert "on file no more" in said(ann.post(address(code, "remove", gone), follow=True))
