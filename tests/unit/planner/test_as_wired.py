"""Runs as they lie after an order, by hand: left out, laid anew, joined through where a node was."""

from dataclasses import replace

import pytest

from inventory.core.catalogue import Cable, Catalogue, Model, NodeKind
from inventory.core.snapshot import Snapshot
from planner.core.as_wired import Joint, Laid, Wired, wired_after
from planner.core.plans import Conversion
from tests.campuses import Draft
from tests.unit.planner.test_workpack import order

KINDS = (("GW", NodeKind.GATEWAY), ("JB", NodeKind.JUNCTION), ("OLD", NodeKind.STATION), ("PN", NodeKind.PANEL))
CONVERSION = Conversion(
    segment="L1",
    protocol="NB",
    bit_rate_kbit_s=None,
    buses=("L1",),
    gateways=("G",),
    stations=(("S", "M"),),
)


def campus(*runs: tuple[str, str, str, float | None], kinds: tuple[tuple[str, NodeKind], ...] = KINDS) -> Snapshot:
    """G gateway, J and K junctions, P panel, S station on L1, with runs of one cable; R9 lies on another bus."""
    draft = Draft(
        catalogue=Catalogue(
            models=tuple(Model(key=key, kind=kind) for key, kind in kinds), cables=(Cable(key="new"), Cable(key="old"))
        )
    )
    draft.building("B1")
    draft.bus("L1")
    draft.bus("L2")
    models = [key for key, _ in kinds]
    for node, model in (("G", "GW"), ("J", "JB"), ("K", "JB"), ("P", "PN"), ("S", "OLD")):
        draft.node(node, model if model in models else None, "L1")
    draft.node("A", "PN", "L2")
    draft.node("B", "PN", "L2")
    for key, tail, head, length_m in runs:
        draft.run(key, "L1", (tail, head), cable="old", length_m=length_m)
    draft.run("R9", "L2", ("A", "B"), cable="old", length_m=5.0)
    return draft.snapshot()


def after(snapshot: Snapshot, **change: object) -> Wired:
    return wired_after(order(conversions=(replace(CONVERSION, **change),)), snapshot)


def run(key: str, ends: tuple[str, str], length_m: float | None, cable: str | None = "old") -> Laid:
    return Laid(run=key, bus="L1", ends=ends, cable=cable, length_m=length_m)


def test_without_changes_the_wiring_stays_as_it_is() -> None:
    snapshot = campus(("R1", "G", "J", 4.0), ("R2", "J", "S", 6.0))
    assert after(snapshot) == Wired()
    assert after(snapshot, pulled=(("R1", "new"),)) == Wired(), "the conversion tells it"


def test_a_run_left_out_is_gone() -> None:
    ring = campus(("R1", "G", "S", 4.0), ("R2", "S", "P", 6.0), ("R3", "P", "G", 8.0))
    assert after(ring, left_out=("R3",)) == Wired(gone=("R3",))


def test_a_new_line_takes_the_place_of_all_runs_of_its_segment_and_leaves_its_junctions_idle() -> None:
    tree = campus(("R1", "G", "J", 4.0), ("R2", "J", "S", 6.0), ("R3", "J", "P", 2.0))
    found = after(tree, line=(("G", "P", 6.0), ("P", "S", 8.0)), line_cable="new")
    assert found.gone == ("R1", "R2", "R3"), "what lies on another bus stays"
    assert found.laid == (
        run("O1-L1-01", ("G", "P"), 6.0, "new"),
        run("O1-L1-02", ("P", "S"), 8.0, "new"),
    )
    assert found.idle == ("J",), "K had no run before either"


def test_where_a_node_was_in_the_middle_its_two_runs_are_one() -> None:
    line = campus(("R1", "G", "P", 4.0), ("R2", "P", "S", 6.5))
    assert after(line, moved=(("P", "L2"),)) == Wired(gone=("R2",), changed=(run("R1", ("G", "S"), 10.5),))


@pytest.mark.parametrize("pulled", [(("R1", "new"),), (("R1", "new"), ("R2", "new"))])
def test_a_joined_run_is_of_a_cable_only_if_both_are(pulled: tuple[tuple[str, str], ...]) -> None:
    line = campus(("R1", "G", "P", 4.0), ("R2", "P", "S", None))
    (joined,) = after(line, moved=(("P", "L2"),), pulled=pulled).changed
    assert (joined.cable, joined.length_m) == ("new" if len(pulled) == 2 else None, None)


def test_a_run_that_led_to_a_moved_node_alone_is_gone() -> None:
    tree = campus(("R1", "G", "S", 4.0), ("R2", "S", "P", 6.0))
    assert after(tree, moved=(("P", "L2"),)) == Wired(gone=("R2",))


def test_where_more_than_two_runs_met_at_a_moved_node_a_junction_stands() -> None:
    star = campus(("R1", "G", "P", 4.0), ("R2", "P", "S", 6.0), ("R3", "K", "P", 2.0))
    found = after(star, moved=(("P", "L2"),))
    assert found.joints == (Joint(node="O1-P", was="P", bus="L1", model="JB"),)
    assert [one.ends for one in found.changed] == [("G", "O1-P"), ("O1-P", "S"), ("K", "O1-P")]
    assert found.gone == ()


def test_a_junction_that_the_catalogue_does_not_have_is_of_no_known_model() -> None:
    kinds = tuple(one for one in KINDS if one[0] != "JB")
    star = campus(("R1", "G", "P", 4.0), ("R2", "P", "S", 6.0), ("R3", "K", "P", 2.0), kinds=kinds)
    assert [one.model for one in after(star, moved=(("P", "L2"),)).joints] == [None]


def test_two_moved_nodes_side_by_side_leave_one_run() -> None:
    line = campus(("R1", "G", "J", 1.0), ("R2", "J", "P", 2.0), ("R3", "P", "S", 4.0))
    found = after(line, moved=(("P", "L2"), ("J", "L2")))
    assert (found.gone, found.changed) == (("R2", "R3"), (run("R1", ("G", "S"), 7.0),))


def test_a_loop_through_a_moved_node_alone_is_gone_with_it() -> None:
    twice = campus(("R1", "G", "P", 4.0), ("R2", "P", "G", 6.0), ("R3", "G", "S", 1.0))
    assert after(twice, moved=(("P", "L2"),)) == Wired(gone=("R1", "R2"))
