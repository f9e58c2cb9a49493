"""The guard before every page: it asks the table of roles, and a refusal says who can."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.contrib.auth.models import AbstractBaseUser, AnonymousUser, User
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

from inventory.core.roles import Capability, Role, allowed, any_order, who_can

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]


def roles_of(user: AbstractBaseUser | AnonymousUser) -> tuple[Role, ...]:
    """Return the roles of a person, read once a request; groups that are no role count for nothing."""
    if not isinstance(user, User):
        return ()
    if not hasattr(user, "roles_read"):
        names = set(user.groups.values_list("name", flat=True))
        user.roles_read = tuple(role for role in Role if role in names)  # type: ignore[attr-defined]
    roles: tuple[Role, ...] = user.roles_read  # type: ignore[attr-defined]
    return roles


def person(request: HttpRequest) -> User | None:
    """Return who asks, or None for somebody not signed in."""
    return request.user if isinstance(request.user, User) else None


def may(request: HttpRequest, capability: Capability) -> bool:
    """Tell whether the person who asks may do it; a superuser may do all."""
    user = request.user
    return bool(getattr(user, "is_superuser", False)) or allowed(roles_of(user), capability)


def may_any_order(request: HttpRequest, capability: Capability) -> bool:
    """Tell whether the person who asks may do it to every order; others at most to those of their own crews."""
    user = request.user
    return bool(getattr(user, "is_superuser", False)) or any_order(roles_of(user), capability)


def refuse(request: HttpRequest, capability: Capability) -> HttpResponse:
    """Answer 403, with words about who can."""
    context = {"capability": capability.value, "who": who_can(capability), "yours": roles_of(request.user)}
    return render(request, "refused.html", context, status=403)


def requires(capability: Capability) -> Callable[[View[P]], View[P]]:
    """Let only those in who may do it; the capability stays readable on the view."""

    def guard(view: View[P]) -> View[P]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not may(request, capability):
                return refuse(request, capability)
            return view(request, *args, **kwargs)

        guarded.capability = capability  # type: ignore[attr-defined]
        return guarded

    return guard
