"""Addresses of the pages that need verdicts or plans too. Keep one block a place, in the order of the top line."""

from django.urls import URLPattern, path

from planner.views import campus, search, words

urlpatterns: list[URLPattern] = [
    path("", campus.campus, name="campus"),
    path("search/", search.search, name="search"),
    path("words/", words.words, name="words"),
]
