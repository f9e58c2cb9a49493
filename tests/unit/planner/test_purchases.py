"""What to order now, what can wait and what is too late: each at its last day and the day after."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from planner.core.materials import TakeoffLine
from planner.core.purchases import Urgency, purchases

LINE = TakeoffLine(
    phase="P1",
    part="P-1",
    description=None,
    unit="piece",
    supplier="Northquay Supply",
    gross=Decimal(9),
    allowance=Decimal(0),
    from_stock=Decimal(0),
    from_freed=Decimal(0),
    net=Decimal(9),
    pack=Decimal(1),
    packs=9,
    bought=Decimal(9),
    price=None,
    currency=None,
    cost=None,
    first_need=date(2027, 3, 8),
    short_on=date(2027, 3, 24),
    order_by=date(2027, 3, 5),
    lead_time_days=14,
)


@pytest.mark.parametrize(
    ("today", "urgency", "words"),
    [
        # Ordered on Friday 5 March it comes on the 19th, and three working days later is the 24th: just in time.
        (date(2027, 3, 5), Urgency.NOW, "Order by 5 Mar 2027 for the night of 24 Mar 2027."),
        (
            date(2027, 3, 6),
            Urgency.NOW,  # Saturday the 20th is received as early as Friday the 19th would be
            "Order by 5 Mar 2027 for the night of 24 Mar 2027.",
        ),
        (
            date(2027, 3, 8),
            Urgency.LATE,
            (
                "Was to be ordered by 5 Mar 2027. Ordered today it can be used from 25 Mar 2027, 1 day after the night of "
                "24 Mar 2027, which is the first to be short of it."
            ),
        ),
        (date(2027, 2, 19), Urgency.NOW, "Order by 5 Mar 2027 for the night of 24 Mar 2027."),  # ten working days
        (date(2027, 2, 18), Urgency.WAIT, "Order by 5 Mar 2027 for the night of 24 Mar 2027."),
    ],
)
def test_urgency_and_words_by_the_day(today: date, urgency: Urgency, words: str) -> None:
    (found,) = purchases([LINE], 3, today)
    assert (found.urgency, found.words) == (urgency, words)


def test_what_nobody_can_date_says_so_and_stands_behind_what_is_too_late() -> None:
    undated = replace(LINE, part="P-0", lead_time_days=None, order_by=None)
    later = replace(LINE, part="P-2", order_by=date(2027, 6, 1), short_on=date(2027, 6, 20))
    found = purchases([later, undated, LINE, replace(LINE, packs=0)], 3, date(2027, 3, 9))
    assert [(each.line.part, each.urgency.value) for each in found] == [
        ("P-1", "too late"),
        ("P-0", "no date"),
        ("P-2", "can wait"),
    ]
    assert "lead time is not known" in found[1].words
