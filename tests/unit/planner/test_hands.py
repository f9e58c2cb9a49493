import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from planner.core.schedule.board import Board
from planner.core.schedule.core import Effort
from planner.core.schedule.groups import regrouping
from planner.core.schedule.hands import Hands, Processes
from planner.core.schedule.relax import relax
from planner.core.schedule.search import Nights
from planner.core.schedule.tasks import Chosen, cost_of
from planner.core.schedule.turns import take_turns
from tests.unit.planner.test_schedule_loads import network_by_chance

LONG_S = 60.0


def improved(hands: Hands) -> Chosen:
    """Return what groups and then single nights make of an empty plan in little work."""
    network, effort = network_by_chance(3, count=16), Effort(seconds=0.6, seed=5, workers=2)
    board = Board(network, (None,) * 16)
    groups = regrouping(board, relax(network, 0.3), effort)
    assert groups is not None
    for way in (groups, Nights(board, effort)):
        take_turns(board, (way,), effort, 0, lambda *_: True, hands)
    assert board.cost == cost_of(network, board.chosen) < cost_of(network, (None,) * 16)
    return board.chosen


def test_groups_and_nights_give_the_same_plan_by_processes_and_by_threads_and_each_time() -> None:
    with Processes(2) as processes, ThreadPoolExecutor(2) as threads:
        assert improved(processes) == improved(processes) == improved(threads)


def test_several_processes_work_and_answers_keep_their_order() -> None:
    with Processes(2) as hands:
        assert list(hands.map(sorted, [[3, 1], [2], [9, 8, 7]])) == [[1, 3], [2], [7, 8, 9]]
        assert len({*hands.ids, os.getpid()}) == 3


def test_what_a_killed_process_had_in_hand_is_solved_all_the_same() -> None:
    with Processes(2) as hands:
        assert list(hands.map(abs, [-1])) == [1]
        for number in hands.ids:
            os.kill(number, signal.SIGKILL)
        assert list(hands.map(abs, [-1, -2, -3])) == [1, 2, 3]


def test_an_error_keeps_its_own_words() -> None:
    with Processes(1) as hands, pytest.raises(ValueError, match="invalid literal"):
        list(hands.map(int, ["seven"]))


def test_processes_end_when_whoever_started_them_is_killed() -> None:
    code = (
        "import time\nfrom planner.core.schedule.hands import Processes\n"
        "hands = Processes(2)\nlist(hands.map(abs, [1, 2]))\nprint(*hands.ids, flush=True)\ntime.sleep(600)"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        ids = [int(number) for number in parent.stdout.readline().split()]
        assert len(ids) == 2
        parent.kill()
    until = time.monotonic() + LONG_S
    while any(is_running(number) for number in ids) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(is_running(number) for number in ids)


def is_running(number: int) -> bool:
    """Tell whether a process is there and not just waiting to be counted out."""
    try:
        return Path(f"/proc/{number}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False
