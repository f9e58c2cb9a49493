"""Sign-ins of the demo: one for each role, with a new password each time the demo is made."""

import secrets
from dataclasses import dataclass

from django.contrib.auth.models import Group, User
from django.db import transaction

from inventory.core.roles import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """A user name with its password, to be shown once."""

    name: str
    password: str
    role: str


@transaction.atomic
def make_sign_ins() -> tuple[SignIn, ...]:
    """Make (or give a new password to) one user a role, named like the role."""
    return tuple(_sign_in(role) for role in Role)


@transaction.atomic
def person_of(role: Role) -> User:
    """Return the user who is named like a role and has it, made if need be; a new one has no password yet."""
    user, _ = User.objects.get_or_create(username=role.value)
    user.groups.set([Group.objects.get_or_create(name=role.value)[0]])
    return user


def _sign_in(role: Role) -> SignIn:
    user = person_of(role)
    password = secrets.token_urlsafe(9)
    user.set_password(password)
    user.save()
    return SignIn(name=role.value, password=password, role=role.value)
