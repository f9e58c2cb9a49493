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
from django.views.csrf import csrf_failure

from inventory.forms import SignInForm
from inventory.services.editing import OPENED

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
        return _sign_in_page(request, kept, request.get_full_path())


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


def not_accepted(request: HttpRequest, reason: str = "") -> HttpResponseBase:
    """Answer to a form without a good token; one of the site's own is kept, since signing in elsewhere made its token old."""
    if not _is_own(request):
        return csrf_failure(request, reason)
    at_sign_in = request.path == reverse("sign-in")
    typed = _kept(request.POST.get("kept", "")) if at_sign_in else typed_in(request)
    target = request.POST.get(LoginView.redirect_field_name, "") if at_sign_in else request.get_full_path()
    if not request.user.is_authenticated and (typed or request.FILES or at_sign_in):
        return _sign_in_page(request, typed, target)
    if typed and url_has_allowed_host_and_scheme(target, allowed_hosts={request.get_host()}):
        return _go_on(request, typed, target)
    return csrf_failure(request, reason)


def _is_own(request: HttpRequest) -> bool:
    """Tell whether a person sent a form of this site: browsers say from where, and no other site can say it for them."""
    own = f"{request.scheme}://{request.get_host()}"
    return request.headers.get("Origin") == own and request.headers.get("Sec-Fetch-Mode", "navigate") == "navigate"


def _sign_in_page(request: HttpRequest, typed: Typed, target: str) -> HttpResponse:
    context = {
        "form": SignInForm(request),
        "next": target,
        "kept": json.dumps(typed) if typed else "",
        "files_lost": bool(request.FILES),
        "old": not typed,
        "sign_in": reverse("sign-in"),
    }
    return render(request, "registration/login.html", context, status=401)


def _go_on(request: HttpRequest, typed: Typed, target: str) -> HttpResponse:
    """Offer what was typed, to be sent again."""
    shown = [(name.replace("_", " "), value) for name, value in typed if value and not name.startswith(OPENED)]
    return render(request, "registration/go_on.html", {"kept": typed, "shown": shown, "target": target})


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
        return _go_on(self.request, kept, target)
