"""How many times a sign-in may fail before it has to wait."""

from hashlib import sha256

from django.core.cache import cache

MOST_FAILURES = 8
WAIT_S = 15 * 60


def _key(name: str, address: str) -> str:
    return "sign-in-" + sha256(f"{name.casefold()}\n{address}".encode()).hexdigest()


def must_wait(name: str, address: str) -> bool:
    """Tell whether this name failed too often from this address."""
    failures: int = cache.get(_key(name, address), 0)
    return failures >= MOST_FAILURES


def count_failure(name: str, address: str) -> None:
    """Count one failed sign-in; the count is forgotten some time after the last one."""
    key = _key(name, address)
    cache.add(key, 0, WAIT_S)
    cache.incr(key)
    cache.touch(key, WAIT_S)


def forget(name: str, address: str) -> None:
    """Forget failures after a sign-in that worked."""
    cache.delete(_key(name, address))
