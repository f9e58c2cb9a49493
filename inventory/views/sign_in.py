"""Signing in, and going on with what was typed before the session had ended."""

import json
from typing import Any

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from inventory.forms import SignInForm

MOST_KEPT = 500_000  # characters
TOKEN, SECRET = "csrfmiddlewaretoken", "password"  # a field whose name holds the second holds a password

Typed = list[tuple[str, str]]


class SignInFirst(LoginRequiredMiddleware):
    """Ask for a sign-in before every page; a form that was sent too late is kept and offered again afterwards."""

    def handle_no_permission(self, request: HttpRequest, view_func: Any) -> HttpResponseBase:  # type: ignore[override]
        """Answer with the sign-in; with what was typed, if this was a form."""
        kept = typed_in(request) if request.method == "POST" else []
        if not kept and not request.FILES:
            return super().handle_no_permission(request, view_func)
        context = {
            "form": SignInForm(request),
            "next": request.get_full_path(),
            "kept": json.dumps(kept) if kept else "",
            "files_lost": bool(request.FILES),
            "sign_in": reverse("sign-in"),
        }
        return render(request, "registration/login.html", context, status=401)


def _may_be_kept(name: str) -> bool:
    return name != TOKEN and SECRET not in name


def typed_in(request: HttpRequest) -> Typed:
    """Return the fields of a form, in order, but for what must not be kept; nothing of one beyond all measure."""
    pairs = [(name, str(value)) for name, values in request.POST.lists() for value in values if _may_be_kept(name)]
    return pairs if sum(len(value) for _, value in pairs) <= MOST_KEPT else []


def _kept(text: str) -> Typed:
    """Return the fields that a sign-in form carried along; nothing of what is not in order."""
    try:
        pairs = json.loads(text)
    except ValueError:
        return []
    in_order = isinstance(pairs, list) and all(
        isinstance(pair, list) and len(pair) == 2 and all(isinstance(part, str) for part in pair)  # noqa: PLR2004
        for pair in pairs
    )
    return [(name, value) for name, value in pairs if _may_be_kept(name)] if in_order else []


class SignIn(LoginView):
    """The sign-in page; whoever was in the middle of a form goes on with it."""

    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Carry along what was typed through attempts that fail."""
        return {"kept": self.request.POST.get("kept", ""), **super().get_context_data(**kwargs)}

    def form_valid(self, form: Any) -> HttpResponse:
        """Sign in and go on."""
        answer = super().form_valid(form)
        kept = _kept(self.request.POST.get("kept", ""))
        target = self.request.POST.get(self.redirect_field_name, "")
        if not kept or not url_has_allowed_host_and_scheme(target, allowed_hosts={self.request.get_host()}):
            return answer
        shown = [(name.replace("_", " "), value) for name, value in kept if value]
        return render(self.request, "registration/go_on.html", {"kept": kept, "shown": shown, "target": target})
