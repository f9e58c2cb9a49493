"""Settings of the brief as people write them."""

import string
from dataclasses import fields
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.core.brief import SETTINGS, Brief, Setting, SettingKind
from planner.core.brief_families import Family
from planner.core.brief_text import read_brief, write_brief


def one(title: str, text: str) -> object:
    brief, problems = read_brief({title: text})
    assert brief is not None, problems
    setting = next(setting for setting in SETTINGS if setting.title == title)
    return getattr(brief, setting.name)


def refused(title: str, text: str) -> str:
    brief, (problem,) = read_brief({title: text})
    assert brief is None
    assert (problem.sheet, problem.value) == ("Brief", text)
    return problem.remedy


def test_every_field_of_the_brief_has_a_setting_and_the_other_way_round() -> None:
    assert {setting.name for setting in SETTINGS} == {field.name for field in fields(Brief)}


def test_nothing_set_is_the_default_brief() -> None:
    assert read_brief({}) == (Brief(), ())
    assert read_brief({"Reserve": None, "Currency": "  "}) == (Brief(), ())


@pytest.mark.parametrize(
    ("title", "text", "value"),
    [
        ("Work from", "22:00", 1320),
        ("Work to", "6:30", 390),
        ("Work from", "21:00:00", 1260),
        ("Work days", "Mon Tue", (0, 1)),
        ("Work days", "sat, Sunday", (5, 6)),
        ("Work days", "Mon-Fri", (0, 1, 2, 3, 4)),
        ("Longest outage", "240", 240),
        ("Longest outage", "240.0", 240),
        ("Conductor temperature", "-12,5", -12.5),
        ("Labour rate", "52,40", Decimal("52.40")),
        ("Currency", "CHF", "CHF"),
        ("Forbidden methods", "M-1, M 2 ,", ("M-1", "M 2")),
        ("Work on holidays", "No", False),
        ("Doubt reach", "Floor", "floor"),
        ("Scrapped share", "12,5", 12.5),
        ("Failures logged from", "2019-01-07", date(2019, 1, 7)),
        ("Failures logged from", "2019-01-07 00:00", date(2019, 1, 7)),
    ],
)
def test_a_setting_is_read_as_people_write_it(title: str, text: str, value: object) -> None:
    assert one(title, text) == value


@pytest.mark.parametrize(
    ("title", "text", "remedy"),
    [
        ("Work from", "24:00", "such as 22:00"),
        ("Work from", "10 pm", "such as 22:00"),
        ("Work days", "Mon Someday", "Mon-Fri"),
        ("Longest outage", "2.5", "whole number of minutes"),
        ("Longest outage", "four hours", "whole number of minutes, such as 480"),
        ("Labour rate", "1,234", "two ways"),
        ("Labour rate", "45 EUR", "Write a number, per person and hour, such as 45.00."),
        ("Reserve", "lots", "Write a number of percent, such as 10."),
        ("Conductor temperature", "hot", "Write a number of degrees Celsius, such as 50."),
        ("Currency", "euro", "EUR"),
        ("Work on holidays", "perhaps", "yes or no"),
        ("Doubt reach", "campus", "room, floor, building"),
        ("Failures logged from", "spring 2019", "must be a date: write the day as"),
        ("Failures logged from", "2019-02-30", "no such day"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_to_write(title: str, text: str, remedy: str) -> None:
    assert remedy in refused(title, text)


LIMITED = [setting for setting in SETTINGS if setting.lowest is not None and setting.highest is not None]


@pytest.mark.parametrize("setting", LIMITED, ids=lambda setting: setting.name)
def test_a_setting_holds_at_its_limits_and_not_past_them(setting: Setting) -> None:
    assert setting.lowest is not None
    assert setting.highest is not None
    assert one(setting.title, str(setting.lowest)) == setting.lowest
    assert one(setting.title, str(setting.highest)) == setting.highest
    assert "from" in refused(setting.title, str(setting.lowest - 1))
    assert "from" in refused(setting.title, str(setting.highest + 1))


def test_an_unknown_setting_is_refused_and_the_settings_are_named() -> None:
    (problem,) = read_brief({"Colour": "red"})[1]
    assert all(setting.title in problem.remedy for setting in SETTINGS)


def test_a_setting_that_comes_twice_is_refused() -> None:
    brief, problems = read_brief({"Reserve": "10", "reserve ": "12"})
    assert brief is None
    assert "twice" in problems[0].remedy


def test_all_problems_are_told_at_once() -> None:
    assert len(read_brief({"Reserve": "much", "Spare floor": "few", "Colour": "red"})[1]) == 3


METHODS = st.lists(st.text(string.ascii_letters + string.digits + "-. ", min_size=1).map(str.strip).filter(bool)).map(
    tuple
)
PLAIN = {
    SettingKind.YES_NO: st.booleans(),
    SettingKind.DATE: st.none() | st.dates(),
    SettingKind.CLOCK: st.integers(0, 1439),
    SettingKind.TEXT: st.sampled_from(["EUR", "CHF", "NOK"]),
    SettingKind.MONEY: st.decimals(0, 10**9, places=2),
}


def _values(setting: Setting) -> st.SearchStrategy[object]:
    if setting.kind in PLAIN:
        return PLAIN[setting.kind]
    if setting.name == "work_days":
        return st.sets(st.integers(0, 6), min_size=1).map(lambda days: tuple(sorted(days)))
    if setting.kind is SettingKind.LIST:
        return METHODS
    if setting.kind is SettingKind.CHOICE:
        return st.sampled_from(setting.choices)
    low, high = setting.lowest or 0, setting.highest or 0
    return st.floats(low, high) if setting.kind is SettingKind.NUMBER else st.integers(int(low), int(high))


@given(st.fixed_dictionaries({setting.name: _values(setting) for setting in SETTINGS}))
def test_what_is_written_reads_back_as_it_was(values: dict[str, object]) -> None:
    brief = Brief(**values)  # type: ignore[arg-type]
    assert read_brief(dict(write_brief(brief))) == (brief, ())


def test_every_setting_stands_under_one_heading_and_every_heading_has_settings() -> None:
    """The form of the brief is made of families; a setting without one would be lost from the page."""
    held = {family: [one.name for one in SETTINGS if one.family is family] for family in Family}
    assert all(held.values())
    assert sorted(name for names in held.values() for name in names) == sorted(one.name for one in SETTINGS)
    assert len({family.title for family in Family}) == len(Family)
