"""A brief as people write it, setting by setting, to the record `Brief`, and back."""

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from decimal import Decimal

from inventory.core.days import HOW, DayError, moment_from_text
from inventory.core.problems import Problem, Severity
from inventory.core.saying import day_words
from inventory.workbook.numerals import AmbiguousNumberError, number_from_text
from planner.core.brief import BY_TITLE, SETTINGS, Brief, BriefError, Setting, SettingKind

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
SHORT = 3  # letters that tell the days apart
HOUR_MIN = 60
CLOCK = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])(?::00(?:\.0+)?)?\Z")
PATTERNS = {"currency": (re.compile(r"[A-Z]{3}\Z"), "Write the three capital letters of ISO 4217, such as EUR.")}
TRUTHS = {"yes": True, "y": True, "true": True, "1": True, "no": False, "n": False, "false": False, "0": False}
SHEET, COLUMN = "Brief", "Value"
NAMED_UNITS = {"%": "percent", "C": "degrees Celsius"}


def read_brief(settings: Mapping[str, str | None]) -> tuple[Brief | None, tuple[Problem, ...]]:
    """Return the brief that these settings make, or None and what is wrong with each that cannot be used.

    Parameters
    ----------
    settings : mapping of str to str or None
        Title of the setting, any case, to its value as people write it; a blank keeps the default.

    Returns
    -------
    brief : Brief or None
        None where there is a problem.
    problems : tuple of Problem
        One for each setting that is not known, comes twice or has a value that cannot be used.

    Examples
    --------
    >>> brief, problems = read_brief({"Work from": "22:00", "Work days": "Mon-Thu", "Call-out": "80,50"})
    >>> brief.work_from_min, brief.work_days, brief.call_out
    (1320, (0, 1, 2, 3), Decimal('80.50'))
    >>> read_brief({"Longest outage": "long"})[1][0].remedy
    'Write a whole number of minutes, such as 480.'

    """
    values: dict[str, object] = {}
    problems: list[Problem] = []
    for title, text in settings.items():
        try:
            setting = setting_of(title)
            values |= _value(setting, text)
        except BriefError as error:
            problems.append(_problem(error))
    problems += [_problem(error) for error in _twice(settings)]
    return (None if problems else Brief(**values)), tuple(problems)  # type: ignore[arg-type]  # as SETTINGS says


def _value(setting: Setting, text: str | None) -> dict[str, object]:
    return {setting.name: read_setting(setting, text)} if text is not None and text.strip() else {}


def _twice(settings: Mapping[str, str | None]) -> list[BriefError]:
    """Return an error for each title that comes again in other letters."""
    seen: set[str] = set()
    found = []
    for title, text in settings.items():
        plain = " ".join(title.split()).casefold()
        if plain in seen:
            found.append(BriefError(title, text or "", "The setting comes twice; keep one."))
        seen.add(plain)
    return found


def write_brief(brief: Brief) -> dict[str, str]:
    """Return every setting of a brief as people write it, by title, in the order of the table.

    Examples
    --------
    >>> list(write_brief(Brief()).items())[:3]
    [('Work from', '18:00'), ('Work to', '07:00'), ('Work days', 'Mon Tue Wed Thu Fri Sat Sun')]

    """
    return {setting.title: write_setting(setting, getattr(brief, setting.name)) for setting in SETTINGS}


def setting_of(title: str) -> Setting:
    """Return the setting with this title; BriefError, naming the settings there are, if there is none."""
    found = BY_TITLE.get(" ".join(title.split()).casefold())
    if found is None:
        titles = ", ".join(setting.title for setting in SETTINGS)
        raise BriefError(title, title, f"The settings are: {titles}.")
    return found


def read_setting(setting: Setting, text: str) -> object:
    """Return the value of one setting; BriefError, saying what to write, where it cannot be read."""
    return READ[setting.kind](setting, text.strip())


def write_setting(setting: Setting, value: object) -> str:
    """Return the value of one setting as people write it."""
    return WRITE[setting.kind](setting, value)


def read_days(text: str) -> tuple[int, ...]:
    """Return weekdays, Monday 0, from `Mon Tue`, `Mon, Tue` or `Mon-Thu`, sorted; ValueError where one is no day.

    Examples
    --------
    >>> read_days("Fri-Mon"), read_days("sunday, Wed")
    ((0, 4, 5, 6), (2, 6))

    """
    days: set[int] = set()
    for part in re.sub(r"\s*[-\u2013]\s*", "-", text).replace(",", " ").replace(";", " ").split():
        first, _, last = part.partition("-")
        start, end = _day(first), _day(last or first)
        days |= {day % 7 for day in range(start, end + 1 if end >= start else end + 8)}
    if not days:
        raise ValueError(text)
    return tuple(sorted(days))


def _day(word: str) -> int:
    whole = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    found = [at for at, day in enumerate(whole) if len(word) >= SHORT and day.startswith(word.casefold())]
    if not found:
        raise ValueError(word)
    return found[0]


def _problem(error: BriefError) -> Problem:
    known = " ".join(error.setting.split()).casefold() in BY_TITLE
    return Problem(
        code="setting-value" if known else "setting-unknown",
        severity=Severity.ERROR,
        message=f"{error.setting} cannot be this" if known else "There is no such setting",
        remedy=error.remedy,
        sheet=SHEET,
        column=COLUMN if known else "Setting",
        value=error.value,
    )


def _number(setting: Setting, text: str) -> Decimal:
    try:
        number = number_from_text(text)
    except AmbiguousNumberError:
        remedy = "It can be read in two ways. Write it without separators of thousands, such as 1234.5."
        raise BriefError(setting.title, text, remedy) from None
    if number is None:
        raise BriefError(setting.title, text, f"Write a number{_of(setting)}, such as {_example(setting)}.")
    low, high = setting.lowest, setting.highest
    if (low is not None and number < Decimal(str(low))) or (high is not None and number > Decimal(str(high))):
        raise BriefError(setting.title, text, f"Write a number{_of(setting)} {_limits(setting)}.")
    return number


def _of(setting: Setting) -> str:
    if setting.kind is SettingKind.MINUTES:
        return " of minutes"
    unit = NAMED_UNITS.get(setting.unit or "", setting.unit or "")
    return f", {unit}" if unit.startswith("per ") else f" of {unit}" if unit else ""


def _limits(setting: Setting) -> str:
    if setting.highest is None:
        return f"from {setting.lowest:g} up"
    return f"from {setting.lowest:g} to {setting.highest:g}"


def _example(setting: Setting) -> str:
    return write_setting(setting, getattr(Brief(), setting.name))


def _whole(setting: Setting, text: str) -> int:
    try:
        number = _number(setting, text)
    except BriefError as error:
        raise BriefError(error.setting, error.value, error.remedy.replace("a number", "a whole number", 1)) from None
    if number != int(number):
        raise BriefError(setting.title, text, f"Write a whole number{_of(setting)}, such as {_example(setting)}.")
    return int(number)


def _float(setting: Setting, text: str) -> float:
    return float(_number(setting, text))


def _clock(setting: Setting, text: str) -> int:
    match = CLOCK.match(text)
    if not match:
        raise BriefError(setting.title, text, "Write hours and minutes, such as 22:00.")
    return int(match[1]) * HOUR_MIN + int(match[2])


def _date(setting: Setting, text: str) -> date:
    try:
        found = moment_from_text(text)
    except DayError as error:
        raise BriefError(setting.title, text, f"{error}: {error.remedy}.") from None
    if found is None:
        raise BriefError(setting.title, text, f"This must be a date: {HOW}.")
    return found.date()


def _text(setting: Setting, text: str) -> str:
    pattern, remedy = PATTERNS.get(setting.name, (None, ""))
    if pattern and not pattern.match(text):
        raise BriefError(setting.title, text, remedy)
    return text


def _list(setting: Setting, text: str) -> tuple[object, ...]:
    if setting.choices != DAYS:
        return tuple(part.strip() for part in text.split(",") if part.strip())
    try:
        return read_days(text)
    except ValueError:
        raise BriefError(setting.title, text, f"Write days, such as {' '.join(DAYS)}, or Mon-Fri.") from None


def _yes_no(setting: Setting, text: str) -> bool:
    truth = TRUTHS.get(text.casefold())
    if truth is None:
        raise BriefError(setting.title, text, "Write yes or no.")
    return truth


def _choice(setting: Setting, text: str) -> str:
    for choice in setting.choices:
        if choice.casefold() == text.casefold():
            return choice
    raise BriefError(setting.title, text, f"Write one of: {', '.join(setting.choices)}.")


def _write_plain(_: Setting, value: object) -> str:
    return str(value)


def _write_date(_: Setting, value: object) -> str:
    return day_words(value) if isinstance(value, date) else ""


def _write_number(_: Setting, value: object) -> str:
    text = f"{Decimal(str(value)):f}"
    return text.removesuffix(".0")


def _write_clock(_: Setting, value: object) -> str:
    return "{:02d}:{:02d}".format(*divmod(int(str(value)), HOUR_MIN))


def _write_list(setting: Setting, value: object) -> str:
    parts: Iterable[object] = value if isinstance(value, tuple) else ()
    if setting.choices == DAYS:
        return " ".join(DAYS[int(str(day))] for day in parts)
    return ", ".join(str(part) for part in parts)


def _write_yes_no(_: Setting, value: object) -> str:
    return "yes" if value else "no"


_K = SettingKind
READ: dict[SettingKind, Callable[[Setting, str], object]] = {
    _K.MINUTES: _whole,
    _K.WHOLE: _whole,
    _K.NUMBER: _float,
    _K.MONEY: _number,
    _K.CLOCK: _clock,
    _K.DATE: _date,
    _K.TEXT: _text,
    _K.LIST: _list,
    _K.YES_NO: _yes_no,
    _K.CHOICE: _choice,
}
WRITE: dict[SettingKind, Callable[[Setting, object], str]] = {
    _K.MINUTES: _write_plain,
    _K.WHOLE: _write_plain,
    _K.NUMBER: _write_number,
    _K.MONEY: _write_number,
    _K.CLOCK: _write_clock,
    _K.DATE: _write_date,
    _K.TEXT: _write_plain,
    _K.LIST: _write_list,
    _K.YES_NO: _write_yes_no,
    _K.CHOICE: _write_plain,
}
