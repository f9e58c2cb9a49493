"""Two things done at once: arrays let go of the interpreter while they work, so that two cores serve one campus."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

One = TypeVar("One")
Other = TypeVar("Other")
WORTH = 20_000  # rows from which two at once are sooner done than one after the other


def both(one: Callable[[], One], other: Callable[[], Other], rows: int) -> tuple[One, Other]:
    """Return what two functions return that do not need each other; what either raises is raised here.

    `rows` : how long their columns are; short ones are worked on one after the other.

    Examples
    --------
    >>> both(lambda: 1, lambda: 2, rows=50_000)
    (1, 2)

    """
    if rows < WORTH:
        return one(), other()
    with ThreadPoolExecutor(max_workers=1) as beside:
        others = beside.submit(other)
        mine = one()
        return mine, others.result()
