"""How sure a plan is, in a real browser: read by a person, a screen reader and a phone."""

import pytest

from planner.models import Plan
from tests.browser.conftest import Opened, shoot
from tests.browser.test_site_browser import judged, overflows

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_how_sure_a_plan_is_has_no_violation(open_site: Opened, width: str) -> None:
    page = open_site("reader", width)
    answer = page.goto(f"/plans/{Plan.objects.earliest('pk').pk}/how-sure/")
    assert answer is not None
    assert answer.status == 200
    shoot(page, f"how-sure-{width}")
    assert judged(page) == []
    assert not overflows(page)
