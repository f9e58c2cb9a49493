"""Failures that cannot be, or that say too little: told in words on pages, by intake and by the command; nothing falls over.

Each of six: a failure before installation, two on one day, a removed node that fails, all units failed, none, one unit.
"""

from datetime import date, timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Failure, Node
from inventory.services.intake import take_in
from planner.models import Plan
from planner.services.ageing import reckon_risks
from planner.store.intake import ALL_TARGETS
from tests.books import small
from tests.integration.test_spares import ageing_page, campus, fail, page

__all__ = ["campus"]
pytestmark = pytest.mark.django_db

FAILURES = [
    ("Node", "Date", "What failed", "Outcome"),
    ("S1", date(1990, 1, 1), "dark", "repaired"),
    ("S1", date(2025, 3, 1), "dark", "repaired"),
    ("S1", date(2025, 3, 1), "dark again", "removed"),
    ("S1", date(2025, 4, 1), "dark once more", None),
]
TOLD = {
    "failed-before-installed": (2, "The node failed before it was installed"),
    "failed-twice-in-a-day": (4, "The node has another failure on this day"),
    "failed-after-removed": (5, "The node failed after a failure with outcome removed"),
}


def test_intake_tells_each_by_sheet_row_and_column_and_stores_all() -> None:
    result = take_in(small(Failures=FAILURES), "campus.xlsx", ALL_TARGETS, None)
    assert result.stored
    assert {one.code: (one.row, one.message) for one in result.problems if one.code in TOLD} == TOLD
    assert all(one.sheet == "Failures" and one.column == "Date" for one in result.problems if one.code in TOLD)
    assert Failure.objects.count() == 4


def test_the_command_tells_each_too(tmp_path: Path) -> None:
    book, written = tmp_path / "campus.xlsx", StringIO()
    book.write_bytes(small(Failures=FAILURES))
    call_command("intake", str(book), stdout=written, stderr=written)
    for row, words in TOLD.values():
        assert words in written.getvalue()
        assert f"Failures!B{row}" in written.getvalue() or f"row {row}" in written.getvalue()


def report(user: User, node: Node, day: date, outcome: str = "", what: str = "dark") -> str:
    """Report a failure on the node's page and return what the page then says."""
    client = Client()
    client.force_login(user)
    typed = {"date": day.isoformat(), "what_failed": what, "outcome": outcome}
    answer = client.post(reverse("report-failure", args=[node.pk]), typed, follow=True)
    return answer.content.decode().replace("\N{NO-BREAK SPACE}", " ")


def test_the_page_refuses_a_failure_before_installation_in_words(campus: dict[str, User]) -> None:
    node = Node.objects.filter(model__kind="station", installed__isnull=False).earliest("key")
    assert node.installed is not None
    text = report(campus["facilities"], node, node.installed - timedelta(days=1))
    assert f"{node.key} was installed on" in text
    assert not node.failures.exists()


def test_the_page_says_that_two_failures_on_one_day_count_once(campus: dict[str, User]) -> None:
    node, today = Node.objects.filter(model__kind="station").earliest("key"), timezone.localdate()
    assert "one visit counts once" not in report(campus["facilities"], node, today)
    assert "one visit counts once" in report(campus["facilities"], node, today, what="dark again")
    assert node.failures.count() == 2
    assert f"{node.key} has two failures on" in ageing_page(campus["reader"])


def test_the_page_refuses_the_failure_of_a_removed_node_until_another_hangs_there(campus: dict[str, User]) -> None:
    node, today = Node.objects.filter(model__kind="station").earliest("key"), timezone.localdate()
    report(campus["facilities"], node, today - timedelta(days=9), outcome="removed")
    text = report(campus["facilities"], node, today)
    assert f"{node.key} was taken away on" in text
    assert "Correct that failure&#x27;s outcome first, or name the node that hangs there now" in text
    assert node.failures.count() == 1
    Node.objects.filter(pk=node.pk).update(installed=today - timedelta(days=3))
    assert "is on record" in report(campus["facilities"], node, today)


def every_page(user: User) -> dict[str, str]:
    """Return the pages that stand on failures, after risks were reckoned."""
    reckon_risks()
    client = Client()
    client.force_login(user)
    one = Node.objects.filter(model__kind="station").earliest("key")
    addresses = {
        "campus": reverse("campus"),
        "stations": reverse("stations") + "?sort=-risk",
        "station": reverse("station", args=[one.pk]),
        "ageing": reverse("ageing"),
        "estimated": reverse("ageing") + "?estimate=yes",
        "spares": reverse("plan-spares", args=[Plan.objects.get().pk]),
    }
    found = {}
    for name, address in addresses.items():
        answer = client.get(address)
        assert answer.status_code == 200, name
        found[name] = answer.content.decode().replace("\N{NO-BREAK SPACE}", " ")
        assert "nan" not in found[name].replace("tenan", "").replace("finan", "").lower().split(), name
    return found


@pytest.mark.parametrize("outcome", ["repaired", "replaced", "removed"])
def test_all_units_failed(campus: dict[str, User], outcome: str) -> None:
    today = timezone.localdate()
    nodes = Node.objects.order_by("key")
    Failure.objects.bulk_create(
        Failure(node=node, date=max(node.installed or today, today - timedelta(days=30 * (at % 40))), outcome=outcome)
        for at, node in enumerate(nodes)
    )
    pages = every_page(campus["reader"])
    assert ("None can be told" in pages["ageing"]) == (outcome == "removed"), "nothing hangs there any more"
    assert "failures" in pages["ageing"]
    assert pages["spares"]


def test_none_failed(campus: dict[str, User]) -> None:
    pages = every_page(campus["reader"])
    assert "Cannot be told yet: no failure is on record" in pages["campus"]
    assert "Cannot be told: its age, or the life of its model, is not known" in pages["station"]
    assert "take in a workbook with the sheet Failures" in pages["ageing"]
    assert "no failure is on record, so no risk can be told" in pages["spares"]


@pytest.mark.parametrize("failures", [0, 1, 2])
def test_one_unit(campus: dict[str, User], failures: int) -> None:
    """Leave one station of each old model, with so many failures."""
    fail(count=0)
    today = timezone.localdate()
    kept = Node.objects.filter(model__key="WS-10", installed__isnull=False).order_by("installed").first()
    assert kept is not None
    Node.objects.filter(model__key="WS-10").exclude(pk=kept.pk).update(
        model=Node.objects.filter(model__kind="gateway").earliest("key").model
    )
    Failure.objects.bulk_create(
        Failure(node=kept, date=today - timedelta(days=100 * at + 1), outcome="repaired") for at in range(failures)
    )
    pages = every_page(campus["reader"])
    if failures:
        words = "only 1 failure on record in all" if failures == 1 else "only 2 failures on record in all"
        assert f"{words[0].upper()}{words[1:]}: risk taken as the same at every age" in pages["ageing"]
    else:
        assert "None can be told" in pages["ageing"]
    assert page(campus["reader"])
