"""Who did what, when, in words with names."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User

from inventory.services.attempts import locking
from planner.store.acts import SIGN_INS, Act, Asked, Place, acts

LOT = 2000
NOBODY = "nobody known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One act as people read it. `lead` is where it is shown: the name of an address and its argument, if any."""

    at: datetime
    who: str | None
    kind: str
    what: str
    lead: tuple[str, object] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Some acts, newest first, and the place from which older ones go on; None where there are none."""

    acts: tuple[Told, ...]
    older: Place | None


def told(asked: Asked, before: Place | None, most: int) -> Span:
    """Return the newest `most` acts that answer, older than `before`."""
    found = acts(asked, before, most + 1)
    shown = found[:most]
    return Span(acts=_in_words(shown), older=shown[-1].place if len(found) > most else None)


def all_told(asked: Asked, most: int) -> Iterator[Told]:
    """Yield the newest `most` acts that answer."""
    before, left = None, most
    while left > 0:
        span = told(asked, before, min(LOT, left))
        yield from span.acts
        before, left = span.older, left - len(span.acts)
        if before is None:
            return


def _in_words(found: list[Act]) -> tuple[Told, ...]:
    people = User.objects.in_bulk({act.who for act in found if act.who is not None})
    names = {pk: user.get_full_name() or user.get_username() for pk, user in people.items()}
    locks = locking([act.place.pk for act in found if act.kind == SIGN_INS])
    return tuple(
        Told(at=act.place.at, who=names.get(act.who or 0), kind=act.kind, what=_what(act, locks), lead=act.lead)
        for act in found
    )


def _what(act: Act, locks: frozenset[int]) -> str:
    locked = act.kind == SIGN_INS and act.place.pk in locks
    return f"{act.what}, and has to wait before the next attempt" if locked else act.what
