"""At which step a figure is due, by hand: at the station it is read at, at the segment's step, at the gateway's, at none."""

from dataclasses import replace
from datetime import date

import pytest

from inventory.core.readings import Quantity, Reading
from planner.core.comparing import Compared
from planner.core.figures_due import Readings, figures_due
from planner.core.measuring import Measure
from planner.core.plans import Conversion
from planner.core.repeats import Stage
from planner.core.workpack import WorkPack, WorkStep
from tests.unit.planner.test_workpack import order

LOOP = Measure(quantity=Quantity.LOOP, node="G", far="S2", figure=None)
LOADED = tuple(Measure(quantity=Quantity.LOADED, node=node, figure=None) for node in ("S1", "S2"))


def step(
    code: str, where: str, reading: Quantity | None, *, segment: str = "L1", station: str | None = None
) -> WorkStep:
    return WorkStep(
        code=code, stage=Stage.DARK, segment=segment, station=station, where=where, method="M", text=code,
        minutes=1.0, people=1, hold=True, reading=reading,
    )  # fmt: skip


def due(*steps: WorkStep, measures: tuple[Measure, ...] = (LOOP, *LOADED)) -> dict[str, list[str]]:
    pack = WorkPack(order=order(), steps=steps, settings=(), methods=(), cautions=(), missing=(), faults=())
    return {code: [one.where for one in several] for code, several in figures_due(pack, {"L1": measures}).items()}


def test_a_figure_is_due_at_the_station_where_it_is_read() -> None:
    steps = [step(f"{node} 8", node, Quantity.LOADED, station=node) for node in ("S1", "S2")]
    assert due(*steps) == {"S1 8": ["S1"], "S2 8": ["S2"]}


def test_a_figure_of_a_line_is_due_at_the_step_of_its_far_end() -> None:
    steps = [step(f"{node} 3", node, Quantity.LOOP, station=node) for node in ("S1", "S2")]
    assert due(*steps) == {"S2 3": ["G to S2"]}


@pytest.mark.parametrize(("where", "segment"), [("L1", "L1"), ("G", "L0"), ("O1", "L0")])
def test_a_step_once_a_segment_a_gateway_or_an_order_asks_for_all_of_it(where: str, segment: str) -> None:
    assert due(step("once", where, Quantity.LOADED, segment=segment)) == {"once": ["S1", "S2"]}


def test_a_step_of_another_segment_or_gateway_asks_for_nothing_of_this_one() -> None:
    assert due(step("L9", "L9", Quantity.LOOP, segment="L9"), step("G9", "G9", Quantity.LOOP, segment="L9")) == {}


def test_what_no_step_names_is_due_at_none() -> None:
    assert due(step("isolate", "L1", None), step("prove", "L1", Quantity.NO_LOAD)) == {}


def test_a_figure_whose_station_has_no_such_step_is_due_at_the_last_of_its_segment() -> None:
    steps = (step("S1 8", "S1", Quantity.LOADED, station="S1"), step("S3 8", "S3", Quantity.LOADED, station="S3"))
    assert due(*steps, measures=LOADED) == {"S1 8": ["S1"], "S3 8": ["S2"]}


def test_two_segments_at_one_gateway_are_both_read_at_its_step() -> None:
    both = order(
        conversions=tuple(
            Conversion(
                segment=segment, protocol="NB", bit_rate_kbit_s=None, buses=(), gateways=("G",), stations=((node, "M"),)
            )
            for segment, node in (("L1", "S1"), ("L2", "P"))
        )
    )
    pack = WorkPack(
        order=both,
        steps=(step("G 3", "G", Quantity.LOADED),),
        settings=(),
        methods=(),
        cautions=(),
        missing=(),
        faults=(),
    )
    measures = {"L1": LOADED[:1], "L2": (Measure(quantity=Quantity.LOADED, node="P", figure=None),)}
    assert [one.node for one in figures_due(pack, measures)["G 3"]] == ["S1", "P"]


def compared(doubts: tuple[str, ...] = ()) -> Compared:
    reading = Reading(quantity=Quantity.LOOP, node="G", far="S2", value=61.0, on=date(2027, 3, 2))
    return Compared(reading=reading, figure=None, said="", doubts=doubts)


def against(
    step: WorkStep, due: dict[str, tuple[Measure, ...]], read: set[str], doubts: tuple[str, ...] = ()
) -> tuple[str, ...]:
    found = Readings(due=due, measures={"L1": (LOOP,)}, read=read, compared={LOOP.code: compared(doubts)})
    return found.against(step)


STOP = ("loop resistance, G to S2, reads 61 ohm: stop",)


def test_against_a_step_speaks_what_is_due_and_not_read_or_says_stop() -> None:
    here, due = step("isolate", "L1", Quantity.LOOP), {"isolate": (LOOP,)}
    assert against(here, due, {LOOP.code}) == ()
    assert against(here, due, set()) == ("loop resistance, G to S2, is not read yet",)
    assert against(here, due, {LOOP.code}, ("Length of R1",)) == STOP


def test_against_a_hold_point_speaks_what_no_step_names_where_it_says_stop() -> None:
    hold = step("isolate", "L1", None)
    assert against(hold, {}, {LOOP.code}, ("Length of R1",)) == STOP
    assert against(hold, {}, set(), ("Length of R1",)) == ()  # read before this work began
    assert against(replace(hold, hold=False), {}, {LOOP.code}, ("Length of R1",)) == ()
    assert against(replace(hold, segment="L2"), {}, {LOOP.code}, ("Length of R1",)) == ()


def test_figures_that_no_step_names_are_those_of_the_segment_that_are_due_at_none() -> None:
    both = {"L1": (LOOP, *LOADED), "L2": (Measure(quantity=Quantity.LOADED, node="P", figure=None),)}
    found = Readings(due={"S1 8": LOADED[:1]}, measures=both, read=(), compared={})
    assert found.at_no_step("L1") == (LOOP, LOADED[1])
    assert found.at_no_step("L2") == both["L2"]
    assert found.at_no_step("L3") == ()
