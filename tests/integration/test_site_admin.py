"""Django's own administration of the inventory."""

import pytest
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from inventory.models import Building, Node
from tests.site_campus import whole_campus

pytestmark = pytest.mark.django_db


def test_only_those_who_look_after_the_site_get_in() -> None:
    people = whole_campus()
    for name, status in [("facilities", 302), ("super", 200)]:
        client = Client()
        client.force_login(people[name])
        assert client.get(reverse("admin:index")).status_code == status


def test_every_table_can_be_listed_and_a_change_keeps_who_made_it() -> None:
    people = whole_campus()
    client = Client()
    client.force_login(people["super"])
    for model in admin.site._registry:
        names = model._meta
        assert client.get(reverse(f"admin:{names.app_label}_{names.model_name}_changelist")).status_code == 200, (
            names.model_name
        )
    building = Building.objects.earliest("pk")
    client.post(
        reverse("admin:inventory_building_change", args=[building.pk]), {"key": building.key, "name": "New name"}
    )
    newest = building.history.latest()
    assert (newest.name, newest.history_user) == ("New name", people["super"])
    assert client.get(reverse("admin:inventory_node_change", args=[Node.objects.earliest("pk").pk])).status_code == 200
