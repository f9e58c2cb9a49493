"""Plain loops over whole columns, compiled: one pass of a loop does what takes a dozen passes of whole arrays.

A compiled function takes and returns arrays and numbers, knows no objects, lets go of the interpreter, and divides as
arrays do (by nothing: infinite). What was compiled is kept beside the source for the next process. What is kept does
not notice when another module changes: a compiled function calls those of its own module, uses the constants of its own
module, and is given all others.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from numba import njit

Takes = ParamSpec("Takes")
Gives = TypeVar("Gives")


def compiled(loop: Callable[Takes, Gives]) -> Callable[Takes, Gives]:
    """Return a function that does the same in machine code, compiled when it is first called with columns of these kinds."""
    try:
        done: Callable[Takes, Gives] = njit(cache=True, nogil=True, error_model="numpy")(loop)
    except RuntimeError:  # nowhere to keep it: neither beside the source nor in the user's own cache
        done = njit(nogil=True, error_model="numpy")(loop)
    return done
