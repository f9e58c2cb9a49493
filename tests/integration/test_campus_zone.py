"""The clock of the campus: that of its first building that has one."""

import pytest

from inventory.models import Building
from planner.store.briefs import campus_zone


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("zones", "said"),
    [
        ((), "UTC"),
        ((None,), "UTC"),
        ((None, "Asia/Tokyo"), "Asia/Tokyo"),
        (("Asia/Tokyo", "Asia/Tokyo"), "Asia/Tokyo"),
        (("Europe/Lisbon", "Asia/Tokyo"), "Europe/Lisbon"),
        (("Asia/Tokyo", None, "Europe/Lisbon"), "Asia/Tokyo"),
    ],
)
def test_the_first_building_that_has_a_time_zone_says_the_campuss(zones: tuple[str | None, ...], said: str) -> None:
    for number, zone in reversed(list(enumerate(zones))):
        Building.objects.create(key=f"B{number}", time_zone=zone)
    assert campus_zone() == said
