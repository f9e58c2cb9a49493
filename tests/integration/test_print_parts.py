"""Many work packs as one print: in parts of under 100 kB, each order in one of them, none asked for twice."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from planner.models import Order
from planner.services.work import pack_of
from tests.work import Site

pytestmark = pytest.mark.django_db

COPIES, MOST_BYTES = 40, 100_000


def test_a_print_of_many_packs_comes_in_parts_that_hold_each_order_once() -> None:
    site = Site()
    row = Order.objects.get(pk=site.order.pk)
    assert row.start is not None
    assert row.end is not None
    for number in range(COPIES):
        row.pk, row.key = None, f"B1-O9{number:02}"
        row.start, row.end = row.start + timedelta(days=1), row.end + timedelta(days=1)
        row.save()
    client = Client()
    client.force_login(site.people["planning"])
    address = reverse("plan-packs", args=[row.plan_id])
    first = client.get(address, {"phase": row.phase})
    links = re.findall(r'<a href="\?(\S+?)"( aria-current="page")?>(orders? [^<]+)</a>', first.content.decode())
    assert links[0][1:] == (' aria-current="page"', links[0][2])
    assert len(links) > 1
    shown: list[str] = []
    for query, _, words in links:
        page = client.get(f"{address}?{query.replace('&amp;', '&')}")
        keys = re.findall(r"<h2 id=\"pack-\d+\">Order (\S+),", page.content.decode())
        begin = len(shown) + 1
        assert words == (f"orders {begin} to {begin + len(keys) - 1}" if len(keys) > 1 else f"order {begin}")
        assert len(page.content) < MOST_BYTES
        shown += keys
    dated = Order.objects.filter(plan=row.plan_id, phase=row.phase, start__isnull=False).exclude(state="accepted")
    assert shown == list(dated.order_by("start", "key").values_list("key", flat=True))
    assert pack_of(row).steps
    for wrong in ("0", "-1", "999", "x"):
        assert client.get(address, {"phase": row.phase, "part": wrong}).status_code == 200
