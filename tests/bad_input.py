"""What nobody should type and somebody will: values for every field, and what a page must do about them."""

import inspect
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from typing import Any
from urllib.parse import quote_from_bytes

from django import forms
from django.apps import apps
from django.db import connection, models, transaction
from django.db.models.functions import Cast
from django.forms.formsets import BaseFormSet
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from inventory.models import SignInAttempt

SCRIPT = "<script>alert(1)</script>"
MEGABYTE = 1_000_000
VALUES: dict[str, str] = {
    "empty": "",
    "huge": "x" * MEGABYTE,
    "script": f'{SCRIPT}" onfocus="alert(1)',
    "sql": "' OR 1=1; DROP TABLE inventory_node; --",
    "null byte": "a\0b",
    "turned round": "\u202egpj.exe",  # right-to-left override
    "half a character": "a\ud800b",  # a lone surrogate
    "formula": '=HYPERLINK("http://elsewhere.invalid","look")',
    "below nothing": "-1",
    "beyond all numbers": "1e309",
    "no number": "NaN",
    "many digits": "9" * 40,
    "endless digits": "9" * 5000,  # more than Python itself turns into a number
    "no day": "2026-13-45",
    "other digits": "\N{SUPERSCRIPT TWO}\N{ARABIC-INDIC DIGIT THREE}",
}
IN_THE_DATABASE = (
    "huge",
    "sql",
    "null byte",
    "half a character",
    "below nothing",
    "many digits",
    "endless digits",
    "other digits",
)
if connection.vendor != "sqlite":  # what forms refuse by themselves they refuse alike, whatever database there is
    VALUES = {kind: VALUES[kind] for kind in IN_THE_DATABASE}
FEW = ("huge", "script", "null byte", "beyond all numbers", "endless digits")  # where forms are alike
GOOD_ANSWERS = {200, 302, 400, 401, 403, 404, 405, 409, 413, 422}
REDIRECT = 302
WORDED = (models.CharField, models.TextField, models.JSONField)


def patterns(resolver: Any = None) -> Iterator[URLPattern]:
    """Yield every address of the site but those of Django's own administration."""
    for entry in (resolver or get_resolver()).url_patterns:
        if not isinstance(entry, URLResolver):
            yield entry
        elif entry.app_name != "admin":
            yield from patterns(entry)


def takes_a_form(pattern: URLPattern) -> bool:
    """Tell whether a view, or a function of its module that it calls, speaks of POST."""
    view: Any = pattern.callback
    while view is not None:
        if hasattr(view, "view_class"):
            return hasattr(view.view_class, "post")
        inner, view = view, getattr(view, "__wrapped__", None)
    return _speaks_of_post(inner)


def _speaks_of_post(view: Any) -> bool:
    module, seen, left = sys.modules[view.__module__], set(), [view]
    while left:
        one = left.pop()
        if one in seen:
            continue
        seen.add(one)
        source = inspect.getsource(one)
        if re.search(r"POST|require_http_methods", source):
            return True
        called = (getattr(module, name, None) for name in set(re.findall(r"\b(\w+)\(", source)))
        left += [found for found in called if inspect.isfunction(found) and found.__module__ == view.__module__]
    return False


def stored() -> dict[str, int]:
    """Return how many rows every table of ours has, histories included."""
    tables = {model.__name__: model._meta.db_table for model in _models() if model is not SignInAttempt}
    counts = (f"SELECT '{name}', COUNT(*) FROM {table}" for name, table in tables.items())  # noqa: S608 - our own names
    with connection.cursor() as cursor:
        return dict(cursor.execute(" UNION ALL ".join(counts)).fetchall())  # all at once: this is asked after every try


def _models() -> Iterator[type[models.Model]]:
    return (model for name in ("inventory", "planner") for model in apps.get_app_config(name).get_models())


def holding(text: str) -> list[str]:
    """Return every column of ours that holds this text somewhere."""
    columns = [(model, one) for model in _models() for one in model._meta.concrete_fields if isinstance(one, WORDED)]
    return [
        f"{model.__name__}.{one.name}"
        for model, one in columns
        if model._default_manager.annotate(in_words=Cast(one.name, models.TextField()))
        .filter(in_words__contains=text)
        .exists()
    ]


@contextmanager
def put_back() -> Iterator[None]:
    """Leave the database as it was, whatever is done meanwhile."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def send(client: Client, address: str, typed: dict[str, Any]) -> Any:
    """Send a form as a browser does, byte for byte; what no text may hold goes out as it is."""
    pairs = [(name, one) for name, value in typed.items() for one in (value if isinstance(value, list) else [value])]
    body = "&".join(f"{quoted(name)}={quoted(value)}" for name, value in pairs)
    return client.post(address, body, content_type="application/x-www-form-urlencoded")


def quoted(text: str) -> str:
    return quote_from_bytes(text.encode("utf-8", "surrogatepass"))


def wrong_with(answer: Any) -> list[str]:
    """Return what is wrong with how a page answered: its status, raw markup of others, or errors that stand nowhere."""
    said = [] if answer.status_code in GOOD_ANSWERS else [f"status {answer.status_code}"]
    if not answer.headers.get("Content-Type", "").startswith("text/html"):
        return said
    page = answer.content.decode()
    said += ["what was typed runs as a script"] if SCRIPT in page or 'onfocus="alert' in page else []
    if answer.status_code == 400:  # noqa: PLR2004
        said += ["refused without a word"] if not re.search(r"errorlist|note error|role=.alert", page) else []
        said += list(_misplaced(answer, page))
    return said


def _misplaced(answer: Any, page: str) -> Iterator[str]:
    """Yield the errors of fields that do not stand behind their field and before the next."""
    for form in _forms(answer.context):
        for name, errors in form.errors.items():
            bound = form[name] if name in form.fields else None
            for error in errors:
                words = escape(str(error)).replace("&#x27;", "&#x27;")
                if words not in page:
                    yield f"{name}: {error!s:.80} is not said"
                elif bound is not None and not bound.is_hidden and not _beside(page, bound.html_name, words):
                    yield f"{name}: {error!s:.80} does not stand beside its field"


def _forms(context: Any) -> Iterator[forms.BaseForm]:
    seen: set[int] = set()
    for layer in context or ():
        for value in (layer.values() if hasattr(layer, "values") else ()) if isinstance(layer, dict) else _flat(layer):
            for one in _single(value):
                if id(one) not in seen:
                    seen.add(id(one))
                    yield one


def _flat(layer: Any) -> list[Any]:
    return [value for part in getattr(layer, "dicts", ()) for value in part.values()]


def _single(value: Any) -> Iterator[forms.BaseForm]:
    if isinstance(value, forms.BaseForm) and value.is_bound and value.errors:
        yield value
    elif isinstance(value, BaseFormSet) and value.is_bound:
        for one in value.forms:
            yield from _single(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _single(one)


def _beside(page: str, name: str, words: str) -> bool:
    """Tell whether some place of the words has this field as the last before it."""
    fields = [
        (found.start(), found[1]) for found in re.finditer(r'<(?:input|select|textarea)\b[^>]*\bname="([^"]+)"', page)
    ]
    fields = [(at, field) for at, field in fields if f'type="hidden" name="{field}"' not in page]
    for found in re.finditer(re.escape(words), page):
        before = [field for at, field in fields if at < found.start()]
        if before and before[-1] == escape(name):
            return True
    return False
