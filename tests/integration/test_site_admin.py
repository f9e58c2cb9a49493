"""Django's own administration of the inventory."""

import pytest
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from inventory.models import Building, Node
from tests.site_campus import PASSWORD, whole_campus

pytestmark = pytest.mark.django_db


def test_only_those_who_look_after_the_site_get_in() -> None:
    people = whole_campus()
    for name, status in [("facilities", 302), ("super", 200)]:
        client = Client()
        client.force_login(people[name])
        assert client.get(reverse("admin:index")).status_code == status


def test_there_is_no_second_sign_in_that_counts_no_failures() -> None:
    people = whole_campus()
    people["super"].set_password(PASSWORD)
    people["super"].save()
    at, client = reverse("admin:login"), Client()
    typed = {"username": "super", "password": PASSWORD, "next": reverse("admin:index")}
    assert client.post(at, typed).status_code == 401, "who is not signed in is asked to, by the site"
    assert client.get(at).headers["Location"].startswith(reverse("sign-in"))
    assert "_auth_user_id" not in client.session
    for name, status in [("facilities", 403), ("super", 302)]:
        client.force_login(people[name])
        assert client.get(at).status_code == status


def test_every_table_can_be_looked_at_and_nothing_changes_past_the_verdicts() -> None:
    people = whole_campus()
    client = Client()
    client.force_login(people["super"])
    for model in admin.site._registry:
        names = model._meta
        assert client.get(reverse(f"admin:{names.app_label}_{names.model_name}_changelist")).status_code == 200, (
            names.model_name
        )
    building = Building.objects.earliest("pk")
    building.name = "Once"
    building.save()
    building.name = "Now"
    building.save()
    once = building.history.filter(name="Once").get()
    pages = {
        "change": [building.pk], "delete": [building.pk], "add": [], "simple_history": [building.pk, once.pk],
    }  # fmt: skip
    for name, args in pages.items():
        at = reverse(f"admin:inventory_building_{name}", args=args)
        assert client.post(at, {"key": building.key, "name": "New name", "post": "yes"}).status_code == 403, name
    building.refresh_from_db()
    assert building.name == "Now"


def test_a_record_leads_to_the_page_where_it_is_changed() -> None:
    people = whole_campus()
    client = Client()
    client.force_login(people["super"])
    node = Node.objects.earliest("pk")
    page = client.get(reverse("admin:inventory_node_change", args=[node.pk])).content.decode()
    assert reverse("nodes-record", args=[node.pk]) in page
    assert 'name="_save"' not in page
    version = node.history.latest()
    assert client.get(reverse("admin:inventory_node_simple_history", args=[node.pk, version.pk])).status_code == 200
