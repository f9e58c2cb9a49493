"""Two things done at once: arrays let go of the interpreter while they work, so that two cores serve one campus."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

One = TypeVar("One")
Other = TypeVar("Other")


def both(one: Callable[[], One], other: Callable[[], Other]) -> tuple[One, Other]:
    """Return what two functions return that do not need each other; what either raises is raised here.

    Examples
    --------
    >>> both(lambda: 1, lambda: 2)
    (1, 2)

    """
    with ThreadPoolExecutor(max_workers=1) as beside:
        others = beside.submit(other)
        mine = one()
        return mine, others.result()
