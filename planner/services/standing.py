"""How the campus stands: what the first page says. Reads only."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from django.db.models import Count, Q, QuerySet

from inventory.core.ageing import years_before
from inventory.core.catalogue import NodeKind
from inventory.models import Delivery, Failure, Node
from planner.core.findings import Verdict
from planner.core.plans import OrderState
from planner.models import Assessment, Order, Plan, Segment, SegmentMember

BAND_YEARS = 5
LAST_BAND_YEARS = 30
DAYS_OF_FAILURES = 365
SHOWN_ORDERS = 6
SHOWN_QUESTIONS = 8
SEGMENTS_ASKED = 2000  # questions are gathered from so many segments, those with most stations first
ENDED = (OrderState.ACCEPTED.value, OrderState.BACKED_OUT.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Stations from `years` of age to below `below`; both None: the day of installation is not known."""

    years: int | None
    below: int | None
    stations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question that a survey must answer, with the old stations that wait for it and one segment that asks it."""

    text: str
    stations: int
    segments: int
    segment: str


def current_plan() -> Plan | None:
    """Return the plan that the site works by: the one adopted last, else the newest."""
    return Plan.objects.current()


def stations_by_verdict(assessment: Assessment | None) -> dict[str | None, int]:
    """Return how many stations stand on segments of each verdict; None counts those not assessed."""
    stations = Node.objects.filter(model__kind=NodeKind.STATION).count()
    members = SegmentMember.objects.filter(segment__assessment=assessment, node__model__kind=NodeKind.STATION)
    rows = members.order_by().values_list("segment__verdict").annotate(Count("node", distinct=True))
    counts: dict[str | None, int] = dict.fromkeys((verdict.value for verdict in Verdict), 0)
    counts |= dict(rows if assessment else ())
    counts[None] = max(stations - sum(counts.values()), 0)
    return counts


def stations_by_age(on: date) -> tuple[Band, ...]:
    """Return how many stations are of each age, in bands of five years."""
    edges = [*range(0, LAST_BAND_YEARS, BAND_YEARS), LAST_BAND_YEARS]
    spans: list[tuple[int | None, int | None]] = [
        *pairwise(edges),
        (LAST_BAND_YEARS, None),
        (None, None),
    ]
    asked = {f"band_{number}": Count("pk", filter=_in_band(span, on)) for number, span in enumerate(spans)}
    counts = Node.objects.filter(model__kind=NodeKind.STATION).aggregate(**asked)
    return tuple(
        Band(years=years, below=below, stations=counts[f"band_{number}"]) for number, (years, below) in enumerate(spans)
    )


def _in_band(span: tuple[int | None, int | None], on: date) -> Q:
    years, below = span
    if years is None:
        return Q(installed=None)
    young = Q(installed__lte=years_before(on, years)) if years else Q(installed__isnull=False)
    return young & Q(installed__gt=years_before(on, below)) if below else young


def orders_of(plan: Plan | None) -> QuerySet[Order]:
    """Return the orders of a plan; none where there is no plan."""
    return Order.objects.filter(plan=plan) if plan else Order.objects.none()


def next_orders(orders: QuerySet[Order], now: datetime) -> list[Order]:
    """Return those of the orders that come next."""
    return list(_open_orders(orders).filter(end__gte=now).order_by("start", "key")[:SHOWN_ORDERS])


def overdue_orders(orders: QuerySet[Order], now: datetime) -> list[Order]:
    """Return the orders that come first of those whose time has passed and that nobody has accepted or backed out."""
    return list(_open_orders(orders).filter(are_overdue(now)).order_by("start", "key")[:SHOWN_ORDERS])


def count_overdue(orders: QuerySet[Order], now: datetime, shown: list[Order]) -> int:
    """Return how many orders are overdue, of which those shown are the first."""
    if len(shown) < SHOWN_ORDERS:
        return len(shown)
    return _open_orders(orders).filter(are_overdue(now)).count()


def count_backed_out(orders: QuerySet[Order]) -> int:
    """Return how many of the orders were backed out and are to be planned again."""
    return orders.filter(state=OrderState.BACKED_OUT).count()


def are_overdue(now: datetime) -> Q:
    """Return what tells an order whose time has passed and that nobody has accepted or backed out."""
    return Q(start__isnull=False, end__lt=now) & ~Q(state__in=ENDED)


def _open_orders(orders: QuerySet[Order]) -> QuerySet[Order]:
    return orders.filter(start__isnull=False).exclude(state__in=ENDED).select_related("building").defer("data")


def questions(assessment: Assessment | None) -> tuple[Question, ...]:
    """Return the unanswered questions that hold back the most old stations."""
    return rank_questions((key, count, texts) for _, key, count, texts in _asking(assessment))


def segments_asking(assessment: Assessment | None, question: str) -> tuple[int, ...]:
    """Return the ids of the segments that wait for the answer to a question, of those that questions are gathered from."""
    return tuple(pk for pk, _, _, texts in _asking(assessment) if question in texts)


def stations_asking(assessment: Assessment | None, question: str) -> tuple[str, ...]:
    """Return the old stations that wait for the answer to a question."""
    found = Segment.objects.filter(pk__in=segments_asking(assessment, question))
    return tuple(key for keys in found.values_list("report__old_stations", flat=True) for key in keys or ())


def _asking(assessment: Assessment | None) -> Iterator[tuple[int, str, int, tuple[str, ...]]]:
    """Yield the segments that wait for a survey, those with most old stations first: id, key, old stations, questions."""
    if assessment is None:
        return
    waiting = Segment.objects.filter(assessment=assessment, verdict=Verdict.SURVEY_FIRST)
    rows = waiting.order_by("-station_count", "key").values_list("pk", "key", "station_count", "report__questions")
    for pk, key, count, texts in rows[:SEGMENTS_ASKED]:
        yield pk, key, count, tuple(texts or ())


def rank_questions(rows: Iterable[tuple[str, int, tuple[str, ...]]]) -> tuple[Question, ...]:
    """Gather questions over segments (key, old stations, questions) and rank them by the stations they hold back."""
    stations: Counter[str] = Counter()
    segments: Counter[str] = Counter()
    first: dict[str, str] = {}
    for key, count, texts in rows:
        for text in texts:
            stations[text] += count
            segments[text] += 1
            first.setdefault(text, key)
    ranked = sorted(stations, key=lambda text: (-stations[text], text))[:SHOWN_QUESTIONS]
    return tuple(
        Question(text=text, stations=stations[text], segments=segments[text], segment=first[text]) for text in ranked
    )


def first_day_of_failures(on: date) -> date:
    """Return the first day of the year that failures are counted over; the last is the day itself."""
    return on - timedelta(days=DAYS_OF_FAILURES - 1)


def late_deliveries(on: date) -> int:
    """Return how many deliveries should have come before a day and have not."""
    return Delivery.objects.filter(due__lt=on).count()


def recent_failures(on: date) -> int:
    """Return how many failures are on record for the last year."""
    return Failure.objects.filter(date__gte=first_day_of_failures(on), date__lte=on).count()
