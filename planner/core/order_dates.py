"""By when to order: first need, less a receiving reserve in working days, less the lead time in calendar days."""

from dataclasses import dataclass, field
from datetime import date, timedelta

from inventory.core.snapshot import Building
from planner.core.holiday_dates import HolidayError, holiday_dates, working_days_before

Years = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCalendar:
    """Working days at the buildings: Monday to Friday less their holidays, which are read once."""

    buildings: tuple[Building, ...]
    reserve_days: int
    _off: dict[tuple[str, Years], tuple[frozenset[date], str | None]] = field(default_factory=dict)

    def order_by(self, building: str, need: date, lead_days: int | None) -> date | None:
        """Return the last working day on which to order for a need, None where the lead time is not known."""
        if lead_days is None:
            return None
        off, _ = self._holidays(building, self._years(need, lead_days))
        received = working_days_before(need, self.reserve_days, off)
        return working_days_before(received - timedelta(days=lead_days), 0, off)

    def note(self, building: str, need: date, lead_days: int | None) -> str | None:
        """Return in words why holidays were not counted, None if they were or no date was asked for."""
        return None if lead_days is None else self._holidays(building, self._years(need, lead_days))[1]

    def _years(self, need: date, lead_days: int) -> Years:
        """Return the years between which an order-by date may lie: weekends and holidays at most triple the reserve."""
        return (need - timedelta(days=lead_days + 3 * self.reserve_days + 31)).year, need.year

    def _holidays(self, building: str, years: Years) -> tuple[frozenset[date], str | None]:
        key = building, years
        if key not in self._off:
            self._off[key] = self._read(building, years)
        return self._off[key]

    def _read(self, building: str, years: Years) -> tuple[frozenset[date], str | None]:
        code = next((place.holidays for place in self.buildings if place.key == building), None)
        if code is None:
            return frozenset(), f"holidays of building {building} are not known: none counted"
        try:
            return holiday_dates(code, *years), None
        except HolidayError as error:
            return frozenset(), f"{error}: none counted"
