"""Who gets in where: every address, every role."""

import re
from html.parser import HTMLParser
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.models import Group
from django.template.loader import render_to_string
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from inventory.core.roles import CAN, Capability, Role
from inventory.models import Node
from inventory.services.attempts import MOST_FAILURES
from tests.html_rules import wrong_in
from tests.site_campus import PASSWORD, person, someone, whole_campus

pytestmark = [pytest.mark.django_db, pytest.mark.on_any_database]

OPEN = {"sign-in", "sign-out", "feed"}  # the only addresses for those who are not signed in; a feed has its own secret
DENIED = {Role.READER: {"report-failure"}, Role.PURCHASING: {"report-failure"}}


def patterns(resolver: Any) -> list[URLPattern]:
    """Return every address of the site but those of Django's own administration."""
    found: list[URLPattern] = []
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            found += [] if entry.app_name == "admin" else patterns(entry)
        else:
            found.append(entry)
    return found


HEAVIEST = 100_000  # bytes of a page without its photographs
SAMPLES = {
    "int": 1,
    "str": "B1-L0",
    "path": "B1-L0",
    "key": "B1-L0",
    "slug": "b1",
    "uuid": "00000000-0000-0000-0000-000000000000",
}
PATTERNS = patterns(get_resolver())
NAMES = [pattern.name for pattern in PATTERNS]


def address(pattern: URLPattern) -> str:
    """Return an address of this pattern; where it names a row, that row may be missing."""
    kinds = re.findall(r"<(\w+):(\w+)>", str(pattern.pattern))
    return reverse(pattern.name, kwargs={name: SAMPLES[kind] for kind, name in kinds})


def test_every_address_has_a_name_of_its_own() -> None:
    assert len(set(NAMES)) == len(NAMES)


def test_every_address_but_sign_in_says_what_it_takes() -> None:
    silent = [pattern.name for pattern in PATTERNS if not hasattr(pattern.callback, "capability")]
    assert set(silent) == OPEN


@pytest.mark.parametrize("pattern", PATTERNS, ids=NAMES)
def test_nobody_sees_anything_before_signing_in(pattern: URLPattern) -> None:
    if pattern.name in OPEN:
        return
    answer = Client().get(address(pattern))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("sign-in"))


@pytest.mark.parametrize("role", [*Role, None])
def test_every_address_lets_in_those_that_the_table_of_roles_names(role: Role | None) -> None:
    client = someone(role)
    for pattern in PATTERNS:
        if pattern.name in OPEN:
            continue
        capability: Capability = pattern.callback.capability  # type: ignore[attr-defined]
        status = client.get(address(pattern)).status_code
        if role in CAN[capability]:
            assert status in {200, 302, 404, 405}, pattern.name
        else:
            assert status == 403, pattern.name


def test_the_whole_campus_answers_for_every_role() -> None:
    people = whole_campus()
    pages = ["campus", "stations", "materials", "search", "words", "sources", "workbook"]
    for role in Role:
        client = Client()
        client.force_login(people[role.value])
        assert {client.get(reverse(page)).status_code for page in pages} == {200}


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("facilities", 302),
        ("planning", 302),
        ("crew", 302),
        ("purchasing", 403),
        ("reader", 403),
        ("nobody", 403),
        ("super", 302),
    ],
)
def test_failures_are_reported_by_those_who_meet_them(role: str, status: int) -> None:
    people = whole_campus()
    client = Client()
    client.force_login(people[role])
    node = Node.objects.filter(model__kind="station").earliest("key")
    answer = client.post(
        reverse("report-failure", args=[node.pk]), {"date": "2026-11-02", "what_failed": "slider 2 jumps"}
    )
    assert answer.status_code == status
    assert node.failures.count() == (1 if status == 302 else 0)


def test_a_refusal_says_who_can() -> None:
    node_page = reverse("report-failure", args=[1])
    answer = someone(Role.READER).post(node_page)
    text = answer.content.decode()
    assert answer.status_code == 403
    assert "facilities, planning, crew" in text
    assert "Yours: reader" in text


def test_repeated_failures_must_wait_and_other_names_need_not() -> None:
    person("ada")
    person("ben")
    client = Client(REMOTE_ADDR="10.1.2.3")
    for _ in range(MOST_FAILURES):
        client.post(reverse("sign-in"), {"username": "ada", "password": "wrong"})
    refused = client.post(reverse("sign-in"), {"username": "ada", "password": PASSWORD})
    assert "Too many failed attempts" in refused.content.decode()
    assert client.post(reverse("sign-in"), {"username": "ben", "password": PASSWORD}).status_code == 302


def test_one_failure_short_of_the_limit_may_still_sign_in() -> None:
    person("eve")
    client = Client(REMOTE_ADDR="10.1.2.4")
    for _ in range(MOST_FAILURES - 1):
        client.post(reverse("sign-in"), {"username": "eve", "password": "wrong"})
    assert client.post(reverse("sign-in"), {"username": "eve", "password": PASSWORD}).status_code == 302


def test_a_link_on_another_site_cannot_sign_anyone_out() -> None:
    assert someone(Role.READER).get(reverse("sign-out")).status_code == 405


def test_roles_are_there_after_every_migration() -> None:
    assert set(Group.objects.values_list("name", flat=True)) >= {role.value for role in Role}


class Inline(HTMLParser):
    """Collects what a strict content security policy would block."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = dict(attrs)
        if "id" in names:
            self.ids.append(names["id"] or "")
        self.found += [f"{tag} {name}" for name in names if name == "style" or name.startswith("on")]
        self.found += [f"{tag} {names[name]}" for name in ("src", "href", "action") if _leaves(names.get(name))]
        if tag == "style" or (tag == "script" and "src" not in names):
            self.found.append(tag)


def _leaves(link: str | None) -> bool:
    return bool(link) and bool(re.match(r"(?i)(?:[a-z]+:|//)", link or ""))


def test_pages_are_valid_hold_nothing_inline_nothing_foreign_and_no_name_twice() -> None:
    people = whole_campus()
    client = Client()
    client.force_login(people["super"])
    for pattern in PATTERNS:
        if pattern.name in OPEN:
            continue
        answer = client.get(address(pattern))
        if not answer.content or not answer.headers["Content-Type"].startswith("text/html"):
            continue
        page = Inline()
        page.feed(answer.content.decode())
        assert wrong_in(answer.content.decode()) == [], pattern.name
        assert len(answer.content) < HEAVIEST, pattern.name
        drawn = re.findall(r'<svg [^>]*class="drawing[^>]*>', answer.content.decode())
        assert all('aria-hidden="true"' in one or 'aria-label="' in one for one in drawn), pattern.name
        assert page.found == [], pattern.name
        assert len(page.ids) == len(set(page.ids)), pattern.name
        assert len(answer.content) < 100_000, pattern.name
        assert "script-src 'self'" in answer.headers["Content-Security-Policy"]
        assert "unsafe" not in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("path", "host", "status"),
    [
        ("/stations", "testserver", 301),
        ("/", "testserver", 302),
        ("/sign-in/", "elsewhere.invalid", 400),
        ("/static/site/sheet.css", "testserver", 200),
    ],
)
def test_the_policy_stands_on_answers_that_no_page_gives_too(path: str, host: str, status: int) -> None:
    answer = Client().get(path, headers={"host": host})
    answer.close()  # a style sheet is a file that is still open
    assert answer.status_code == status
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


def test_every_request_that_is_not_open_goes_through_sign_in() -> None:
    assert "inventory.views.sign_in.SignInFirst" in settings.MIDDLEWARE


def test_a_form_without_its_token_is_refused_in_words() -> None:
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post(reverse("sign-in"), {"username": "ada", "password": "x"})
    assert answer.status_code == 403
    assert "load the page again" in answer.content.decode()


def test_the_page_for_an_error_of_the_site_needs_nothing_to_be_shown() -> None:
    assert "Something broke" in render_to_string("500.html")


def test_pages_that_stand_outside_are_valid_too() -> None:
    whole_campus()
    reader = someone(Role.READER)
    pages = [
        Client().get(reverse("sign-in")),
        Client().post(reverse("sign-in"), {"username": "ada", "password": "x"}),
        reader.get("/no/such/page/"),
        reader.get(reverse("intake")),
        Client(enforce_csrf_checks=True).post(reverse("sign-in"), {"username": "ada", "password": "x"}),
        Client().post(reverse("intake-calendars"), {"what": "was typed"}),
    ]
    assert {page.status_code: wrong_in(page.content.decode()) for page in pages} == {
        code: [] for code in (200, 404, 403, 401)
    }
    assert wrong_in(render_to_string("500.html")) == []
