"""Where end resistors are after a change."""

import pytest

from inventory.core.catalogue import EndsBus
from planner.core.circuits import Stretch
from planner.core.ends import EndResistor, How, end_resistors, merged, trunk_ends

YES, NO, SWITCH = EndsBus.YES, EndsBus.NO, EndsBus.SWITCH


def run(near: str, far: str, length_m: float | None = 10.0) -> Stretch:
    return Stretch(key=f"{near}{far}", ends=(near, far), length_m=length_m, cable=None)


LINE = (run("G", "A", None), run("A", "B", None))
STUB = (run("G", "J", 20.0), run("J", "A", 3.0), run("J", "B", 15.0))


def how(nodes: dict[str, EndsBus | None], stretches: tuple[Stretch, ...], ends: int | None) -> dict[str, str]:
    return {one.node: one.how.value for one in end_resistors(nodes, stretches, ends, "G")}


def test_both_ends_of_a_line_have_one_and_no_length_is_needed_for_that() -> None:
    assert how({"G": SWITCH, "A": NO, "B": NO}, LINE, 2) == {"G": "switched on", "B": "put in"}


def test_what_can_be_switched_and_is_not_at_an_end_is_switched_off() -> None:
    assert how({"G": SWITCH, "A": SWITCH, "B": YES}, LINE, 2) == {
        "G": "switched on",
        "A": "switched off",
        "B": "built in",
    }


def test_the_trunk_of_a_branched_line_is_its_longest_way() -> None:
    # G to B is 35 m, G to A 23 m, A to B 18 m
    assert trunk_ends(STUB) == ("B", "G")
    assert how({"G": NO, "J": NO, "A": SWITCH, "B": SWITCH}, STUB, 2) == {
        "A": "switched off",
        "B": "switched on",
        "G": "put in",
    }


@pytest.mark.parametrize(
    "stretches",
    [
        (),
        (run("G", "A"), run("A", "B"), run("B", "G")),  # a ring
        (run("G", "A"), run("B", "C")),  # two pieces
        (run("G", "A"), run("G", "A")),  # two cables side by side
        (run("G", "J", None), *STUB[1:]),  # branched, and a length is missing
    ],
)
def test_no_end_is_guessed(stretches: tuple[Stretch, ...]) -> None:
    assert trunk_ends(stretches) is None
    assert how({"G": SWITCH, "A": NO, "B": NO}, stretches, 2) == {}


@pytest.mark.parametrize(
    ("nodes", "found"),
    [
        ({"G": NO, "A": NO, "B": NO}, {"B": "put in"}),  # as far from the gateway as the line goes
        ({"G": SWITCH, "A": NO, "B": NO}, {"G": "switched on"}),
        ({"G": SWITCH, "A": NO, "B": SWITCH}, {"B": "switched on", "G": "switched off"}),
        ({"G": SWITCH, "A": YES, "B": SWITCH}, {"A": "built in", "B": "switched off", "G": "switched off"}),
    ],
)
def test_a_single_one_is_where_one_is_else_where_one_can_be(
    nodes: dict[str, EndsBus | None], found: dict[str, str]
) -> None:
    assert how(nodes, LINE, 1) == found


def test_a_bus_without_end_resistors_has_its_switches_off() -> None:
    assert how({"G": SWITCH, "A": NO, "B": NO}, LINE, 0) == {"G": "switched off"}
    assert how({"G": SWITCH, "A": NO, "B": NO}, LINE, None) == {}


def test_one_that_is_switched_off_does_not_work() -> None:
    assert [one for one in How if not EndResistor(node="A", how=one).works] == [How.OFF]


@pytest.mark.parametrize(
    ("model", "own", "found"),
    [(YES, NO, SWITCH), (None, YES, YES), (NO, None, NO), (YES, YES, YES), (None, None, None)],
)
def test_a_row_and_a_model_that_disagree_can_be_changed(
    model: EndsBus | None, own: EndsBus | None, found: EndsBus | None
) -> None:
    assert merged(model, own) is found


def test_one_that_is_put_in_stands_at_the_far_end_whatever_the_gateway_could_switch_on() -> None:
    nodes = {"G": SWITCH, "A": NO, "B": NO}
    found = end_resistors(nodes, LINE, 1, "G", put_in=True)
    assert [(one.node, one.how.value) for one in found] == [("B", "put in"), ("G", "switched off")]
    assert end_resistors(nodes | {"B": YES}, LINE, 1, "G", put_in=True)[0] == EndResistor(node="B", how=How.BUILT_IN)
    assert how(nodes, LINE, 1) == {"G": "switched on"}
