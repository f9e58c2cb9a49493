"""Days are read where nobody can read them the other way round, and refused in words everywhere else."""

from datetime import datetime

import pytest

from inventory.core.days import DayError, moment_from_text


@pytest.mark.parametrize(
    "text",
    [
        "2027-03-02",  # ISO 8601-1:2019, 5.2.2.1: calendar date, extended format
        "2027-3-2",
        "2 Mar 2027",
        " 02 march 2027 ",
        "2.\N{NO-BREAK SPACE}Mar.\N{NO-BREAK SPACE}2027",  # as copied from a page
        "Mar 2, 2027",
        "March 2 2027",
    ],
)
def test_a_day_whose_month_is_beyond_doubt_is_read(text: str) -> None:
    assert moment_from_text(text) == datetime(2027, 3, 2)  # noqa: DTZ001 - local by definition


@pytest.mark.parametrize("text", ["2027-03-02T08:05", "2027-03-02 08:05:00", "2 Mar 2027, 08:05", "2 Mar 2027 8:05"])
def test_the_time_of_day_is_read_with_it(text: str) -> None:
    assert moment_from_text(text) == datetime(2027, 3, 2, 8, 5)  # noqa: DTZ001 - local by definition


# the same figures are 2 March in one country and 3 February in another (common practice)
@pytest.mark.parametrize("text", ["02/03/2027", "2.3.2027", "3-2-27", "2027/03/02", "13/03/2027", "2.3.2027 08:00"])
def test_figures_alone_are_refused_since_they_can_be_read_in_two_ways(text: str) -> None:
    with pytest.raises(DayError, match="two ways") as refusal:
        moment_from_text(text)
    assert "2 Mar 2027" in refusal.value.remedy


@pytest.mark.parametrize("text", ["30 Feb 2027", "2027-13-01", "0 Mar 2027", "2 Mar 0000", "2 Mar 2027, 24:01"])
def test_a_day_that_is_in_no_calendar_is_refused(text: str) -> None:
    with pytest.raises(DayError, match="no such day"):
        moment_from_text(text)


@pytest.mark.parametrize("text", ["", "soon", "2 Ma 2027", "2 Marz 2027", "2 Mar", "Mar 2027", "4711", "2 Mar 20277"])
def test_what_is_no_day_is_none(text: str) -> None:
    assert moment_from_text(text) is None
