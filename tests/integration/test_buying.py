"""Purchasing on the site: ordered, delivered, expected later; each form counts once; workbooks for suppliers."""

import re
from decimal import Decimal
from html import unescape
from io import BytesIO
from uuid import uuid4

import openpyxl
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Delivery, Part, StockEntry
from planner.models import TakeoffLine
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


@pytest.fixture
def clients() -> dict[str, Client]:
    people = whole_campus()
    Part.objects.create(
        key="P-1001", on_hand=Decimal(2), price=Decimal("7.40"), currency="EUR", supplier="Northquay Supply"
    )
    made = {}
    for role in ("purchasing", "reader"):
        made[role] = Client()
        made[role].force_login(people[role])
    return made


def order(client: Client, **changes: str) -> object:
    typed = {
        "token": str(uuid4()),
        "part": "P-1001",
        "quantity": "12",
        "due": "2027-02-01",
        "reference": "PO-7",
        **changes,
    }
    return client.post(reverse("material-ordered"), typed)


def test_what_is_ordered_is_on_its_way_once_however_often_it_is_sent(clients: dict[str, Client]) -> None:
    token = str(uuid4())
    for _ in range(2):
        assert order(clients["purchasing"], token=token).status_code == 302  # type: ignore[attr-defined]
    one = Delivery.objects.get()
    assert (one.quantity, one.reference) == (12, "PO-7")
    assert str(StockEntry.objects.get()) == "ordered 12 of P-1001"
    assert Part.objects.get(key="P-1001").on_hand == 2, "what is ordered is not on the shelf yet"


def test_what_came_is_on_the_shelf_once_and_the_rest_stays_due(clients: dict[str, Client]) -> None:
    order(clients["purchasing"])
    due = Delivery.objects.get()
    typed = {f"came-{due.pk}-token": str(uuid4()), f"came-{due.pk}-quantity": "5"}
    for _ in range(2):
        clients["purchasing"].post(reverse("material-delivered", args=[due.pk]), typed)
    assert Part.objects.get(key="P-1001").on_hand == 7
    assert Delivery.objects.get().quantity == 7


@pytest.mark.parametrize(("came", "said"), [("1", "1 unit is on the shelf"), ("2.50", "2.5 units are on the shelf")])
def test_what_came_is_said_in_plain_english(clients: dict[str, Client], came: str, said: str) -> None:
    order(clients["purchasing"])
    due = Delivery.objects.get()
    typed = {f"came-{due.pk}-token": str(uuid4()), f"came-{due.pk}-quantity": came}
    answer = clients["purchasing"].post(reverse("material-delivered", args=[due.pk]), typed, follow=True)
    assert said in answer.content.decode()


def test_a_delivery_is_expected_on_another_day(clients: dict[str, Client]) -> None:
    order(clients["purchasing"])
    due = Delivery.objects.get()
    clients["purchasing"].post(reverse("material-expected", args=[due.pk]), {f"due-{due.pk}-due": "2027-03-01"})
    assert Delivery.objects.get().due.isoformat() == "2027-03-01"


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("quantity", "0", "more than 0"),
        ("quantity", "", "how many"),
        ("quantity", "many", "number"),
        ("due", "soon", "date"),
        ("part", "P-9999", "not on file"),
        ("token", "x", "UUID"),
    ],
)
def test_wrong_input_is_said_in_words_and_stores_nothing(
    clients: dict[str, Client], field: str, value: str, words: str
) -> None:
    answer = order(clients["purchasing"], **{field: value})
    assert answer.status_code == 400  # type: ignore[attr-defined]
    assert words in answer.content.decode()  # type: ignore[attr-defined]
    assert not Delivery.objects.exists()


def test_only_purchasing_orders(clients: dict[str, Client]) -> None:
    assert order(clients["reader"]).status_code == 403  # type: ignore[attr-defined]
    assert not Delivery.objects.exists()


def test_the_workbook_of_a_supplier_holds_its_lines_and_keeps_text_text(clients: dict[str, Client]) -> None:
    answer = clients["reader"].get(reverse("materials-workbook"), {"supplier": "Northquay Supply"})
    (sheet, *_) = openpyxl.load_workbook(BytesIO(answer.content)).worksheets
    rows = list(sheet.iter_rows(values_only=True))
    text = "\n".join(str(cell) for row in rows for cell in row if cell is not None)
    assert "P-1001" in text
    assert "P-4001" not in text, "a part whose supplier is not known is on no supplier's sheet"
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value == "=Wall station"]
    assert cells
    assert all(cell.data_type == "s" for cell in cells)


def test_the_workbook_of_a_phase_holds_the_lines_of_that_phase_alone(clients: dict[str, Client]) -> None:
    TakeoffLine.objects.filter(part="P-2001").update(phase="Phase 2 & 3")
    page = clients["reader"].get(reverse("materials")).content.decode()
    links = [unescape(one) for one in re.findall(r'href="([^"]*workbook/[^"]*phase=[^"]*)"', page)]
    parts = []
    for link in links:
        answer = clients["reader"].get(link)
        (sheet, *_) = openpyxl.load_workbook(BytesIO(answer.content)).worksheets
        parts.append({cell.value for row in sheet.iter_rows() for cell in row if str(cell.value).startswith("P-")})
    assert parts == [{"P-1001", "P-4001"}, {"P-2001"}]
    assert 'filename="purchases-phase-2-3.xlsx"' in answer.headers["Content-Disposition"]


def test_the_part_says_what_is_due_and_when(clients: dict[str, Client]) -> None:
    order(clients["purchasing"], due=timezone.localdate().isoformat())
    page = clients["reader"].get(reverse("material", args=[Part.objects.get(key="P-1001").pk])).content.decode()
    assert "PO-7" in page
