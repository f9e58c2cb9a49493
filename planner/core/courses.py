"""Simulated courses of a plan: how sure its dates are.

Each course draws how long every order takes and follows the crews through their nights. A step's time is drawn once an
order: the stations of one order share building, crew and method, and so their luck. What holds a crew up delays its next
order of the night. An order is begun only where its planned time still fits in its window, and once begun it is
finished, if need be past the window's end. One that cannot be begun is put off to its next window on a night in which the
plan and earlier put-off orders leave its crew room. What is not simulated: bookings that appear later, people who fall
ill, parts that come late, two orders in one building at a time after one was put off.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from planner.core.plans import Order, Placed, Window
from planner.core.spread import Floats, Spread, draw

COURSES = 2000
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
NEVER = np.inf  # an order that finds no window within those known
Night = tuple[str, date]  # a crew and the date on which its shift starts
TRIED_WINDOWS = 60  # later windows that are tried for an order that is put off


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One placed order with its window, its building and the parts of its time that vary together."""

    placed: Placed
    order: Order
    window: Window
    later: tuple[Window, ...]
    spreads: tuple[Spread, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What became of each job in each course, shape (courses, jobs): minutes since 1970, NEVER where it was not done."""

    end_min: Floats
    overran: NDArray[np.bool_]
    put_off: NDArray[np.bool_]


def minute(instant: datetime) -> float:
    """Return an instant as minutes since 1970."""
    return (instant - EPOCH) / timedelta(minutes=1)


def simulate(
    jobs: Sequence[Job], travel_min: Mapping[tuple[str, str], int], *, courses: int = COURSES, seed: int = 1
) -> Run:
    """Follow a plan through many courses.

    Parameters
    ----------
    jobs : sequence of Job
        The placed orders, in any order.
    travel_min : mapping
        Minutes between two buildings, by pair.
    courses, seed : int
        How many courses, and the seed of every draw.

    Returns
    -------
    Run
        One column a job, in the order given.

    """
    rng = np.random.default_rng(seed)
    ranked = sorted(jobs, key=lambda job: (job.placed.start, job.placed.order))
    drawn = {job.placed.order: draw(job.spreads, courses, rng).sum(axis=1) for job in ranked}
    course = _Courses(ranked, travel_min, courses)
    for job in ranked:
        course.in_its_night(job, drawn[job.placed.order])
    put_off = {job.placed.order: np.isinf(course.end_min[job.placed.order]) for job in ranked}
    for job in ranked:
        course.later(job, drawn[job.placed.order])
    return Run(
        end_min=_columns(course.end_min, jobs, courses),
        overran=_columns(course.overran, jobs, courses),
        put_off=_columns(put_off, jobs, courses),
    )


def _columns(found: Mapping[str, NDArray[Any]], jobs: Sequence[Job], courses: int) -> NDArray[Any]:
    return np.array([found[job.placed.order] for job in jobs]).reshape(len(jobs), courses).T


class _Courses:
    """All courses side by side: when each crew is free in each night, and what became of each order so far."""

    def __init__(self, ranked: Sequence[Job], travel_min: Mapping[tuple[str, str], int], courses: int) -> None:
        self._travel_min = travel_min
        self._courses = courses
        self._free_min: dict[Night, Floats] = {}
        self._place: dict[Night, str] = {}
        self._planned_min = {(job.placed.crew, job.placed.night): minute(job.placed.end) for job in ranked}
        self.end_min = {job.placed.order: np.full(courses, NEVER) for job in ranked}
        self.overran = {job.placed.order: np.zeros(courses, dtype=bool) for job in ranked}

    def in_its_night(self, job: Job, drawn: Floats) -> None:
        """Do a job in the night it is planned for, in the courses in which it can still be begun."""
        night = job.placed.crew, job.placed.night
        self._do(job, job.window, drawn, minute(job.placed.start))
        self._place[night] = job.order.building

    def later(self, job: Job, drawn: Floats) -> None:
        """Do a job that was put off in the first later window that leaves its crew room, course by course."""
        for window in job.later[:TRIED_WINDOWS]:
            if not np.isinf(self.end_min[job.placed.order]).any():
                return
            planned = self._planned_min.get((window.crew, window.night), -np.inf)
            self._do(job, window, drawn, max(planned, minute(window.start)))

    def _do(self, job: Job, window: Window, drawn: Floats, earliest_min: float) -> None:
        """Do a job in a window, in the courses in which it waits and can be begun there."""
        night = window.crew, window.night
        free = self._free_min.setdefault(night, np.full(self._courses, -np.inf))
        before = self._place.get(night, job.order.building)
        travel = self._travel_min.get((before, job.order.building), 0)
        start = np.maximum(earliest_min, free + travel)
        end, closes = self.end_min[job.placed.order], minute(window.end)
        here = np.isinf(end) & (start + job.order.onsite_min <= closes)
        finish = start + drawn
        end[here] = finish[here]
        self.overran[job.placed.order] |= here & (finish > closes)
        free[here] = finish[here]
