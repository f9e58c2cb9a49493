"""Room calendars: what counts as taken, and what is said when a file cannot be read."""

from datetime import UTC, datetime

import pytest

from planner.core.calendars import busy_spans
from planner.core.clocks import clock_of, instant_of, utc_minute
from planner.core.ics_lines import CalendarError

REACH = utc_minute(datetime(2027, 1, 1, tzinfo=UTC)), utc_minute(datetime(2028, 1, 1, tzinfo=UTC))
BERLIN = clock_of("Europe/Berlin")
AT_TEN = ("DTSTART;TZID=Europe/Berlin:20270302T100000", "DTEND;TZID=Europe/Berlin:20270302T110000")
TEN_TO_ELEVEN = ["2027-03-02 09:00 - 10:00"]  # UTC


def _file(*lines: str) -> bytes:
    return "\r\n".join(("BEGIN:VCALENDAR", "VERSION:2.0", *lines, "END:VCALENDAR", "")).encode()


def _event(*lines: str, uid: str = "a") -> tuple[str, ...]:
    return "BEGIN:VEVENT", f"UID:{uid}", *lines, "END:VEVENT"


def _taken(content: bytes) -> list[str]:
    spans = busy_spans(content, "room.ics", BERLIN, REACH).tolist()
    return [f"{instant_of(start):%Y-%m-%d %H:%M} - {instant_of(end):%H:%M}" for start, end in spans]


@pytest.mark.parametrize(
    ("lines", "taken"),
    [
        (AT_TEN, TEN_TO_ELEVEN),
        ((*AT_TEN, "STATUS:TENTATIVE"), TEN_TO_ELEVEN),
        ((*AT_TEN, "TRANSP:OPAQUE"), TEN_TO_ELEVEN),
        ((*AT_TEN, "STATUS:CANCELLED"), []),
        ((*AT_TEN, "TRANSP:TRANSPARENT"), []),
        (("DTSTART:20270302T100000", "DURATION:PT1H"), TEN_TO_ELEVEN),  # floating: local to the building
        (("DTSTART:20270302T090000Z", "DTEND:20270302T100000Z"), TEN_TO_ELEVEN),
        (("DTSTART;TZID=America/New_York:20270302T040000", "DURATION:PT1H"), TEN_TO_ELEVEN),
        (("DTSTART;TZID=W. Europe Standard Time:20270302T100000", "DURATION:PT1H"), TEN_TO_ELEVEN),
        (("DTSTART;VALUE=DATE:20270302",), ["2027-03-01 23:00 - 23:00"]),  # the whole day, local
        (
            ("DTSTART;VALUE=DATE:20270302", "DTEND;VALUE=DATE:20270302"),
            ["2027-03-01 23:00 - 23:00"],
        ),  # seen in the wild
        (("DTSTART;VALUE=DATE:20270328",), ["2027-03-27 23:00 - 22:00"]),  # a day of 23 hours
        (("DTSTART:20270302T100000",), []),  # no length
        (("DTSTART:20270302T100030", "DTEND:20270302T100130"), ["2027-03-02 09:00 - 09:02"]),  # rounded outwards
        (("DTSTART:20270302T100000", "DTEND:20270302T1", " 10000"), TEN_TO_ELEVEN),  # folded
    ],
)
def test_an_event_takes_its_room_for_as_long_as_the_standard_says(lines: tuple[str, ...], taken: list[str]) -> None:
    assert _taken(_file(*_event(*lines))) == taken


def test_whole_days_end_before_the_day_named_as_their_end() -> None:
    content = _file(*_event("DTSTART;VALUE=DATE:20270302", "DTEND;VALUE=DATE:20270304"))
    ((start, end),) = busy_spans(content, "room.ics", BERLIN, REACH).tolist()
    assert (instant_of(start), instant_of(end)) == (
        datetime(2027, 3, 1, 23, tzinfo=UTC),
        datetime(2027, 3, 3, 23, tzinfo=UTC),
    )


def test_exceptions_and_moved_and_cancelled_instances_change_only_their_own_day() -> None:
    # Daily 1 to 5 March; the 2nd is excepted, the 3rd moved by two hours, the 4th cancelled.
    master = _event("DTSTART:20270301T100000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=5", "EXDATE:20270302T100000Z")
    moved = _event("RECURRENCE-ID:20270303T100000Z", "DTSTART:20270303T120000Z", "DURATION:PT1H")
    cancelled = _event(
        "RECURRENCE-ID:20270304T100000Z", "DTSTART:20270304T100000Z", "DURATION:PT1H", "STATUS:CANCELLED"
    )
    assert _taken(_file(*moved, *master, *cancelled)) == [
        "2027-03-01 10:00 - 11:00",
        "2027-03-03 12:00 - 13:00",
        "2027-03-05 10:00 - 11:00",
    ]


def test_an_exception_written_in_another_zone_is_the_same_instant() -> None:
    lines = (*AT_TEN, "RRULE:FREQ=DAILY;COUNT=2", "EXDATE:20270303T090000Z")
    assert _taken(_file(*_event(*lines))) == TEN_TO_ELEVEN


def test_extra_dates_are_taken_too() -> None:
    lines = (*AT_TEN, "RDATE;TZID=Europe/Berlin:20270305T100000,20270306T100000")
    assert _taken(_file(*_event(*lines))) == [*TEN_TO_ELEVEN, "2027-03-05 09:00 - 10:00", "2027-03-06 09:00 - 10:00"]


def test_a_first_instance_that_its_rule_leaves_out_counts_all_the_same() -> None:
    # 2 March 2027 is a Tuesday; the rule wants Mondays.
    lines = (*AT_TEN, "RRULE:FREQ=WEEKLY;BYDAY=MO;UNTIL=20270309T000000Z")
    assert _taken(_file(*_event(*lines))) == [*TEN_TO_ELEVEN, "2027-03-08 09:00 - 10:00"]


@pytest.mark.parametrize(
    ("until", "count"), [("20270304T090000Z", 3), ("20270304T085900Z", 2), ("20270304", 3), ("20270304T100000", 3)]
)
def test_until_includes_its_own_instant_or_day(until: str, count: int) -> None:
    assert len(_taken(_file(*_event(*AT_TEN, f"RRULE:FREQ=DAILY;UNTIL={until}")))) == count


def test_a_booking_over_a_clock_change_takes_the_longer_of_clock_and_exact_time() -> None:
    # 22:00 to 06:00 local, daily from 26 March; the clocks go on in the night of the 27th, which loses an hour.
    lines = ("DTSTART;TZID=Europe/Berlin:20270326T220000", "DTEND;TZID=Europe/Berlin:20270327T060000")
    assert _taken(_file(*_event(*lines, "RRULE:FREQ=DAILY;COUNT=3"))) == [
        "2027-03-26 21:00 - 05:00",
        "2027-03-27 21:00 - 05:00",  # eight hours, until 7:00 on the wall
        "2027-03-28 20:00 - 04:00",
    ]


def test_a_zone_that_only_the_file_defines_is_read_from_the_file() -> None:
    zone = (
        "BEGIN:VTIMEZONE", "TZID:Campus time", "BEGIN:STANDARD", "DTSTART:19700101T000000",
        "TZOFFSETFROM:+0300", "TZOFFSETTO:+0300", "END:STANDARD", "END:VTIMEZONE",
    )  # fmt: skip
    content = _file(*zone, *_event("DTSTART;TZID=Campus time:20270302T120000", "DURATION:PT1H"))
    assert _taken(content) == TEN_TO_ELEVEN


def test_busy_times_count_and_free_ones_do_not() -> None:
    lines = (
        "BEGIN:VFREEBUSY",
        "FREEBUSY;FBTYPE=BUSY-TENTATIVE:20270302T090000Z/PT1H,20270303T090000Z/20270303T100000Z",
        "FREEBUSY;FBTYPE=FREE:20270304T090000Z/PT1H",
        "END:VFREEBUSY",
    )
    assert _taken(_file(*lines)) == [*TEN_TO_ELEVEN, "2027-03-03 09:00 - 10:00"]


def test_periods_as_extra_dates_are_read() -> None:
    lines = (*AT_TEN, "RDATE;VALUE=PERIOD:20270303T090000Z/PT2H")
    assert _taken(_file(*_event(*lines))) == [*TEN_TO_ELEVEN, "2027-03-03 09:00 - 11:00"]


def test_moving_an_instance_and_all_that_follow_is_read() -> None:
    master = _event(*AT_TEN, "RRULE:FREQ=DAILY;COUNT=3")
    later = _event(
        "RECURRENCE-ID;RANGE=THISANDFUTURE;TZID=Europe/Berlin:20270303T100000",
        "DTSTART;TZID=Europe/Berlin:20270303T120000",
        "DTEND;TZID=Europe/Berlin:20270303T130000",
    )
    assert _taken(_file(*master, *later)) == [*TEN_TO_ELEVEN, "2027-03-03 11:00 - 12:00", "2027-03-04 11:00 - 12:00"]


def test_two_calendars_in_one_file_are_both_read() -> None:
    assert len(_taken(_file(*_event(*AT_TEN)) + _file(*_event("DTSTART:20270305T100000Z", "DURATION:PT1H")))) == 2


def test_what_begins_before_the_span_asked_for_still_takes_its_first_hours() -> None:
    assert _taken(_file(*_event("DTSTART:20261231T220000Z", "DURATION:PT4H"))) == ["2027-01-01 00:00 - 02:00"]


def test_a_hundred_thousand_single_bookings_are_all_read() -> None:
    days = [f"2027{month:02}{day:02}" for month in range(1, 11) for day in range(1, 29)]
    events = (
        _event(f"DTSTART:{days[at % 280]}T{at // 280 % 24:02}{at // 6720 % 60:02}00Z", "DURATION:PT1M")
        for at in range(100_000)
    )
    taken = busy_spans(_file(*(line for event in events for line in event)), "room.ics", BERLIN, REACH)
    assert int((taken[:, 1] - taken[:, 0]).sum()) == 100_000


@pytest.mark.parametrize(("rule", "events"), [("FREQ=DAILY", 100_000), ("FREQ=DAILY", 2000), ("FREQ=HOURLY", 40)])
def test_rules_that_repeat_more_often_than_can_be_counted_are_refused_in_words(rule: str, events: int) -> None:
    lines = ("DTSTART:20240301T100000Z", "DURATION:PT1H", f"RRULE:{rule}")
    content = _file(*(_event(*lines) * events))
    with pytest.raises(CalendarError, match="leave out past ones"):
        busy_spans(content, "room.ics", BERLIN, REACH)


def test_a_rare_recurrence_among_very_many_events_is_refused_in_words() -> None:
    many = _event(*AT_TEN, "RRULE:FREQ=DAILY;COUNT=1") * 6000
    with pytest.raises(CalendarError, match="RDATE of a rare kind among 6,001 events"):
        busy_spans(_file(*many, *_event(*AT_TEN, "RDATE;VALUE=PERIOD:20270303T090000Z/PT2H")), "r", BERLIN, REACH)


@pytest.mark.parametrize(
    ("content", "line", "what"),
    [
        (b"", 1, "empty"),
        (b"PK\x03\x04", 1, "no line of a calendar"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nUID:a\r\n", 3, "ends inside the VEVENT that begins in line 2"),
        (b"BEGIN:VEVENT\r\nEND:VEVENT\r\n", 1, "BEGIN:VCALENDAR"),
        (b"BEGIN:VCALENDAR\nEND:VEVENT\n", 2, "closes the VCALENDAR"),
        (b"BEGIN:VCALENDAR\nSUMMARY:\xff\nEND:VCALENDAR\n", 2, "not UTF-8"),
        (_file(*_event("SUMMARY:x")), 3, "no DTSTART"),
        (_file(*_event("DTSTART:tomorrow")), 5, "neither a date"),
        (_file(*_event("DTSTART:20270230")), 5, "no such day"),
        (_file(*_event("DTSTART:20270302T250000")), 5, "no such time"),
        (_file(*_event("DTSTART;TZID=Middle/Earth:20270302T100000")), 5, "no time zone 'Middle/Earth'"),
        (_file(*_event(*AT_TEN, "DURATION:PT1H")), 7, "both DTEND and DURATION"),
        (_file(*_event("DTSTART:20270302T100000", "DTEND:20270302T090000")), 6, "does not follow"),
        (_file(*_event("DTSTART:20270302T100000", "DURATION:-PT1H")), 6, "no duration"),
        (_file(*_event("DTSTART:20270302T100000", "DURATION:P")), 6, "no duration"),
        (_file(*_event(*AT_TEN, "RRULE:FREQ=OFTEN")), 7, "FREQ"),
        (_file(*_event(*AT_TEN, "RRULE:FREQ=SECONDLY")), 7, "FREQ"),
        (_file(*_event(*AT_TEN, "RRULE:FREQ=DAILY;COUNT=0")), 7, "COUNT"),
        (_file(*_event(*AT_TEN, "RRULE:FREQ=MONTHLY;BYDAY=XX")), 7, "rule of recurrence"),
        (_file(*_event(*AT_TEN, "RRULE:FREQ=DAILY", "EXDATE:never")), 8, "neither a date"),
        (_file(*_event(*AT_TEN, AT_TEN[0])), 7, "a second DTSTART"),
        (_file("BEGIN:VFREEBUSY", "FREEBUSY:20270302T090000Z", "END:VFREEBUSY"), 4, "no period"),
    ],
)
def test_what_cannot_be_read_names_file_and_line_and_is_never_free(content: bytes, line: int, what: str) -> None:
    with pytest.raises(CalendarError, match=what) as raised:
        busy_spans(content, "room.ics", BERLIN, REACH)
    assert (raised.value.file, raised.value.line) == ("room.ics", line)
    assert str(raised.value).startswith(f"calendar room.ics, line {line}: ")
