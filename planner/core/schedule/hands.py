"""Hands: who solves several pieces of a plan at a time. All give the same answers in the same order.

Threads will do for little work. In processes of their own, pieces are also built and read at the same time, since
Python lets one thread of a process run at once. They are started by name and talk by pipes, so that they can be used
inside a worker that may have no children of its own, and end when whoever started them is gone, however that was.
"""

import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue
from types import TracebackType
from typing import Any, Protocol, Self, TypeVar

Job = TypeVar("Job")
Found = TypeVar("Found")
LOST = (OSError, EOFError, pickle.PickleError)  # what is seen of a process that is gone
ENDS_WITHIN_S = 5.0


class Hands(Protocol):
    """Solves jobs, several at a time. Function, jobs and answers can be pickled."""

    def map(self, solve: Callable[[Job], Found], jobs: Iterable[Job], /) -> Iterator[Found]:
        """Return the answers, in the order of the jobs."""


class Processes:
    """Hands that are processes, `count` of them, for as long as the context lasts.

    What a process that is gone had in hand is solved here, and whatever it would have been given later too.

    Examples
    --------
    >>> with Processes(2) as hands:
    ...     list(hands.map(abs, [-1, 2, -3]))
    [1, 2, 3]

    """

    def __init__(self, count: int) -> None:
        self._hands = [_Hand() for _ in range(count)]
        self._threads = ThreadPoolExecutor(count)
        self._free: SimpleQueue[_Hand] = SimpleQueue()
        for hand in self._hands:
            self._free.put(hand)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, _: type[BaseException] | None, __: BaseException | None, ___: TracebackType | None) -> None:
        self._threads.shutdown(cancel_futures=True)
        for hand in self._hands:
            hand.end()

    def map(self, solve: Callable[[Job], Found], jobs: Iterable[Job], /) -> Iterator[Found]:
        """Return the answers, in the order of the jobs."""

        def do(job: Job) -> Found:
            hand = self._free.get()
            try:
                done, found = hand.do(solve, job)
            finally:
                self._free.put(hand)
            return found if done else solve(job)  # an error comes again here, with its own words

        return self._threads.map(do, jobs)

    @property
    def ids(self) -> tuple[int, ...]:
        """The numbers of the processes."""
        return tuple(hand.id for hand in self._hands)


class _Hand:
    """One process, and its pipes."""

    def __init__(self) -> None:
        paths = os.pathsep.join(path or str(Path.cwd()) for path in sys.path)
        self._process = subprocess.Popen(  # noqa: S603 - this program, by its own name
            [sys.executable, "-c", "from planner.core.schedule.hands import serve; serve()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": paths},
        )
        self.id = self._process.pid

    def do(self, solve: Callable[[Any], Any], job: object) -> tuple[bool, Any]:
        """Return whether the process solved it, and its answer."""
        there, back = self._process.stdin, self._process.stdout
        if there is None or back is None or self._process.poll() is not None:
            return False, None
        try:
            pickle.dump((solve, job), there)
            there.flush()
            return pickle.load(back)  # type: ignore[no-any-return] # noqa: S301 - from a process of our own
        except LOST:
            self._process.kill()
            return False, None

    def end(self) -> None:
        """Let the process end, and see that it does."""
        for pipe in (self._process.stdin, self._process.stdout):
            try:
                if pipe is not None:
                    pipe.close()
            except OSError:
                continue
        try:
            self._process.wait(ENDS_WITHIN_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


def serve() -> None:
    """Solve what comes in, until nothing more does."""
    back = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # nothing that a library prints gets among the answers
    while True:
        try:
            solve, job = pickle.load(sys.stdin.buffer)  # noqa: S301 - from the process that started this one
        except LOST:
            return
        try:
            answer = True, solve(job)
        except Exception:  # noqa: BLE001 - whoever asked solves it again, and sees what is wrong
            answer = False, None
        try:
            pickle.dump(answer, back)
            back.flush()
        except LOST:
            return
