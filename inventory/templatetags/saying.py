"""How values are said on pages: dates that cannot be misread, numbers with units, `not known` in words, marks beside words."""

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django import template
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.core.saying import NOT_KNOWN, day_words, moment_words, money_words, number_words

register = template.Library()

MISSING = format_html('<span class="unknown">{}</span>', NOT_KNOWN)

UNBROKEN = "\N{NO-BREAK SPACE}"  # a date is never broken over two lines

# word -> tone. Every word of a verdict or a state has a mark of the same name in parts/marks.svg.
TONES = {
    "in place": "good",
    "together": "pair",
    "clear first": "wait",
    "new cable": "bad",
    "other method": "turn",
    "survey first": "ask",
    "leave": "rest",
    "pass": "good",
    "close": "wait",
    "fail": "bad",
    "unknown": "ask",
    "drafted": "rest",
    "booked": "pair",
    "under way": "wait",
    "accepted": "good",
    "backed out": "bad",
    "queued": "rest",
    "running": "wait",
    "done": "good",
    "failed": "bad",
    "stopped": "turn",
    "likelier to fail": "wait",
    "may fail": "rest",
    "holds": "good",
    "void": "bad",
}


@register.filter
def known(value: object) -> object:
    """Show the value, or say that it is not known."""
    return MISSING if value is None or value == "" else value


@register.filter
def day(value: date | None) -> str:
    """Show a date as 2 Mar 2027."""
    return MISSING if value is None else day_words(value).replace(" ", UNBROKEN)


@register.filter
def moment(value: datetime | None, zone: str | None = None) -> str:
    """Show an instant as 2 Mar 2027, 14:05, in a time zone by name (the site's own where none is given)."""
    if value is None:
        return MISSING
    said = moment_words(timezone.localtime(value, ZoneInfo(zone) if zone else None))
    return said.replace(" ", UNBROKEN, 2)


@register.filter
def clock(value: datetime | None, zone: str | None = None) -> str:
    """Show the time of day of an instant as 06:00, in a time zone by name."""
    return MISSING if value is None else f"{timezone.localtime(value, ZoneInfo(zone) if zone else None):%H:%M}"


@register.filter
def quantity(value: float | Decimal | None, unit: str = "") -> str:
    """Show a number with its unit."""
    return MISSING if value is None else number_words(value, unit)


@register.filter
def percent(share: float | None) -> str:
    """Show a share of one in percent."""
    return MISSING if share is None else f"{100 * share:.1f} %"


@register.filter
def money(value: Decimal | None, currency: str | None = None) -> str:
    """Show an amount with its currency."""
    return MISSING if value is None else money_words(value, currency)


@register.filter
def said(value: object) -> object:
    """Show a value of any kind as pages say it."""
    if isinstance(value, date):
        return day_words(value)
    if isinstance(value, float | Decimal):
        return number_words(value)
    return known(value)


@register.filter
def without_sign(value: float) -> float:
    """Return the value without its sign, where the words already say which way."""
    return abs(value)


@register.filter
def yes_no(value: bool | None) -> str:  # noqa: FBT001 - a template filter
    """Show yes, no or not known."""
    return MISSING if value is None else ("yes" if value else "no")


@register.filter
def marked(word: str | None) -> SafeString:
    """Show a verdict or state: its mark, its tone and its word."""
    if word is None:
        return MISSING
    return format_html(
        '<span class="word tone-{}"><svg class="mark" aria-hidden="true"><use href="#mark-{}"/></svg>{}</span>',
        TONES[word],
        word.replace(" ", "-"),
        word,
    )


@register.filter
def stamped(word: str | None) -> SafeString:
    """Show a verdict or state large, as at the head of a page."""
    if word is None:
        return MISSING
    return format_html(
        '<span class="stamp tone-{}"><svg class="mark" aria-hidden="true"><use href="#mark-{}"/></svg>{}</span>',
        TONES[word],
        word.replace(" ", "-"),
        word,
    )


@register.filter
def limit(value: object) -> object:
    """Show a limit of a protocol, or say that the document sets none."""
    if value is None:
        return format_html('<span class="unknown">{}</span>', "none set")
    return number_words(value) if isinstance(value, int | float | Decimal) else value
