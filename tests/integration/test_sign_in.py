"""Signing in and out in the middle of work: nothing typed is lost, nothing secret is kept, all processes count together."""

import re
from html import unescape
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from inventory.models import Failure, Node, SignInAttempt
from inventory.services.attempts import MOST_FAILURES, must_wait
from tests.site_campus import PASSWORD, person, whole_campus

pytestmark = pytest.mark.django_db

TYPED = {"date": "2026-11-02", "what_failed": 'slider "2" jumps\n<b>', "outcome": ""}


def field(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, f"no hidden field {name}"
    return unescape(found[1])


def areas(page: str) -> dict[str, str]:
    return {
        name: unescape(text).removeprefix("\n")
        for name, text in re.findall(r'<textarea name="([^"]*)"[^>]*>(.*?)</textarea>', page, re.DOTALL)
    }


def test_a_form_sent_after_the_sign_in_ended_is_kept_and_sent_again() -> None:
    whole_campus()
    node = Node.objects.filter(model__kind="station").earliest("key")
    address, client = reverse("report-failure", args=[node.pk]), Client()
    asked = client.post(address, TYPED)
    page = asked.content.decode()
    assert asked.status_code == 401
    assert "What you typed is kept" in page
    carried = {"next": field(page, "next"), "kept": field(page, "kept"), "username": "crew"}
    wrong = client.post(reverse("sign-in"), {**carried, "password": "wrong"}).content.decode()
    assert field(wrong, "kept") == carried["kept"], "an attempt that fails loses nothing"
    signed = client.post(reverse("sign-in"), {**carried, "password": PASSWORD}).content.decode()
    assert not Failure.objects.exists(), "nothing is stored before the person says so"
    assert areas(signed) == TYPED
    assert f'action="{address}"' in signed
    client.post(address, areas(signed))
    assert Failure.objects.get().what_failed == TYPED["what_failed"]


def sent(client: Client, address: str, typed: dict[str, str], **headers: str) -> str:
    """Send a form with a token that is no good, as a browser does."""
    answer = client.post(address, typed, headers={"Origin": "http://testserver", **headers})
    return answer.content.decode()


def test_a_form_whose_token_grew_old_by_a_sign_in_elsewhere_is_offered_again() -> None:
    """Origin is set by the browser and no page can set it (Fetch, WHATWG: forbidden request-headers)."""
    people = whole_campus()
    node = Node.objects.filter(model__kind="station").earliest("key")
    address, client = reverse("report-failure", args=[node.pk]), Client(enforce_csrf_checks=True)
    asked = sent(client, address, TYPED)
    assert "What you typed is kept" in asked
    carried = {"next": field(asked, "next"), "kept": field(asked, "kept"), "username": "crew", "password": PASSWORD}
    client.force_login(people["crew"])
    for page in (sent(client, address, TYPED), sent(client, reverse("sign-in"), carried)):
        assert "Nothing of this was stored yet" in page
        assert areas(page) == TYPED
        assert f'action="{address}"' in page
    assert not Failure.objects.exists()


@pytest.mark.parametrize(
    "headers", [{"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Sec-Fetch-Mode": "cors"}]
)
def test_what_another_site_sends_is_never_offered(headers: dict[str, str]) -> None:
    people = whole_campus()
    node = Node.objects.filter(model__kind="station").earliest("key")
    client = Client(enforce_csrf_checks=True)
    client.force_login(people["crew"])
    page = sent(client, reverse("report-failure", args=[node.pk]), TYPED, **headers)
    assert "did not accept this request" in page
    assert TYPED["date"] not in page


def test_passwords_and_tokens_are_never_kept() -> None:
    typed = {"password": "a", "old_password": "a", "new_password1": "d", "csrfmiddlewaretoken": "b", "old": "c"}
    page = Client().post("/password/", typed).content.decode()
    assert field(page, "kept") == '[["old", "c"]]'


def test_what_was_kept_is_never_sent_to_another_site() -> None:
    person("ada")
    kept = {"username": "ada", "password": PASSWORD, "kept": '[["a", "b"]]', "next": "https://other.example/"}
    answer = Client().post(reverse("sign-in"), kept)
    assert answer.status_code == 302
    assert answer.headers["Location"] == reverse("first")


@pytest.mark.parametrize("kept", ["", "{", "[1]", '[["a"]]', '{"a": "b"}', '[["a", 1]]', '[["password", "x"]]'])
def test_a_hostile_packet_of_typed_things_only_signs_in(kept: str) -> None:
    person("ada")
    answer = Client().post(reverse("sign-in"), {"username": "ada", "password": PASSWORD, "kept": kept, "next": "/"})
    assert answer.status_code == 302


def test_failures_are_counted_in_the_database_where_every_process_sees_them() -> None:
    person("ada")
    client = Client(REMOTE_ADDR="10.9.9.9")
    for _ in range(MOST_FAILURES):
        client.post(reverse("sign-in"), {"username": "ADA", "password": "wrong"})
    assert must_wait("ada", "10.9.9.9"), "capital letters do not help"
    assert not must_wait("ada", "10.9.9.8"), "someone elsewhere cannot lock her out"
    assert SignInAttempt.objects.filter(worked=False).count() == MOST_FAILURES


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, "10.1.1.1", "10.9.9.9"),  # without a proxy of its own the site believes nobody
        (1, "10.1.1.1", "10.1.1.1"),
        (1, "10.6.6.6, 10.1.1.1", "10.1.1.1"),  # what the sender wrote itself stands before what the proxy added
        (2, "10.6.6.6, 10.1.1.1, 10.2.2.2", "10.1.1.1"),
        (2, "10.1.1.1", "10.9.9.9"),  # not by way of both
        (1, "", "10.9.9.9"),
    ],
)
def test_behind_proxies_failures_are_counted_by_whom_they_serve(
    settings: Any, proxies: int, forwarded: str, address: str
) -> None:
    settings.PROXIES = proxies
    client = Client(REMOTE_ADDR="10.9.9.9", headers={"X-Forwarded-For": forwarded} if forwarded else {})
    for _ in range(MOST_FAILURES):
        client.post(reverse("sign-in"), {"username": "crew", "password": "wrong"})
    assert must_wait("crew", address)
    assert not must_wait("crew", "10.6.6.6")


def test_a_sign_in_that_works_ends_the_count() -> None:
    person("ada")
    client = Client()
    for password in ["wrong"] * (MOST_FAILURES - 1) + [PASSWORD, "wrong", "wrong"]:
        client.post(reverse("sign-in"), {"username": "ada", "password": password})
        client.post(reverse("sign-out"))
    assert not must_wait("ada", "127.0.0.1")


def test_no_attempt_stores_what_was_typed_as_a_name() -> None:
    Client().post(reverse("sign-in"), {"username": "my secret password", "password": ""})
    Client().post(reverse("sign-in"), {"username": "my secret password", "password": "x"})
    kept = SignInAttempt.objects.values_list("user", "key", "address")
    assert kept
    assert "secret" not in str(list(kept))


@pytest.mark.parametrize("new", ["short", "123456789012", "1qaz2wsx3edc", "facilities-x"])
def test_a_poor_new_password_is_refused_beside_its_field(new: str) -> None:
    client = Client()
    client.force_login(whole_campus()["facilities"])
    typed = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    answer = client.post(reverse("password"), typed)
    assert answer.status_code == 200
    assert 'class="errorlist" id="id_new_password2_error"' in answer.content.decode()
    assert User.objects.get(username="facilities").check_password(PASSWORD)


def test_a_good_new_password_takes_the_place_of_the_old() -> None:
    client = Client()
    client.force_login(whole_campus()["facilities"])
    new = "four plain words here"
    typed = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    assert client.post(reverse("password"), typed).status_code == 302
    assert client.get(reverse("campus")).status_code == 200, "the person stays signed in"
    assert User.objects.get(username="facilities").check_password(new)


def test_a_sign_in_ends_within_a_day_and_clearing_old_ones_works() -> None:
    assert settings.SESSION_COOKIE_AGE <= 24 * 3600
    call_command("clearsessions")
