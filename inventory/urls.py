"""Addresses of the pages that need the inventory only."""

from django.urls import URLPattern, path

from inventory.views import reference

urlpatterns: list[URLPattern] = [
    path("sources/", reference.sources, name="sources"),
]
