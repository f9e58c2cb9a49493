"""How often a sign-in may fail before it has to wait; counted in the database, so that all processes count together."""

from collections.abc import Collection
from datetime import datetime, timedelta
from hashlib import sha256

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from inventory.models import SignInAttempt

MOST_FAILURES = 8
WAIT_S = 15 * 60
KEPT_DAYS = 365


def _key(name: str, address: str) -> str:
    return sha256(f"{name.casefold()}\n{address}".encode()).hexdigest()


def must_wait(name: str, address: str) -> bool:
    """Tell whether this name failed too often from this address since it last worked."""
    recent = SignInAttempt.objects.filter(key=_key(name, address), at__gt=timezone.now() - timedelta(seconds=WAIT_S))
    failures = 0
    for worked in recent.values_list("worked", flat=True)[:MOST_FAILURES]:
        if worked:
            return False
        failures += 1
    return failures >= MOST_FAILURES


def locking(attempts: Collection[int]) -> frozenset[int]:
    """Return those of these attempts, by id, with which a name began to have to wait."""
    failed = list(SignInAttempt.objects.filter(pk__in=attempts, worked=False).values_list("pk", "key", "at"))
    if not failed:
        return frozenset()
    first, last = min(at for _, _, at in failed), max(at for _, _, at in failed)
    wait = timedelta(seconds=WAIT_S)
    near = SignInAttempt.objects.filter(key__in={key for _, key, _ in failed}, at__gt=first - wait, at__lte=last)
    past = list(near.order_by("-at", "-pk").values_list("pk", "key", "at", "worked"))
    return frozenset(pk for pk, key, at in failed if _locks(past, pk, key, at - wait, at))


def _locks(  # noqa: PLR0917 - the attempts, and which of them
    past: list[tuple[int, str, datetime, bool]], pk: int, key: str, since: datetime, at: datetime
) -> bool:
    upto = [worked for one, its, when, worked in past if its == key and since < when and (when, one) <= (at, pk)]
    newest = upto[:MOST_FAILURES]
    return len(newest) == MOST_FAILURES and not any(newest)


def count_attempt(name: str, address: str, *, worked: bool) -> None:
    """Record one attempt; what is older than a year goes."""
    now = timezone.now()
    with transaction.atomic():
        SignInAttempt.objects.create(
            user=User.objects.filter(username=name).first(),
            key=_key(name, address),
            address=address,
            at=now,
            worked=worked,
        )
        _forget_before(now - timedelta(days=KEPT_DAYS))


def _forget_before(day: datetime) -> None:
    SignInAttempt.objects.filter(at__lt=day).delete()
