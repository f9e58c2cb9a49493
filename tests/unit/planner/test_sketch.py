"""What is drawn before and after a change, and the table behind: what goes, what comes, and nothing that is not so."""

from dataclasses import replace
from itertools import islice

import pytest

from inventory.core.catalogue import Cable
from planner.core.circuits import Stretch
from planner.core.ends import EndResistor, How
from planner.core.findings import LoadVoltage, SegmentReport, Verdict
from planner.handover.drawn import DrawnNode, DrawnSegment, Sign
from planner.handover.reading import steps_of
from planner.handover.sketch import (
    Sketch,
    SketchNode,
    after,
    before,
    cable_ends,
    label_of,
    rows_along,
    rows_of,
    volts_of,
)

CABLE = Cable(key="2x2x18")


def run(key: str, near: str, far: str, length_m: float | None = 38.5) -> Stretch:
    return Stretch(key=key, ends=(near, far), length_m=length_m, cable=CABLE)


SKETCH = Sketch(
    segment="L1",
    verdict=Verdict.TOGETHER,
    nodes=(
        SketchNode(key="G", kind="gateway", model="GW-2", after="GW-7"),
        SketchNode(key="J", kind="junction", model="JB-1"),
        SketchNode(key="S", kind="station", model="WS-20", after="WS-70", room="1.01", has_end=True, is_old=True),
    ),
    runs=(run("R1", "G", "J"), run("R2", "J", "S", None)),
    root="G",
    ends=(EndResistor(node="G", how=How.OFF), EndResistor(node="S", how=How.ON)),
    volts=(("J", "23.0 V"), ("S", "21.4 V")),
    worked=frozenset({"G", "S"}),
)


def node(drawn: DrawnSegment, key: str) -> DrawnNode:
    return next(one for one in drawn.nodes if one.key == key)


def said(drawn: DrawnSegment, key: str) -> list[tuple[str, str]]:
    return [(note.text, note.sign.value) for note in node(drawn, key).notes]


def test_before_shows_what_is_and_crosses_what_goes() -> None:
    drawn = before(SKETCH)
    assert said(drawn, "S") == [
        ("station, WS-20, room 1.01", ""),
        ("end resistor built in", "end resistor"),
        ("is taken out", "taken out"),
    ]
    assert (node(drawn, "S").sign, node(drawn, "S").is_old) == (Sign.OUT, True)
    assert node(drawn, "J").sign is Sign.NONE
    assert [one.notes for one in drawn.runs] == [(), ()]


def test_after_shows_what_comes_with_volts_ends_and_breakouts() -> None:
    drawn = after(SKETCH)
    assert said(drawn, "S") == [
        ("station, room 1.01", ""),
        ("WS-70 put in for WS-20", "put in"),
        ("21.4 V", ""),
        ("end resistor switched on", "end resistor"),
    ]
    assert said(drawn, "J") == [("junction, JB-1", ""), ("23.0 V", "")]
    assert ("end resistor switched off", "") in said(drawn, "G")
    assert [note.text for one in drawn.runs for note in one.notes] == [
        "breakout and lead put in, at G",
        "breakout and lead put in, at S",
    ]
    assert not any(one.is_old for one in drawn.nodes)


def test_a_run_between_two_that_are_worked_on_is_landed_at_both_ends() -> None:
    straight = replace(SKETCH, runs=(run("R1", "G", "S"),), leads=False)
    assert [note.text for one in after(straight).runs for note in one.notes] == ["breakout put in, both ends"]


@pytest.mark.parametrize(
    ("extra", "at", "words"),
    [
        ("local supply", "S", "local supply put in"),
        ("box adapter", "S", "box adapter put in"),
        ("larger supply", "G", "larger supply put in"),
    ],
)
def test_each_extra_stands_where_it_goes(extra: str, at: str, words: str) -> None:
    nodes = tuple(replace(one, adapter=one.key == "S") for one in SKETCH.nodes)
    drawn = after(replace(SKETCH, extras=(extra,), feeds="G", nodes=nodes))
    assert [one.key for one in drawn.nodes if (words, "put in") in said(drawn, one.key)] == [at]


def test_a_gateway_that_stays_is_set_over_and_not_crossed() -> None:
    nodes = tuple(replace(one, after=None) if one.key == "G" else one for one in SKETCH.nodes)
    stays = replace(SKETCH, nodes=nodes, set_over="NEWPAIR at 125 kbit/s")
    assert node(before(stays), "G").sign is Sign.NONE
    assert ("set over to NEWPAIR at 125 kbit/s", "put in") in said(after(stays), "G")


def test_what_does_not_convert_has_nothing_crossed_and_no_after() -> None:
    stands = replace(SKETCH, verdict=Verdict.NEW_CABLE)
    assert not stands.converts
    assert {one.sign for one in before(stands).nodes} == {Sign.NONE}
    assert all(row.done == () for row in rows_of(stands))


def test_a_way_out_shows_what_moves_what_is_left_out_and_what_is_pulled() -> None:
    ways = (("J", "move", "J to segment L2"), ("R1", "pull anew", "R1, 38.5 m"), ("R2", "leave out", "R2, capped"))
    drawn = after(replace(SKETCH, verdict=Verdict.CLEAR_FIRST, changes=ways))
    assert node(drawn, "J").sign is Sign.OUT
    assert ("move: J to segment L2", "taken out") in said(drawn, "J")
    assert [one.sign for one in drawn.runs] == [Sign.IN, Sign.OUT]
    assert [note.text for note in drawn.runs[1].notes] == ["leave out: R2, capped"], "nothing is landed on it"


def laid_anew() -> Sketch:
    """The same with one new line from G to S, past J."""
    line = (Stretch(key="new 01", ends=("G", "S"), length_m=61.0, cable=Cable(key="thick")),)
    return replace(
        SKETCH,
        verdict=Verdict.NEW_CABLE,
        changes=(("L1", "new line", "one new line"),),
        line=line,
        volts=(("S", "22.0 V"),),
    )


def test_a_new_line_is_drawn_in_place_of_all_runs_and_says_who_is_not_on_it() -> None:
    drawn = after(laid_anew())
    assert [(one.ends, one.label, one.sign) for one in drawn.runs] == [(("G", "S"), "61 m, thick", Sign.IN)]
    assert [note.text for note in drawn.runs[0].notes] == ["new cable pulled", "breakout and lead put in, both ends"]
    assert ("not on the new line", "taken out") in said(drawn, "J")
    assert not any(text == "not on the new line" for key in ("G", "S") for text, _ in said(drawn, key))
    assert [one.key for one in before(laid_anew()).runs] == ["R1", "R2"]


def test_cable_ends_and_table_go_by_the_new_line() -> None:
    assert [(one.node, one.run, one.far) for one in cable_ends(laid_anew())] == [
        ("G", "new 01", "S"),
        ("S", "new 01", "G"),
    ]
    rows = rows_of(laid_anew())
    assert [(row.node, row.kind, row.run, row.wire) for row in rows][3:] == [("S", "new line", "new 01", "61 m, thick")]
    assert rows[3].done == ("new cable pulled", "breakout and lead put in, both ends")


def test_the_table_tells_each_node_once_with_the_run_that_leads_there() -> None:
    rows = rows_of(SKETCH)
    assert [(row.node, row.origin, row.run, row.wire) for row in rows] == [
        ("G", None, None, None),
        ("J", "G", "R1", "38.5 m, 2x2x18"),
        ("S", "J", "R2", "length not known, 2x2x18"),
    ]
    assert rows[2].done == ("breakout and lead put in, at S", "WS-70 put in for WS-20", "end resistor switched on")
    assert rows[2].volts == "21.4 V"


def test_the_table_tells_of_a_run_that_closes_a_ring_too() -> None:
    ring = replace(SKETCH, runs=(*SKETCH.runs, run("R3", "G", "S")))
    (*_, last) = rows_of(ring)
    assert (last.kind, last.run, last.node, last.origin) == ("closes a ring", "R3", "S", "G")
    # as the drawing has it: both ends of the run are landed, and the station it leads to has room and voltage
    assert last.done == ("breakout and lead put in, both ends",)
    assert (last.room, last.volts) == ("1.01", "21.4 V")
    (*_, kept) = rows_of(replace(ring, verdict=Verdict.NEW_CABLE))
    assert kept.done == ()


def test_the_table_says_which_end_resistor_is_switched_off_too() -> None:
    assert "end resistor switched off" in rows_of(SKETCH)[0].done


def test_every_cable_end_that_is_landed_is_listed_with_its_end_resistor() -> None:
    assert [(one.node, one.run, one.far, one.resistor) for one in cable_ends(SKETCH)] == [
        ("G", "R1", "J", "end resistor switched off"),
        ("S", "R2", "J", "end resistor switched on"),
    ]
    assert {one.resistor for one in cable_ends(replace(SKETCH, ends=()))} == {"not known where the line ends"}


def test_what_is_not_known_of_a_run_is_said_and_never_zero() -> None:
    assert label_of(run("R", "A", "B", None)) == "length not known, 2x2x18"
    assert label_of(replace(run("R", "A", "B"), cable=None)) == "38.5 m, cable not known"


def test_voltages_are_said_to_a_tenth_and_no_operating_point_in_words() -> None:
    loads = (
        LoadVoltage(node="S1", voltage_v=21.449, current_a=0.1),
        LoadVoltage(node="S2", voltage_v=None, current_a=None),
    )
    report = SegmentReport(
        segment="L", building=None, buses=(), verdict=Verdict.IN_PLACE, why="", decided_by=None, old_stations=(),
        gateways=(), others=(), nodes=(), runs=(), voltages=loads,
    )  # fmt: skip
    assert volts_of(report, {"G": 24.0}) == (("G", "24.0 V"), ("S1", "21.4 V"), ("S2", "no operating point"))


def test_the_first_rows_of_the_table_need_no_more_than_their_own_nodes_and_runs() -> None:
    # G to J; from J to S and to a long branch of T, U, V: the small branch comes first
    more = tuple(SketchNode(key=key, kind="station", model="WS-20") for key in "TUV")
    wires = (*SKETCH.runs, run("R3", "J", "T"), run("R4", "T", "U"), run("R5", "U", "V"))
    whole = replace(SKETCH, verdict=Verdict.NEW_CABLE, nodes=(*SKETCH.nodes, *more), runs=wires)
    steps = tuple(islice(steps_of({node.key: node.kind for node in whole.nodes}, wires, "G"), 4))
    assert [step.node for step in steps] == ["G", "J", "S", "T"]
    shown = {step.node for step in steps}
    part = replace(
        whole,
        nodes=tuple(node for node in whole.nodes if node.key in shown),
        runs=tuple(step.run for step in steps if step.run is not None),
    )
    assert rows_along(part, steps) == rows_of(whole)[:4]
