"""Calendar files against RFC 5545 (iCalendar, September 2009), clause by clause, on the bytes themselves."""

import re

import pytest

from planner.handover.ics import crew_calendar, write_calendars
from tests.handed import small_handover


@pytest.fixture(params=["building-A.ics", "crew-Night-A.ics"])
def content(request: pytest.FixtureRequest) -> bytes:
    return write_calendars(small_handover())[str(request.param)]


def unfolded(content: bytes) -> list[str]:
    return content.replace(b"\r\n ", b"").decode("utf-8").split("\r\n")[:-1]


def test_lines_end_in_crlf_and_are_at_most_75_octets_long(content: bytes) -> None:
    """Section 3.1: lines are delimited by CRLF and should not be longer than 75 octets, without the break."""
    assert content.endswith(b"\r\n")
    lines = content.split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(len(line) for line in lines) <= 75


def test_the_calendar_has_product_and_version_once(content: bytes) -> None:
    """Section 3.6: PRODID and VERSION are required and occur once; 3.7.4: the version is 2.0."""
    lines = unfolded(content)
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1


def test_every_event_has_the_required_properties_once(content: bytes) -> None:
    """Section 3.6.1: UID and DTSTAMP are required and occur once, DTSTART once; DTEND is later (3.8.2.2)."""
    blocks = re.findall(r"BEGIN:VEVENT\n(.*?)END:VEVENT", "\n".join(unfolded(content)), flags=re.DOTALL)
    assert len(blocks) == 2
    for block in blocks:
        for name in ("UID", "DTSTAMP", "DTSTART", "DTEND"):
            assert len(re.findall(rf"^{name}:", block, flags=re.MULTILINE)) == 1
        start, end = (re.search(rf"^{name}:(\S+)$", block, flags=re.MULTILINE) for name in ("DTSTART", "DTEND"))
        assert start is not None
        assert end is not None
        assert start[1] < end[1]


def test_instants_are_in_utc_by_the_form_with_z(content: bytes) -> None:
    """Section 3.3.5, form 2: date with UTC time; so no time zone needs to come along (3.8.7.2 asks it of DTSTAMP)."""
    times = [line for line in unfolded(content) if line.startswith(("DTSTAMP", "DTSTART", "DTEND"))]
    assert len(times) == 6
    assert all(re.fullmatch(r"(DTSTAMP|DTSTART|DTEND):\d{8}T\d{6}Z", line) for line in times)


def test_a_published_calendar_names_each_event_once(content: bytes) -> None:
    """Section 3.8.4.7: a UID is globally unique."""
    uids = [line for line in unfolded(content) if line.startswith("UID:")]
    assert len(uids) == len(set(uids)) == 2


def test_a_calendar_without_events_still_holds_a_component() -> None:
    """RFC 5545, 3.4 and 3.6: one component at least; 3.6.5: a zone has one observance at least, with these three."""
    lines = unfolded(crew_calendar(small_handover(), "Night B"))
    assert "BEGIN:VEVENT" not in lines
    zone = lines[lines.index("BEGIN:VTIMEZONE") : lines.index("END:VTIMEZONE")]
    assert "TZID:UTC" in zone
    inside = zone[zone.index("BEGIN:STANDARD") + 1 : zone.index("END:STANDARD")]
    assert sorted(inside) == ["DTSTART:19700101T000000", "TZOFFSETFROM:+0000", "TZOFFSETTO:+0000"]
    assert "BEGIN:VTIMEZONE" not in unfolded(crew_calendar(small_handover(), "Night A"))
