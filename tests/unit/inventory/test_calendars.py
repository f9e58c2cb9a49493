"""Calendar files that cannot be read are told by line; rules of RFC 5545 beside each."""

import pytest

from inventory.core.calendars import calendar_faults

GOOD = b"""BEGIN:VCALENDAR\r
VERSION:2.0\r
PRODID:-//campus//rooms//EN\r
BEGIN:VEVENT\r
UID:1@campus\r
DTSTAMP:20260101T000000Z\r
DTSTART;TZID=Europe/Lisbon:20260301T080000\r
DTEND;TZID=Europe/Lisbon:20260301T100000\r
RRULE:FREQ=WEEKLY;COUNT=3\r
SUMMARY:Lecture with a long title that is\r
  folded\r
END:VEVENT\r
END:VCALENDAR\r
"""


def test_a_sound_file_has_no_fault() -> None:
    assert calendar_faults(GOOD) == ()


def test_bare_line_feeds_are_borne() -> None:
    assert calendar_faults(GOOD.replace(b"\r\n", b"\n")) == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        pytest.param(b"SUMMARY:", b"SUMMARY ", 10, "no line of a calendar", id="3.1 content line without a colon"),
        pytest.param(
            b"DTSTART;TZID=Europe/Lisbon:20260301T080000", b"DTSTART:2026-03-01", 7, "", id="3.3.5 form of a date"
        ),
        pytest.param(b"FREQ=WEEKLY", b"FREQ=SOMETIMES", 9, "", id="3.3.10 frequency"),
        pytest.param(
            b"TZID=Europe/Lisbon:20260301T080000", b"TZID=Nowhere:20260301T080000", 7, "Nowhere", id="3.2.19 zone"
        ),
        pytest.param(
            b"DTSTART;TZID=Europe/Lisbon:20260301T080000\r\n", b"", 4, "no start", id="3.6.1 event without start"
        ),
        pytest.param(b"END:VEVENT\r\n", b"", 12, "ends what was not begun", id="3.6 event never ended"),
        pytest.param(b"END:VCALENDAR\r\n", b"", 1, "never ended", id="3.4 calendar never ended, a file cut short"),
        pytest.param(b"BEGIN:VCALENDAR\r\n", b"", 1, "BEGIN:VCALENDAR", id="3.4 no calendar"),
        pytest.param(b"Lecture", b"Le\xe7on", 10, "UTF-8", id="3.1.4 character set"),
    ],
)
def test_a_fault_is_told_with_its_line(old: bytes, new: bytes, line: int, said: str) -> None:
    assert old in GOOD
    faults = calendar_faults(GOOD.replace(old, new))
    assert faults
    assert faults[0].line == line, faults
    assert said in faults[0].why


def test_an_empty_file_is_no_calendar() -> None:
    assert [fault.line for fault in calendar_faults(b"")] == [1]


def test_a_second_calendar_in_the_file_is_read_too() -> None:
    broken = GOOD.replace(b"FREQ=WEEKLY", b"FREQ=SOMETIMES")
    assert calendar_faults(GOOD + GOOD) == ()
    assert [fault.line for fault in calendar_faults(GOOD + broken)] == [13 + 9]


def test_a_calendar_of_100_000_events_is_refused_in_words_before_it_is_read() -> None:
    event = GOOD[GOOD.index(b"BEGIN:VEVENT") : GOOD.index(b"END:VCALENDAR")]
    (fault,) = calendar_faults(GOOD.replace(event, event * 100_000))
    assert (fault.line, "100,000 events" in fault.why, "export" in fault.why) == (1, True, True)
