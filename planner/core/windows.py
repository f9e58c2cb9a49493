"""Windows: when each order may be done, by which crew, on which night.

A window is a span in which all of this holds: a crew with enough people is on shift; its building admits crews (the
brief's hours on a day it allows, and its own hours where it has some; or a welcome) and no closure keeps them out; every room that goes dark is free; and
the whole work fits, with setting up and restoring. A shift, a night of work and a phase belong to the local date on
which they start, so a night may end on the day after a phase. Where the clock changes in a night, local times are kept
and the night is an hour shorter or longer.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from inventory.core.opening import read_openings
from inventory.core.snapshot import Building, Snapshot
from planner.core.brief import Brief
from planner.core.clocks import DAY_MIN, Clock, day_minute, instant_of
from planner.core.holiday_dates import HolidayError, holiday_dates
from planner.core.occupancy import Occupancy, occupancy_of
from planner.core.plans import Crew, Order, Phase, Window, WindowsOfOrder
from planner.core.spans import Spans, both, complement, empty, meet, merge

Days = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Team:
    """Who may work when, with the dates that come into question (in order of time) and shifts read so far."""

    crews: tuple[Crew, ...]
    phases: tuple[Phase, ...]
    brief: Brief
    dates: tuple[date, ...]
    _hours: dict[str, tuple[Spans, tuple[str, ...]]] = field(default_factory=dict)
    _shifts: dict[tuple[str, str], tuple[Spans, tuple[date, ...]]] = field(default_factory=dict)
    _phases: dict[str | None, dict[date, tuple[str, ...]]] = field(default_factory=dict)

    def hours(self, building: Building, clock: Clock) -> tuple[Spans, tuple[str, ...]]:
        """Return the brief's hours at a building [min UTC], and what to say about its holidays."""
        if building.key not in self._hours:
            self._hours[building.key] = _hours(self, building, clock)
        return self._hours[building.key]

    def shifts(self, crew: Crew, clock: Clock) -> tuple[Spans, tuple[date, ...]]:
        """Return the shifts of a crew [min UTC], in order of time, and the date each starts on."""
        key = crew.key, clock.name
        if key not in self._shifts:
            nights = tuple(day for day in self.dates if day.weekday() in crew.days)
            self._shifts[key] = _local_spans(nights, crew.shift_from_min, crew.shift_to_min, clock), nights
        return self._shifts[key]

    def phases_by_night(self, district: str | None) -> dict[date, tuple[str, ...]]:
        """Return the phases that may work in a district in each night."""
        if district not in self._phases:
            some = [phase for phase in self.phases if admits_district(phase, district)]
            self._phases[district] = {
                night: tuple(phase.key for phase in some if phase.start <= night <= phase.end) for night in self.dates
            }
        return self._phases[district]


def find_windows(
    snapshot: Snapshot, orders: tuple[Order, ...], crews: tuple[Crew, ...], phases: tuple[Phase, ...], brief: Brief
) -> tuple[WindowsOfOrder, ...]:
    """Return all windows of every order, and in words what stands in the way where there are none.

    Parameters
    ----------
    snapshot : Snapshot
        The campus, with its calendars and closures.
    orders : tuple of Order
        What is to be done.
    crews, phases : tuples of Crew and Phase
        Who works, and between which dates.
    brief : Brief
        Hours, days, holidays and the longest outage.

    Returns
    -------
    tuple of WindowsOfOrder
        One for each order, in the order of their keys; windows by start, crew and phase. `longest_free_min` is the
        longest span [min] in which all but the length would do.

    """
    dates = _dates(phases)
    team = Team(
        crews=tuple(sorted(crews, key=lambda crew: crew.key)),
        phases=tuple(sorted(phases, key=lambda phase: (phase.start, phase.key))),
        brief=brief,
        dates=dates,
    )
    reach = (day_minute(dates[0]) - 2 * DAY_MIN, day_minute(dates[-1]) + 4 * DAY_MIN) if dates else (0, 0)
    occupancy = occupancy_of(snapshot, reach)
    return tuple(_windows_of(order, team, occupancy) for order in sorted(orders, key=lambda order: order.key))


def _dates(phases: tuple[Phase, ...]) -> tuple[date, ...]:
    """Return the dates on which a night may start, and the day before the first, whose night reaches into it."""
    found = {
        phase.start + timedelta(days=day) for phase in phases for day in range(-1, (phase.end - phase.start).days + 1)
    }
    return tuple(sorted(found))


def _local_spans(days: tuple[date, ...], from_min: int, to_min: int, clock: Clock) -> Spans:
    """Return one span [min UTC] a day from and to minutes of the local day; to at or before from is the next day."""
    midnights = np.array([day_minute(day) for day in days], dtype=np.int64)
    end_min = to_min if to_min > from_min else to_min + DAY_MIN
    return np.column_stack((clock.utc(midnights + from_min), clock.utc(midnights + end_min)))


def _hours(team: Team, building: Building, clock: Clock) -> tuple[Spans, tuple[str, ...]]:
    brief = team.brief
    off: frozenset[date] = frozenset()
    notes: tuple[str, ...] = ()
    if not brief.work_on_holidays and team.dates:
        off, notes = _holidays(building, team.dates)
    days = tuple(day for day in team.dates if day.weekday() in brief.work_days and day not in off)
    hours = merge(_local_spans(days, brief.work_from_min, brief.work_to_min, clock))
    if building.crews_admitted is None:
        return hours, notes
    own, unread = _openings(building, team.dates, clock)
    return both(hours, own), notes + unread


def _openings(building: Building, dates: tuple[date, ...], clock: Clock) -> tuple[Spans, tuple[str, ...]]:
    """Return when a building with hours of its own admits crews; none, and why, where they cannot be read."""
    try:
        openings = read_openings(building.crews_admitted or "")
    except ValueError:
        written = f"the hours at which building {building.key} admits crews cannot be read: {building.crews_admitted}"
        return empty(), (written,)
    days = sorted(
        {day + timedelta(days=later) for day in dates for later in (0, 1)}
    )  # a night reaches into the next day
    spans = [
        _local_spans(tuple(day for day in days if day.weekday() in one.days), one.from_min, one.to_min, clock)
        for one in openings
    ]
    return merge(np.concatenate([empty(), *spans])), ()


def _holidays(building: Building, dates: tuple[date, ...]) -> tuple[frozenset[date], tuple[str, ...]]:
    if building.holidays is None:
        return frozenset(), (f"the holidays of building {building.key} are not known: none is kept free of work",)
    try:
        return holiday_dates(building.holidays, dates[0].year, dates[-1].year), ()
    except HolidayError as error:
        return frozenset(dates), (f"building {building.key}: {error}",)


def _windows_of(order: Order, team: Team, occupancy: Occupancy) -> WindowsOfOrder:
    clock = occupancy.clock(order.building)
    taken = [occupancy.room(room) for room in order.rooms]
    problems = tuple(dict.fromkeys(room.problem for room in taken if room.problem is not None))
    problems += (*order.stopped, *order.unknown)
    if isinstance(clock, str) or problems:
        also = (clock,) if isinstance(clock, str) and clock not in problems else ()
        return WindowsOfOrder(order=order.key, windows=(), longest_free_min=0, problems=also + problems)
    return _dated(order, team, occupancy, clock, merge(np.concatenate([empty(), *(room.spans for room in taken)])))


def _dated(order: Order, team: Team, occupancy: Occupancy, clock: Clock, taken: Spans) -> WindowsOfOrder:
    """Return the windows of an order of which everything needed is known."""
    building = occupancy.snapshot.buildings[occupancy.buildings[order.building]]
    hours, notes = team.hours(building, clock)
    admitted = merge(np.concatenate((hours, occupancy.welcome(order.building, order.rooms))))
    closed = merge(np.concatenate((taken, occupancy.keep_out(order.building))))
    open_, _ = meet(admitted, complement(closed, *occupancy.reach))
    able = tuple(crew for crew in team.crews if crew.people >= order.people)
    found = [_crew_windows(order, crew, team, clock, open_) for crew in able]
    longest = max((length for _, length in found), default=0)
    windows = tuple(window for some, _ in found for window in some)
    too_long = order.outage_min > team.brief.longest_outage_min
    kept = () if too_long else tuple(sorted(windows, key=lambda w: (w.start, w.end, w.crew, w.phase)))
    why = () if kept else _why_none(order, team, longest)
    return WindowsOfOrder(order=order.key, windows=kept, longest_free_min=longest, problems=why + notes)


def _crew_windows(order: Order, crew: Crew, team: Team, clock: Clock, open_: Spans) -> tuple[tuple[Window, ...], int]:
    """Return a crew's windows for an order, and the longest span found [min] on a night of a phase."""
    shifts, nights = team.shifts(crew, clock)
    pieces, row = meet(shifts, open_)
    phases = team.phases_by_night(order.district)
    lengths = pieces[:, 1] - pieces[:, 0]
    longest, windows = 0, []
    for at in np.argsort(-lengths, kind="stable").tolist():
        night, length = nights[row[at]], int(lengths[at])
        within = phases[night]
        longest = max(longest, length) if within else longest
        if length < order.onsite_min:
            if longest:
                break
            continue
        start, end = (instant_of(int(minute)) for minute in pieces[at])
        windows += [
            Window(order=order.key, crew=crew.key, start=start, end=end, night=night, phase=phase) for phase in within
        ]
    return tuple(windows), longest


def admits_district(phase: Phase, district: str | None) -> bool:
    """Tell whether a phase may work in a district; one that is not known is admitted only where all are."""
    return not phase.districts or district in phase.districts


def _why_none(order: Order, team: Team, longest: int) -> tuple[str, ...]:
    """Return the first reason in words why an order has no window."""
    most = max((crew.people for crew in team.crews), default=0)
    limit = team.brief.longest_outage_min
    welcome = any(admits_district(phase, order.district) for phase in team.phases)
    district = "of an unknown district" if order.district is None else f"in district {order.district}"
    reasons = (
        (not team.phases, "there is no phase to work in"),
        (not welcome, f"no phase works at building {order.building}, {district}"),
        (not team.crews, "there is no crew"),
        (most < order.people, f"{order.people} people are needed, the largest crew has {most}"),
        (order.outage_min > limit, f"rooms would be dark for {order.outage_min} min, the brief allows {limit} min"),
        (longest == 0, f"no shift of a crew meets a time when {_rooms(order)} free and {order.building} admits crews"),
        (True, f"{order.onsite_min} min are needed on site, the longest window is {longest} min"),
    )
    return (next(words for holds, words in reasons if holds),)


def _rooms(order: Order) -> str:
    if len(order.rooms) == 1:
        return f"room {order.rooms[0][1]} is"
    return f"all {len(order.rooms)} rooms are"
