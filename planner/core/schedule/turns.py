"""Turns: ways to improve a plan take turns at it, the one that wins most for its work first.

Early in a large plan, whole groups of nights win much; later single nights do, and then groups again, since they find
a better plan to exchange in. Nobody knows when beforehand, so each way is judged by what its last turns won.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Protocol

from planner.core.schedule.board import Board
from planner.core.schedule.core import Effort
from planner.core.schedule.hands import Hands

Tell = Callable[[Board, float], bool]  # the plan, share of the work done; False means stop
TURN_S = 2.0  # least work in one turn [s of an idle machine]
NEWEST = 0.5  # weight of the last turn in what a way wins for its work


class Way(Protocol):
    """A way to improve the plan on a board, never making it worse."""

    def step(self, hands: Hands) -> float:
        """Try to improve the plan, solving pieces by those hands, and return the work it took [s of an idle machine]."""


@dataclass(slots=True)
class _Record:
    """A way with what it wins for its work (not known: more than any), and its work so far."""

    way: Way
    rate: float = float("inf")
    work: float = 0.0


def take_turns(  # noqa: PLR0917 - the plan, how to better it, and when to stop
    board: Board, ways: tuple[Way, ...], effort: Effort, stop_at: int, tell: Tell, hands: Hands | None = None
) -> float:
    """Improve the plan on a board, and return the work it took [s of an idle machine].

    Pieces are solved by `hands`, or by threads where there are none. Ends when the work is spent, when the objective reaches `stop_at` (a proved bound), or when `tell` says so.
    """
    records = [_Record(way) for way in ways]
    spent = 0.0
    with nullcontext(hands) if hands else ThreadPoolExecutor(effort.workers) as able:
        while records:
            record = max(records, key=lambda each: (each.rate, -each.work))
            cost, work = board.cost, 0.0
            while work < TURN_S:
                if spent >= effort.seconds or board.cost <= stop_at or not tell(board, spent / effort.seconds):
                    return spent
                step = record.way.step(able)
                work, spent = work + step, spent + step
            rate = (cost - board.cost) / work
            record.rate = rate if record.work == 0 else NEWEST * rate + (1 - NEWEST) * record.rate
            record.work += work
    return spent
