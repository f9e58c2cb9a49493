"""What a meter reads, and where end resistors are, once a way out is done; by hand."""

from dataclasses import replace

import pytest

from inventory.core.catalogue import Cable, EndsBus
from planner.core.circuits import Circuit, Stretch, between_ohm, voltage_at
from planner.core.ends import end_resistors
from planner.core.findings import Change
from planner.core.rewired import gone, rewired

# IEC 60228 class 1 at 20 C: 0.5 mm2 36.0 and 2.5 mm2 7.41 ohm/km for one conductor
THIN = Cable(key="thin", power_conductor="0.5 mm2", conductor_class="solid", power_pairs=1)
THICK = Cable(key="thick", power_conductor="2.5 mm2", conductor_class="solid", power_pairs=1)


def ring() -> Circuit:
    """G - A - B - G, 100 m each."""
    ends = (("G", "A"), ("A", "B"), ("B", "G"))
    runs = tuple(
        Stretch(key=f"R{n}", ends=pair, length_m=100.0, cable=THIN, lead_ohm=0.0) for n, pair in enumerate(ends)
    )
    return Circuit(
        stretches=runs,
        source="G",
        source_v=24.0,
        loads=(("A", 2.0), ("B", 2.0)),
        ends=2,
        end_ohm=120.0,
        conductor_c=20.0,
    )


def change(what: str, about: str, to: str | None = None) -> Change:
    return Change(what=what, about=about, words=what, price=None, to=to)


def test_a_ring_that_is_opened_reads_like_a_line() -> None:
    before, after = ring(), rewired(ring(), (change("leave out", "R1"),), {})
    way = before.way("G", "A")
    assert between_ohm(way, "G", "A") == pytest.approx(7.2 * 14.4 / 21.6)  # 100 m beside 200 m
    assert between_ohm(after.way("G", "A"), "G", "A") == pytest.approx(7.2)  # 2 x 100 m x 36 ohm/km
    # V = (Vs + sqrt(Vs^2 - 4 P R)) / 2 for the one load behind 7.2 ohm
    assert voltage_at(after, "A") == pytest.approx((24.0 + (24.0**2 - 4 * 2.0 * 7.2) ** 0.5) / 2)


def test_an_opened_ring_has_its_end_resistors_where_it_was_opened() -> None:
    nodes = {"G": EndsBus.SWITCH, "A": EndsBus.SWITCH, "B": EndsBus.NO}
    assert end_resistors(nodes, ring().stretches, 2, "G") == ()
    found = end_resistors(nodes, rewired(ring(), (change("leave out", "R1"),), {}).stretches, 2, "G")
    assert [(one.node, one.how.value) for one in found] == [
        ("A", "switched on"),
        ("B", "put in"),
        ("G", "switched off"),
    ]


def test_a_run_pulled_anew_has_the_resistance_of_its_new_cable() -> None:
    changes = (change("leave out", "R1"), change("pull anew", "R0", "thick"))
    after = rewired(ring(), changes, {"thick": THICK})
    assert between_ohm(after.way("G", "A"), "G", "A") == pytest.approx(2 * 100 * 7.41e-3)
    assert between_ohm(after.way("G", "B"), "G", "B") == pytest.approx(7.2)


def test_cable_that_nobody_has_on_record_is_not_known() -> None:
    after = rewired(ring(), (change("pull anew", "R0", "gone"),), {})
    assert voltage_at(after, "A") is None


def test_a_new_line_takes_the_place_of_all_runs_with_its_own_cable_and_the_leads_at_its_ends() -> None:
    new_line = replace(change("new line", "L1", "thick"), line=(("G", "B", 100.0), ("B", "A", 50.0)))
    after = rewired(replace(ring(), leads=(("G", 0.3), ("A", 0.2))), (new_line,), {"thick": THICK})
    assert [(one.ends, one.length_m, one.lead_ohm) for one in after.stretches] == [
        (("G", "B"), 100.0, 0.3),
        (("B", "A"), 50.0, 0.2),
    ]
    assert between_ohm(after.way("G", "A"), "G", "A") == pytest.approx(2 * 150 * 7.41e-3)
    unknown = rewired(replace(ring(), leads=(("G", None),)), (new_line,), {"thick": THICK})
    assert [one.lead_ohm for one in unknown.stretches] == [None, 0]


def test_nodes_that_move_are_gone() -> None:
    assert gone((change("move", "B", "L2"), change("leave out", "R1"))) == {"B"}
