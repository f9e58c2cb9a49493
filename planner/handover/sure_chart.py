"""When the phases of a plan are done, drawn as plain SVG: a row a phase, over a line of days.

The thin line holds eight courses in ten, the bar begins where half of them are done and ends where four in five are; the
short stroke is the planned end, the broken one the end of the phase. The same figures stand in a table beside it.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta, tzinfo
from html import escape

from inventory.core.saying import day_words
from planner.core.outlook import PhaseOutlook

NAME, RIGHT, HEAD, ROW, FOOT, WIDTH = 110, 20, 8, 44, 24, 460
BAR, TICKS, LONGEST_NAME = 14, 4, 14
NIGHTS_ARE_OVER = time(12)  # of the day after the last


def phases_drawing(phases: Sequence[PhaseOutlook], zone: tzinfo) -> str:
    """Return the drawing of all phases that have orders, one at least, by the days of a time zone."""
    phases = [_local(phase, zone) for phase in phases]
    scale = _Scale(phases)
    width, height = NAME + WIDTH + RIGHT, HEAD + ROW * len(phases) + FOOT
    rows = "".join(_row(phase, HEAD + number * ROW, scale) for number, phase in enumerate(phases))
    said = "; ".join(map(spoken, phases))
    return (
        f'<svg class="drawing tone-pair" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'aria-label="{escape(said)}">{_days(scale, height - FOOT)}{rows}</svg>'
    )


def _local(phase: PhaseOutlook, zone: tzinfo) -> PhaseOutlook:
    p10, p50, p80, p90 = (
        None if at is None else at.astimezone(zone) for at in (phase.p10, phase.p50, phase.p80, phase.p90)
    )
    return replace(phase, planned=phase.planned.astimezone(zone), p10=p10, p50=p50, p80=p80, p90=p90)


def spoken(phase: PhaseOutlook) -> str:
    """Return one row of the drawing in words."""
    half = "not done in half of the courses" if phase.p50 is None else f"half done by {day_words(phase.p50.date())}"
    most = "" if phase.p80 is None else f", four in five by {day_words(phase.p80.date())}"
    return f"{phase.phase}: planned to {day_words(phase.planned.date())}, {half}{most}"


class _Scale:
    """From instants to places on the sheet, a little room at both ends."""

    def __init__(self, phases: Sequence[PhaseOutlook]) -> None:
        told = [phase.planned for phase in phases] + [_closes(phase) for phase in phases]
        told += [at for phase in phases for at in (phase.p10, phase.p50, phase.p80, phase.p90) if at is not None]
        margin = max((max(told) - min(told)) / 20, timedelta(days=1))
        self.begin, self.end = min(told) - margin, max(told) + margin

    def x(self, at: datetime | None) -> float:
        """Return the place of an instant; what is never reached stands at the right end."""
        if at is None:
            return float(NAME + WIDTH)
        return round(NAME + WIDTH * ((at - self.begin) / (self.end - self.begin)), 1)


def _closes(phase: PhaseOutlook) -> datetime:
    return datetime.combine(phase.closes + timedelta(days=1), NIGHTS_ARE_OVER, tzinfo=phase.planned.tzinfo)


def _days(scale: _Scale, foot: int) -> str:
    """Return some days along the foot, each under a thin line."""
    step = (scale.end - scale.begin) / TICKS
    days = sorted({(scale.begin + step * number).date() for number in range(1, TICKS)})
    return "".join(_tick(day, scale, foot) for day in days)


def _tick(day: date, scale: _Scale, foot: int) -> str:
    x = scale.x(datetime.combine(day, time(0), tzinfo=scale.begin.tzinfo))
    return (
        f'<path class="grid" d="M{x} {HEAD}V{foot}"/>'
        f'<text class="small" x="{x}" y="{foot + 16}" text-anchor="middle">{day_words(day)}</text>'
    )


def _row(phase: PhaseOutlook, top: int, scale: _Scale) -> str:
    middle, bar = top + ROW // 2, top + (ROW - BAR) // 2
    closes, planned = scale.x(_closes(phase)), scale.x(phase.planned)
    tone = "tone-bad" if phase.spills > 0 else "tone-pair"
    return (
        f'<text class="small" x="0" y="{middle + 4}">{escape(_short(phase.phase))}</text>'
        f'<path class="axis" d="M{scale.x(phase.p10)} {middle}H{scale.x(phase.p90)}"/>'
        f'<g class="{tone}">{_bar(scale.x(phase.p50), scale.x(phase.p80), bar)}</g>'
        f'<path class="axis" d="M{planned} {bar - 4}v{BAR + 8}"/>'
        f'<path class="axis" stroke-dasharray="5 3" d="M{closes} {top + 2}V{top + ROW - 2}"/>'
    )


def _bar(begin: float, end: float, top: int) -> str:
    return f'<rect class="fill" x="{begin}" y="{top}" width="{max(round(end - begin, 1), 3)}" height="{BAR}"/>'


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}\N{HORIZONTAL ELLIPSIS}"
