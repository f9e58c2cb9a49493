"""Lists on the page of an intake are cut so that the page stays small, and say how much is not shown."""

from hypothesis import given
from hypothesis import strategies as st

from planner.views.intake import fit_in


def test_short_lists_leave_their_share_to_long_ones() -> None:
    assert fit_in([("a", [1], 1), ("b", list(range(9)), 20)], 6) == [("a", [1], 0), ("b", [0, 1, 2, 3, 4], 15)]


@given(st.lists(st.integers(0, 50), max_size=8), st.integers(1, 60))
def test_no_more_is_shown_than_fits_and_none_is_forgotten(sizes: list[int], most: int) -> None:
    lists = [(str(at), list(range(size)), size) for at, size in enumerate(sizes)]
    cut = fit_in(lists, most)
    shown = [len(rows) for _, rows, _ in cut]
    assert sum(shown) <= max(most, len(lists))
    assert [len(rows) + more for _, rows, more in cut] == sizes
    assert all(count or not size for count, size in zip(shown, sizes, strict=True))
    if sum(sizes) <= most:
        assert shown == sizes
