"""Checks of one row at a time: dates in order, sizes and codes that mean something, limits the right way round."""

import re
from collections.abc import Callable, Iterable
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import holidays

from inventory.core.conductors import ConductorError, parse_conductor
from inventory.core.currencies import CURRENCIES
from inventory.core.opening import read_openings
from inventory.core.problems import Severity
from inventory.workbook.judge import Judge, Verdict

LEVELS = re.compile(r"\s*[^=,;]+=\s*(?:100|[0-9]{1,2})\s*%?\s*(?:[,;]\s*[^=,;]+=\s*(?:100|[0-9]{1,2})\s*%?\s*)*\Z")
DAYS = frozenset({"mon", "tue", "wed", "thu", "fri", "sat", "sun"})
SEPARATORS = re.compile(r"[\s,;]+")
WARNING = Severity.WARNING


def _is_time_zone(text: str) -> bool:
    try:
        ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _is_holiday_code(text: str) -> bool:
    """Tell whether public holidays are known for an ISO 3166 country (PT) or subdivision (US-CA)."""
    country, _, part = text.partition("-")
    countries = holidays.list_supported_countries()
    return country in countries and (not part or part in countries[country])


def _is_currency(text: str) -> bool:
    return text in CURRENCIES


def _is_conductor(text: str) -> bool:
    try:
        parse_conductor(text)
    except (ConductorError, ValueError):
        return False
    return True


def _is_levels(text: str) -> bool:
    return LEVELS.match(text) is not None


def _is_days(text: str) -> bool:
    return all(day.casefold() in DAYS for day in SEPARATORS.split(text.strip()))


def _is_opening(text: str) -> bool:
    try:
        read_openings(text)
    except ValueError:
        return False
    return True


def _is_calendar(text: str) -> bool:
    return text.casefold().endswith(".ics") and "/" not in text and "\\" not in text


WORDS: tuple[tuple[str, str, Callable[[str], bool], Verdict], ...] = (
    (
        "buildings",
        "time_zone",
        _is_time_zone,
        Verdict(
            code="unknown-time-zone",
            message="There is no time zone of this name",
            remedy="use a name of the IANA time zone database, such as Europe/Lisbon",
        ),
    ),
    (
        "buildings",
        "holidays",
        _is_holiday_code,
        Verdict(
            code="unknown-holidays",
            message="No public holidays are known for this code",
            remedy="use the ISO 3166 code of a country, such as PT, or of a part of one, such as DE-BY",
        ),
    ),
    (
        "buildings",
        "crews_admitted",
        _is_opening,
        Verdict(
            code="hours-not-understood",
            message="The hours cannot be read",
            remedy="write days and hours as Mon-Thu 18:00-07:00, Sat Sun 00:00-24:00",
        ),
    ),
    (
        "rooms",
        "calendar",
        _is_calendar,
        Verdict(
            code="not-a-calendar-name",
            message="This is not the file name of a calendar",
            remedy="give the name of an .ics file, without a folder",
        ),
    ),
    (
        "parts",
        "currency",
        _is_currency,
        Verdict(
            code="unknown-currency",
            message="There is no currency of this code",
            remedy="use the three capital letters of ISO 4217, such as EUR",
        ),
    ),
    *(
        (
            sheet,
            column,
            _is_conductor,
            Verdict(
                code="size-not-understood",
                message="The size of the conductor cannot be read",
                remedy="write it as 18 AWG or 0.75 mm2",
            ),
        )
        for sheet, column in (
            ("cables", "power_conductor"),
            ("cables", "data_conductor"),
            ("protocols", "data_conductor"),
        )
    ),
    (
        "scenes",
        "levels",
        _is_levels,
        Verdict(
            code="levels-not-understood",
            message="The levels cannot be read",
            remedy="write zone and level in per cent, from 0 to 100, as 1=80, 2=40",
        ),
    ),
    (
        "crews",
        "days",
        _is_days,
        Verdict(
            code="days-not-understood",
            message="The days cannot be read",
            remedy="write them as Mon Tue Wed Thu Fri Sat Sun",
        ),
    ),
)
ORDERED: tuple[
    tuple[str, str, str, bool, Verdict], ...
] = (  # the second must not lie before the first; True: must lie after
    (
        "phases",
        "start",
        "end",
        False,
        Verdict(code="ends-before-start", message="The phase ends before it starts", remedy="correct one of the dates"),
    ),
    (
        "closures",
        "start",
        "end",
        True,
        Verdict(
            code="ends-before-start",
            message="The closure does not end after it starts",
            remedy="correct one of the two; for a whole day give the next day at 00:00 as its end",
        ),
    ),
    (
        "method_steps",
        "shortest_min",
        "minutes",
        False,
        Verdict(
            code="minutes-out-of-order",
            message="The minutes are less than the shortest time",
            remedy="give the shortest, the most likely and the longest time in this order",
        ),
    ),
    (
        "method_steps",
        "minutes",
        "longest_min",
        False,
        Verdict(
            code="minutes-out-of-order",
            message="The longest time is less than the minutes",
            remedy="give the shortest, the most likely and the longest time in this order",
        ),
    ),
    (
        "models",
        "last_sold",
        "supported_until",
        False,
        Verdict(
            code="support-ended-before-sale",
            message="Support ended before the model was last sold",
            remedy="check both dates",
            severity=WARNING,
        ),
    ),
    (
        "phases",
        "materials_ordered_on",
        "end",
        False,
        Verdict(
            code="ordered-after-phase",
            message="The phase's materials are ordered after it has ended",
            remedy="check the dates",
            severity=WARNING,
        ),
    ),
    (
        "zones",
        "lowest_pct",
        "highest_pct",
        False,
        Verdict(code="limits-crossed", message="The lowest level lies above the highest", remedy="exchange the two"),
    ),
    (
        "protocols",
        "lowest_impedance_ohm",
        "highest_impedance_ohm",
        False,
        Verdict(
            code="limits-crossed", message="The lowest impedance lies above the highest", remedy="exchange the two"
        ),
    ),
)
DELIVERY_OF_NOTHING = Verdict(
    code="delivery-of-nothing",
    message="A delivery must bring something",
    remedy="give the units still to come, or take the row out",
)
PACK_OF_NOTHING = Verdict(
    code="pack-of-nothing", message="A pack must hold something", remedy="give the units in one pack, or leave it blank"
)
NO_CURRENCY = Verdict(
    code="price-without-currency",
    message="The price has no currency, so it cannot be added to others",
    remedy="give the currency, such as EUR",
    severity=WARNING,
)
HALF_A_SHIFT = Verdict(
    code="half-a-shift",
    message="Only one end of the shift is given",
    remedy="give both From and To, or neither",
    severity=WARNING,
)
NO_SUCH_DISTRICT = Verdict(
    code="unknown-district",
    message="No building of this workbook lies in one of these districts",
    remedy="write the districts as on sheet Buildings, separated by commas",
    severity=WARNING,
)


def _words(judge: Judge) -> None:
    """Try each distinct text of a column once."""
    for code, name, is_good, verdict in WORDS:
        rows = judge.sheet(code)
        if rows is None or name not in rows.columns:
            continue
        values = rows.column(name)
        bad = {value for value in set(values) if isinstance(value, str) and not is_good(value)}
        judge.tell_all(rows, (at for at, value in enumerate(values) if value in bad) if bad else (), name, verdict)


def _orders(judge: Judge) -> None:
    for code, first, second, strictly, verdict in ORDERED:
        rows = judge.sheet(code)
        if rows is None:
            continue
        pairs = zip(rows.column(first), rows.column(second), strict=True)
        judge.tell_all(rows, (at for at, pair in enumerate(pairs) if _crossed(*pair, strictly)), second, verdict)


def _crossed(first: object, second: object, strictly: bool) -> bool:  # noqa: FBT001 - a fact of the table above
    if first is None or second is None:
        return False
    return second <= first if strictly else second < first  # type: ignore[operator,no-any-return]  # of one kind


def _parts(judge: Judge) -> None:
    rows = judge.sheet("parts")
    if rows is None:
        return
    judge.tell_all(rows, (at for at, pack in enumerate(rows.column("pack")) if pack == 0), "pack", PACK_OF_NOTHING)
    priced = zip(rows.column("price"), rows.column("currency"), strict=True)
    lacking = (at for at, (price, currency) in enumerate(priced) if price is not None and currency is None)
    judge.tell_all(rows, lacking, "price", NO_CURRENCY)


def _deliveries(judge: Judge) -> None:
    rows = judge.sheet("deliveries")
    if rows is not None:
        nothing = (at for at, quantity in enumerate(rows.column("quantity")) if quantity == 0)
        judge.tell_all(rows, nothing, "quantity", DELIVERY_OF_NOTHING)


def _shifts(judge: Judge) -> None:
    rows = judge.sheet("crews")
    if rows is None:
        return
    ends = zip(rows.column("shift_from"), rows.column("shift_to"), strict=True)
    half = (at for at, (start, end) in enumerate(ends) if (start is None) != (end is None))
    judge.tell_all(rows, half, "shift_from", HALF_A_SHIFT)


def _districts(judge: Judge) -> None:
    """Check districts only where the workbook says in which districts its buildings lie."""
    buildings, phases = judge.sheet("buildings"), judge.sheet("phases")
    if buildings is None or phases is None or "district" not in buildings.columns:
        return
    lying = {str(value).casefold() for value in buildings.column("district") if value is not None}
    strange = (at for at, text in enumerate(phases.column("districts")) if not set(_listed(text)) <= lying)
    judge.tell_all(phases, strange, "districts", NO_SUCH_DISTRICT)


def _listed(text: object) -> Iterable[str]:
    return (part.strip().casefold() for part in str(text or "").split(",") if part.strip())


VALUE_CHECKS: tuple[Callable[[Judge], None], ...] = (_words, _orders, _parts, _deliveries, _shifts, _districts)
