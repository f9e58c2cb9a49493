"""Sign-ins of the demo: one for each role and crew, with a new password each time the demo is made."""

import secrets
from dataclasses import dataclass

from django.contrib.auth.models import Group, User
from django.db import transaction

from inventory.core.roles import Role
from planner.services.crews import crew_people, crews_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """A user name with its password, to be shown once."""

    name: str
    password: str
    role: str
    crews: tuple[str, ...] = ()


@transaction.atomic
def make_sign_ins() -> tuple[SignIn, ...]:
    """Make (or give a new password to) one user a role, named like the role, and one for each crew that has another."""
    people = [(person_of(role), role) for role in Role]
    others = [(member, Role.CREW) for member, crews in crew_people() if crews and member.username != Role.CREW.value]
    return tuple(_sign_in(person, role) for person, role in (*people, *others))


@transaction.atomic
def person_of(role: Role, name: str = "") -> User:
    """Return the user of this name (that of the role by default) who has the role, made if need be, without a password then."""
    user, _ = User.objects.get_or_create(username=name or role.value)
    user.groups.set([Group.objects.get_or_create(name=role.value)[0]])
    return user


def _sign_in(user: User, role: Role) -> SignIn:
    password = secrets.token_urlsafe(9)
    user.set_password(password)
    user.save()
    return SignIn(name=user.username, password=password, role=role.value, crews=crews_of(user))
