"""What the table of standards refuses to say."""

import pytest

from inventory.core.catalogue import Layout
from inventory.core.standards import StandardsError, read_standards

GOOD = """
[[standard]]
protocol = "P"
layout = "line"
source = "a document, clause 1"
rows = [{ bit_rate_kbit_s = 125, longest_bus_m = 500 }, { bit_rate_kbit_s = 50, source = "clause 2" }]
"""


def test_rows_share_what_the_standard_says_and_add_their_own() -> None:
    slow, fast = read_standards(GOOD)
    assert (slow.bit_rate_kbit_s, slow.source, slow.longest_bus_m) == (50.0, "clause 2", None)
    assert (fast.bit_rate_kbit_s, fast.source, fast.longest_bus_m) == (125.0, "a document, clause 1", 500.0)
    assert {slow.layout, fast.layout} == {Layout.LINE}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("longest_bus_m", "longest_bus_ft", "P has fields that no protocol row has: longest_bus_ft"),
        ('source = "a document, clause 1"\n', "", "P lacks source"),
        ("= 50,", "= 125,", "P at 125.0 kbit/s stands twice"),
    ],
)
def test_a_row_that_no_protocol_can_hold_is_refused(old: str, new: str, words: str) -> None:
    with pytest.raises(StandardsError, match=words):
        read_standards(GOOD.replace(old, new))
