"""Work packs and records as built, by hand: what is done in which order, and what the records say afterwards."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from inventory.core.catalogue import Catalogue, Method, MethodStep, Model, NodeKind
from inventory.core.snapshot import Snapshot
from planner.core.as_built import as_built
from planner.core.effort import total_effort
from planner.core.plans import ChangeStep, Conversion, Order, PartNeed
from planner.core.repeats import Stage, done_steps
from planner.core.workpack import first_hindrance, work_pack
from tests.campuses import Draft

# Two stations on one gateway. Steps 1 (before), 2 hold (dark), 3 does not say (dark), 4 (after).
STEPS = (
    MethodStep(step=4, text="try", outage=False, minutes=1, people=1),
    MethodStep(step=2, text="prove dead", outage=True, hold_point=True, minutes=1, people=2),
    MethodStep(step=1, text="save", outage=False, minutes=1, people=1),
    MethodStep(step=3, text="land", minutes=None),
)
METHOD = Method(
    key="M",
    old_model="OLD",
    new_model="NEW",
    new_protocol="NB",
    new_gateway_model="GW-NEW",
    steps=STEPS,
    caution="mains",
)
DAY = date(2027, 3, 2)


def campus(*models: Model) -> Snapshot:
    draft = Draft(
        catalogue=Catalogue(
            models=tuple(
                sorted(
                    (
                        Model(key="GW", kind=NodeKind.GATEWAY),
                        Model(key="GW-NEW", kind=NodeKind.GATEWAY),
                        Model(key="NEW", kind=NodeKind.STATION),
                        Model(key="OLD", kind=NodeKind.STATION),
                        *models,
                    ),
                    key=lambda model: model.key,
                )
            ),
            methods=(METHOD,),
        )
    )
    draft.building("B1")
    draft.room("B1", "101")
    draft.bus("L1")
    draft.bus("L2")
    draft.node("G", "GW", "L1", "L2")
    draft.node("S1", "OLD", "L1", room="101")
    draft.node("S2", "OLD", "L1", room="101")
    draft.node("P", "OLD", "L2", room="101")
    draft.zones.append(("S1", "1", "P"))
    draft.scenes.append(("S2", "3"))
    return draft.snapshot()


def order(**facts: object) -> Order:
    made = Order(
        key="O1",
        building="B1",
        district=None,
        segments=("L1",),
        stations=("S1", "S2"),
        rooms=(("B1", "101"),),
        people=2,
        setup_min=1,
        outage_min=5,
        restore_min=1,
        parts=(PartNeed(part="P1", quantity=Decimal(4)),),
        freed=(("OLD", 2), ("GW", 0)),
        cost_parts=Decimal(0),
        cost_labour=Decimal(0),
        cost_outage=Decimal(0),
        currency="EUR",
        unpriced=(),
        benefit=1.0,
        oldest=None,
        extras=(("L1", "end resistor"),),
        conversions=(
            Conversion(
                segment="L1",
                protocol="NB",
                bit_rate_kbit_s=125.0,
                buses=("L1",),
                gateways=("G",),
                stations=(("S1", "M"), ("S2", "M")),
                moved=(("P", "L1"),),
                pulled=(("R1", "NEW-CABLE"),),
            ),
        ),
        changes=(
            ChangeStep(segment="L1", what="pull anew", words="R1", minutes=9, people=1, dark=False),
            ChangeStep(segment="L1", what="change over", words="R1", minutes=2, people=1, dark=True),
        ),
    )
    return replace(made, **facts)  # type: ignore[arg-type]


def test_what_is_wrong_with_the_landing_and_the_lack_of_a_hold_point_stand_on_the_pack() -> None:
    found = work_pack(order(), campus()).faults
    assert found == ("Landing by method M: The method does not say where any signal lands.",)
    loose = replace(METHOD, steps=tuple(replace(step, hold_point=None) for step in STEPS))
    catalogue = replace(campus().catalogue, methods=(loose,))
    (_, said) = work_pack(order(), replace(campus(), catalogue=catalogue)).faults
    assert "has no hold point in the outage" in said


def test_steps_come_stage_by_stage_and_in_the_outage_step_by_step_with_changes_once_the_segment_is_dead() -> None:
    # lock-out before work on conductors, and no power on a line that is worked on elsewhere: common practice
    pack = work_pack(order(), campus())
    dark = ("S1 2", "S2 2", "change 2", "S1 3", "S2 3")
    assert pack.codes == ("change 1", "S1 1", "S2 1", *dark, "S1 4", "S2 4")
    assert tuple(step.code for step in pack.steps if step.stage is Stage.DARK) == dark
    assert not pack.steps[5].text.startswith("Isolate")
    assert pack.cautions == ("mains",)
    assert pack.missing == ()


@pytest.mark.parametrize("held", [(), (3,)])
def test_a_change_in_the_outage_asks_for_isolation_where_no_hold_point_of_its_segment_does(
    held: tuple[int, ...],
) -> None:
    # without any, and with one at the end alone, by when power may be on
    steps = tuple(replace(step, hold_point=step.step in held) for step in STEPS)
    catalogue = replace(campus().catalogue, methods=(replace(METHOD, steps=steps),))
    dark = [
        step for step in work_pack(order(), replace(campus(), catalogue=catalogue)).steps if step.stage is Stage.DARK
    ]
    assert dark[0].code == "change 2"
    assert dark[0].text == "Isolate, lock off and prove dead before this. Change over: R1"


def test_what_is_not_known_of_a_step_stays_not_known() -> None:
    steps = {step.code: step for step in work_pack(order(), campus()).steps}
    assert (steps["S1 3"].minutes, steps["S1 3"].people, steps["S1 3"].hold) == (None, None, False)


@pytest.mark.parametrize(
    ("ticked", "code", "hindered"),
    [
        ((), "S2 1", False),  # before the outage nothing holds
        (("change 1", "S1 1"), "S1 2", True),  # a hold asks for all before it
        (("change 1", "S1 1", "S2 1"), "S1 2", False),
        (("change 1", "S1 1", "S2 1"), "change 2", True),  # no change before the line is dead
        (("change 1", "S1 1", "S2 1", "S1 2"), "change 2", True),  # at both stations
        (("change 1", "S1 1", "S2 1", "S1 2", "S2 2"), "change 2", False),
        (("change 1", "S1 1", "S2 1", "S1 2"), "S1 3", True),  # not past the hold of S2
        (("change 1", "S1 1", "S2 1", "S1 2", "S2 2"), "S1 3", False),
        (("change 1", "S1 1", "S2 1", "S1 2"), "S1 4", True),  # the hold of S2 is open
    ],
)
def test_a_hold_point_stops_all_that_comes_after_it_until_all_before_it_is_done(
    ticked: tuple[str, ...], code: str, *, hindered: bool
) -> None:
    assert (first_hindrance(work_pack(order(), campus()), ticked, code) is not None) is hindered


def test_a_step_that_is_none_is_named() -> None:
    with pytest.raises(KeyError, match="S9 1"):
        first_hindrance(work_pack(order(), campus()), (), "S9 1")


def test_zones_and_scenes_of_the_orders_stations_are_entered_again() -> None:
    found = [(one.station, one.kind, one.key) for one in work_pack(order(), campus()).settings]
    assert found == [("S1", "zone", "1"), ("S2", "scene", "3")]


def test_a_station_without_a_method_is_told_before_anything_is_opened() -> None:
    bare = order(stations=("S1", "S2", "S3"))
    assert work_pack(bare, campus()).missing == ("No method on record replaces S3: plan again before it is opened.",)


def test_the_records_say_what_was_built() -> None:
    built = as_built(order(), campus(), DAY)
    assert [(one.node, one.model, one.bus) for one in built.nodes] == [
        ("G", "GW-NEW", None),
        ("P", None, "L1"),
        ("S1", "NEW", None),
        ("S2", "NEW", None),
    ]
    assert built.buses == (("L1", "NB", 125.0),)
    assert built.runs == (("R1", "NEW-CABLE"),)
    assert built.parts == (("P1", Decimal(4)),)
    assert built.freed == (("OLD", 2),)
    assert built.refused == ()
    notes = {one.node: one.note for one in built.nodes}
    assert notes["S1"] == "Converted by order O1, method M with end resistor."
    assert notes["P"] == "Changed by order O1."


def test_a_station_that_is_gone_or_changed_since_stops_acceptance() -> None:
    gone = order(stations=("S1", "S2", "S8"))
    assert as_built(gone, campus(), DAY).refused == (
        "S8 is not on record any more: take it in again, or plan again without it.",
    )
    other = replace(METHOD, old_model="OTHER")
    snapshot = campus()
    changed = replace(snapshot, catalogue=replace(snapshot.catalogue, methods=(other,)))
    assert as_built(order(), changed, DAY).refused[0].startswith("S1 is on record as OLD, not as OTHER")


def test_one_bus_cannot_come_to_carry_two_protocols() -> None:
    twice = (*order().conversions, replace(order().conversions[0], segment="L1b", protocol="XB", stations=()))
    assert as_built(order(conversions=twice), campus(), DAY).refused == (
        "Bus L1 would carry NB and XB at once: plan again.",
    )


def test_a_step_is_done_once_for_what_it_is_said_to_be_done_for() -> None:
    # Two lines of two stations on one gateway: isolate each line, set the gateway over once, clear up once in all.
    pers = {1: "order", 2: "segment", 3: "gateway"}
    steps = (
        *(replace(step, per=pers.get(step.step), minutes=10.0) for step in STEPS),
        MethodStep(step=5, text="sign", outage=False, per="order", minutes=2),
    )
    method = replace(METHOD, steps=steps)
    lines = tuple(
        replace(order().conversions[0], segment=line, stations=((f"{line}-S1", "M"), (f"{line}-S2", "M")))
        for line in ("L1", "L2")
    )
    done = done_steps(lines, {"M": method})
    assert [(one.step.step, one.place) for one in done if one.stage is Stage.DARK] == [(2, "L1"), (2, "L2"), (3, "G")]
    assert [(one.step.step, one.place) for one in done if one.stage is Stage.AFTER] == [
        *((4, f"L{line}-S{n}") for line in (1, 2) for n in (1, 2)),
        (5, ""),
    ]
    apart = done_steps((lines[0], replace(lines[1], gateways=("H",))), {"M": method})
    assert [(one.step.step, one.place) for one in apart if one.step.per == "order"] == [(1, ""), (5, "")]
    assert apart[-1].step.step == 5
    effort = total_effort(lines, {"M": method})
    assert (effort.before_min, effort.dark_min, effort.after_min) == (10, 30, 42)
    unknown = tuple(replace(line, gateways=()) for line in lines)
    assert [one.place for one in done_steps(unknown, {"M": method}) if one.step.step == 3] == ["L1", "L2"]
    catalogue = replace(campus().catalogue, methods=(method,))
    pack = work_pack(order(conversions=lines, changes=()), replace(campus(), catalogue=catalogue))
    assert pack.codes[:4] == ("M 1", "L1 M 2", "L2 M 2", "G M 3")
    assert [step.where for step in pack.steps[:4]] == ["O1", "L1", "L2", "G"]
    assert len(set(pack.codes)) == len(pack.codes)


def test_two_methods_that_say_the_same_step_of_a_gateway_or_of_the_order_mean_one() -> None:
    # Two lines on one gateway, a method each: isolate each for itself, swap the gateway once, post the notices once.
    pers = {1: "order", 2: "segment", 3: "gateway"}
    shared = tuple(replace(step, per=pers.get(step.step)) for step in STEPS)
    other = tuple(replace(step, text="file") if step.step == 1 else step for step in shared)
    methods = {"M": replace(METHOD, steps=shared), "N": replace(METHOD, key="N", steps=shared)}
    lines = tuple(
        replace(order().conversions[0], segment=line, stations=((f"{line}-S1", method),))
        for line, method in (("L1", "M"), ("L2", "N"))
    )
    done = [(one.place, one.step.text) for one in done_steps(lines, methods)]
    assert done == [
        ("", "save"),
        ("L1", "prove dead"),
        ("L2", "prove dead"),
        ("G", "land"),
        ("L1-S1", "try"),
        ("L2-S1", "try"),
    ]
    apart = done_steps(lines, {**methods, "N": replace(METHOD, key="N", steps=other)})
    assert [one.step.text for one in apart if one.place == ""] == ["save", "file"]


# Steps of a method with a gateway: isolate each segment (hold), set the gateway over, land each station, power up (hold).
SHARED = tuple(
    MethodStep(step=number, text=text, outage=True, per=per, hold_point=hold, minutes=1, people=1)
    for number, (text, per, hold) in enumerate(
        (("isolate", "segment", True), ("set over", "gateway", False), ("land", None, False), ("power up", None, True)),
        start=1,
    )
)


def shared(*segments: tuple[str, str], changes: tuple[ChangeStep, ...] = ()) -> list[tuple[str, str]]:
    """Return what is done where, in order, on segments (name, gateway) of one station each, S of L1 being S1."""
    methods = {"M": replace(METHOD, steps=SHARED)}
    conversions = tuple(
        Conversion(
            segment=name, protocol="NB", bit_rate_kbit_s=None, buses=(name,), gateways=(gateway,),
            stations=((name.replace("L", "S"), "M"),),
        )
        for name, gateway in segments
    )  # fmt: skip
    catalogue = replace(campus().catalogue, methods=tuple(methods.values()))
    pack = work_pack(order(conversions=conversions, changes=changes), replace(campus(), catalogue=catalogue))
    return [(step.text, step.where) for step in pack.steps]


def test_segments_that_share_a_gateway_are_all_dead_before_it_is_set_over_and_powered_once_all_are_landed() -> None:
    assert shared(("L1", "G"), ("L2", "G")) == [
        ("isolate", "L1"), ("isolate", "L2"), ("set over", "G"),
        ("land", "S1"), ("land", "S2"), ("power up", "S1"), ("power up", "S2"),
    ]  # fmt: skip


def test_segments_of_gateways_of_their_own_are_done_one_after_the_other() -> None:
    assert [text for text, _ in shared(("L1", "G"), ("L2", "H"))] == [
        *("isolate", "set over", "land", "power up"),
    ] * 2


def test_segments_that_share_a_gateway_only_by_way_of_a_third_are_done_together_too() -> None:
    done = done_steps(
        tuple(
            Conversion(segment=name, protocol="NB", bit_rate_kbit_s=None, buses=(), gateways=gateways, stations=((name.replace("L", "S"), "M"),))
            for name, gateways in (("L1", ("G",)), ("L2", ("H",)), ("L3", ("G", "H")))
        ),
        {"M": replace(METHOD, steps=SHARED)},
    )  # fmt: skip
    assert [(one.step.text, one.place) for one in done][:5] == [
        ("isolate", "L1"), ("isolate", "L2"), ("isolate", "L3"), ("set over", "G"), ("set over", "H"),
    ]  # fmt: skip


def test_changes_come_once_all_of_the_gateway_is_dead_and_a_lower_bit_rate_with_the_gateway() -> None:
    changes = (
        ChangeStep(segment="L1", what="larger supply", words="at G", minutes=1, people=1, dark=True),
        ChangeStep(segment="L1", what="lower bit rate", words="at the gateway", minutes=0, people=1, dark=True),
    )
    found = [text for text, _ in shared(("L1", "G"), ("L2", "G"), changes=changes)]
    assert found[:5] == ["isolate", "isolate", "Larger supply: at G", "set over", "Lower bit rate: at the gateway"]


def test_methods_that_are_alike_are_done_together_and_others_one_after_the_other() -> None:
    one = Conversion(
        segment="L1",
        protocol="NB",
        bit_rate_kbit_s=None,
        buses=(),
        gateways=("G",),
        stations=(("S1", "M"), ("S2", "N")),
    )
    alike = {"M": replace(METHOD, steps=SHARED), "N": replace(METHOD, key="N", steps=SHARED)}
    assert [done.step.text for done in done_steps((one,), alike)] == [
        "isolate", "isolate", "set over", "land", "land", "power up", "power up",
    ]  # fmt: skip
    other = {**alike, "N": replace(METHOD, key="N", steps=SHARED[:1] + SHARED[2:])}
    assert [done.step.text for done in done_steps((one,), other)] == [
        "isolate", "set over", "land", "power up", "isolate", "land", "power up",
    ]  # fmt: skip
