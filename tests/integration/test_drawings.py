"""Every drawing of the site is made by the server, says in words what it shows, and has a table of the same figures by it."""

import re
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from planner.models import Order, Plan
from planner.services.ageing import reckon_risks
from tests.site_campus import wear, whole_campus

pytestmark = pytest.mark.django_db

DRAWN = re.compile(r'<svg [^>]*class="drawing[^>]*role="(?:img|group)"[^>]* aria-label="([^"]+)"')
HEADED = re.compile(r"<thead>(.*?)</thead>", re.DOTALL)
# page -> how each of its drawings begins in words, and headings of the table behind it
BEHIND = {
    "campus": {
        "Stations by age": ("Age", "Stations"),
        "Converted against plan": ("To the end of", "Dated", "Converted"),
    },
    "plan": {"": ("Night of", "Crew", "Order")},
    "segment": {"": ("Node", "What", "Reached by")},
    "ageing": {
        "Risk": ("Building", "Floor", "Weighted days"),
        "Life of WS-10": ("Age", "Seen to outlive it", "95 % band", "Fitted"),
    },
    "plan-spares": {"Spares of WS-10": ("Month", "On the wall", "On the shelf", "Odds to have run out")},
    "plan-how-sure": {"": ("Phase", "Half of the courses by", "Four in five by")},
}


@pytest.fixture
def reader() -> Client:
    client = Client()
    client.force_login(whole_campus()["reader"])
    return client


def address(name: str) -> str:
    plan = [Plan.objects.earliest("pk").pk]
    rest = {"campus": [], "plan": plan, "segment": ["B1-L2"], "ageing": [], "plan-spares": plan, "plan-how-sure": plan}
    return reverse(name, args=rest[name])


@pytest.mark.parametrize("name", BEHIND)
def test_behind_each_drawing_stands_a_table_with_its_figures(reader: Client, name: str) -> None:
    wear()
    reckon_risks()
    page = reader.get(address(name)).content.decode()
    spoken, heads = DRAWN.findall(page), HEADED.findall(page)
    assert spoken
    for begins, columns in BEHIND[name].items():
        assert any(said.startswith(begins) for said in spoken), begins
        assert any(all(f">{column}" in head for column in columns) for head in heads), (begins, columns)
    assert "<img" not in page
    assert "<canvas" not in page


def test_the_ages_drawn_are_the_ages_in_the_table(reader: Client) -> None:
    page = reader.get(reverse("campus")).content.decode()
    drawn = re.findall(r'aria-label="Age ([^"]*): (\d+) stations"', page)
    table = page[page.index('<th scope="col">Age</th>') :]
    rows = re.findall(r'<tr><th scope="row">([^<]*)</th><td class="n"><a href="[^"]*">(\d+)</a>', table)[: len(drawn)]
    assert [(label.replace("\n", " "), count) for label, count in rows] == drawn


def test_the_months_of_the_table_end_with_what_is_drawn(reader: Client) -> None:
    Order.objects.filter(key="B2-O1").update(night=date(2027, 6, 1))
    page = reader.get(reverse("campus")).content.decode()
    said = re.search(r"Converted against plan: (\d+) of (\d+) stations", page)
    assert said
    plain = re.sub(r"</?a\b[^>]*>", "", page)
    rows = re.findall(
        r'<tr><th scope="row">(\w{3} \d{4})</th><td class="n">(\d+)</td><td class="n">(\d+)</td></tr>', plain
    )
    assert rows[-1] == ("Jun 2027", said[2], said[1])
