"""Names on the page of a segment: all that a person can follow, of very many the first ones and how many more."""

from planner.views.segments import _few


def test_few_names_are_all_said() -> None:
    assert _few(["A", "B"]) == "A, B"
    assert _few([]) == ""
    assert _few(["A: M", "B: M"], "; ") == "A: M; B: M"


def test_of_a_hundred_thousand_names_sixty_are_said_and_the_rest_counted() -> None:
    said = _few(f"N{number}" for number in range(100_000))
    assert said.startswith("N0, N1, ")
    assert said.replace("\N{NARROW NO-BREAK SPACE}", " ").endswith("N59 and 99 940 more")
    assert len(said) < 400
