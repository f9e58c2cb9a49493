"""Orders: what shares an outage, how long it takes, what it needs, costs and is worth. Figures worked by hand."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from numpy.typing import NDArray

from inventory.core.catalogue import Catalogue, MethodPart, MethodStep
from planner.core.brief import Brief
from planner.core.findings import SegmentReport, Verdict
from planner.core.grouping import EXACT_PIECES, Limits, Piece, group_pieces
from planner.core.orders import make_orders
from planner.core.plans import Order, PartNeed
from tests.campus_catalogue import METHODS as ALL_METHODS
from tests.campus_catalogue import MODELS, PARTS
from tests.campuses import Draft

METHOD = next(method for method in ALL_METHODS if method.key == "M-20")
LINES = {  # line: (gateway, room)
    "L1": ("G1", "1.01"),
    "L2": ("G2", "1.01"),
    "L3": ("G3", "1.02"),
    "L4": ("G3", "2.01"),
}
FLOORS = {"1.01": "1", "1.02": "1", "2.01": "2"}
BRIEF = Brief(labour_rate=Decimal(60), setup_min=20, restore_min=15)


def _draft(method: object = METHOD, **facts: object) -> Draft:
    catalogue = Catalogue(models=MODELS, methods=(method,), parts=PARTS)  # type: ignore[arg-type]
    draft = Draft(catalogue=replace(catalogue, **facts))  # type: ignore[arg-type]
    draft.building("B1", district="Quay", time_zone="Europe/Berlin")
    for room, floor in FLOORS.items():
        draft.room("B1", room, floor=floor, importance=4 if room == "1.01" else None)
    for line, (gateway, room) in LINES.items():
        draft.bus(line)
        draft.node(f"{line}-S", "WS-20", line, room=room, installed="2006-11-02", failures=2 if line == "L1" else 0)
        if gateway not in {row.key for row in draft.nodes}:
            draft.node(gateway, "GW-2", *[name for name, (other, _) in LINES.items() if other == gateway])
    return draft


def _report(line: str, **facts: object) -> SegmentReport:
    gateway, room = LINES[line]
    plain = SegmentReport(
        segment=line,
        building="B1",
        buses=(line,),
        verdict=Verdict.IN_PLACE,
        why="alone",
        decided_by=None,
        old_stations=(f"{line}-S",),
        gateways=(gateway,),
        others=(),
        nodes=tuple(sorted((gateway, f"{line}-S"))),
        runs=(),
        methods=((f"{line}-S", METHOD.key),),
        new_protocol="OPENPAIR",
        places=(("B1", room),),
        cable_ends=2,
    )
    return replace(plain, **facts)  # type: ignore[arg-type]


def _make(
    *lines: str,
    draft: Draft | None = None,
    brief: Brief = BRIEF,
    risks: NDArray[np.float64] | None = None,
    **facts: object,
) -> tuple[Order, ...]:
    snapshot = (draft or _draft()).snapshot()
    return make_orders(snapshot, tuple(_report(line, **facts) for line in lines), brief, risks=risks)


def _segments(orders: tuple[Order, ...]) -> list[tuple[str, ...]]:
    return [order.segments for order in orders]


def test_segments_of_one_gateway_share_an_order_even_over_floors() -> None:
    (order,) = _make("L3", "L4")
    assert (order.key, order.segments, order.rooms) == ("B1-O001", ("L3", "L4"), (("B1", "1.02"), ("B1", "2.01")))


def test_two_segments_in_one_room_share_an_order_because_the_room_goes_dark_once() -> None:
    assert _segments(_make("L1", "L2")) == [("L1", "L2")]


def test_two_rooms_of_a_floor_stay_apart_while_joining_them_only_keeps_more_rooms_dark() -> None:
    assert _segments(_make("L1", "L3")) == [("L1",), ("L3",)]


def test_a_call_out_that_costs_more_than_the_longer_outage_joins_two_rooms_of_a_floor() -> None:
    # Apart: 2 rooms x 55 min; joined: 2 rooms x 110 min, so 110 room-minutes more: 22.00 at 12 an hour.
    dear = replace(BRIEF, outage_rate=Decimal(12), call_out=Decimal("22.01"))
    assert _segments(_make("L1", "L3", brief=dear)) == [("L1", "L3")]
    assert _segments(_make("L1", "L3", brief=replace(dear, call_out=Decimal("21.99")))) == [("L1",), ("L3",)]


def test_what_would_be_dark_too_long_together_stays_apart() -> None:
    assert _segments(_make("L1", "L2", brief=replace(BRIEF, longest_outage_min=110))) == [("L1", "L2")]
    assert _segments(_make("L1", "L2", brief=replace(BRIEF, longest_outage_min=109))) == [("L1",), ("L2",)]


def test_segments_that_cannot_be_converted_are_in_no_order() -> None:
    assert _make("L1", verdict=Verdict.SURVEY_FIRST) == ()


def test_minutes_people_and_cost_follow_from_the_steps() -> None:
    # Steps 10 + 25 + 20 min in the outage, 20 before and 15 after: 90 min for 2 people at 60 an hour = 180.00;
    # 2 breakouts 14.80, 2 leads 4.20, 1 station 210.00, 1 gateway 480.00 = 709.00.
    (order,) = _make("L1", brief=replace(BRIEF, outage_rate=Decimal(12), call_out=Decimal(30)))
    assert (order.setup_min, order.outage_min, order.restore_min, order.people) == (20, 55, 15, 2)
    assert (order.cost_labour, order.cost_outage, order.cost_call_out) == (Decimal(180), Decimal(11), Decimal(30))
    assert (order.cost_parts, order.unpriced, order.currency) == (Decimal(709), (), "EUR")
    assert order.cost == Decimal(930)


def test_steps_before_and_after_the_outage_are_on_site_only_and_a_blank_outage_counts_as_one() -> None:
    steps = (
        MethodStep(step=1, text="unpack", minutes=5, people=1, outage=False),
        MethodStep(step=2, text="isolate", minutes=10, outage=None),
        MethodStep(step=3, text="label", minutes=7, outage=False),  # between two dark steps: dark
        MethodStep(step=4, text="land", minutes=20.5, people=3, outage=True),
        MethodStep(step=5, text="clean up", minutes=4, outage=False),
    )
    (order,) = _make("L1", draft=_draft(replace(METHOD, steps=steps)))
    assert (order.setup_min, order.outage_min, order.restore_min, order.people) == (25, 38, 19, 3)
    assert order.unknown == ()


def test_minutes_that_are_not_known_are_named_and_not_joined_to_others() -> None:
    steps = (MethodStep(step=1, text="land", minutes=None, people=1, outage=True),)
    orders = _make("L1", "L2", draft=_draft(replace(METHOD, steps=steps)))
    assert [order.unknown for order in orders] == [("minutes of step 1 of method M-20 are not known",)] * 2


def test_a_method_without_steps_is_not_done_in_no_time() -> None:
    (order,) = _make("L1", draft=_draft(replace(METHOD, steps=())))
    assert order.unknown[0] == "method M-20 has no steps: how long it takes is not known"


def test_a_gateway_shared_by_two_segments_is_bought_and_freed_once() -> None:
    (order,) = _make("L3", "L4")
    assert PartNeed(part="P-2107", quantity=Decimal(1)) in order.parts
    assert PartNeed(part="P-2070", quantity=Decimal(2)) in order.parts
    assert order.freed == (("GW-2", 1), ("WS-20", 2))


def test_a_gateway_that_is_the_new_model_already_is_neither_bought_nor_freed() -> None:
    draft = _draft()
    draft.nodes = [replace(row, model="GW-7") if row.key == "G1" else row for row in draft.nodes]
    (order,) = _make("L1", draft=draft)
    assert "P-2107" not in {need.part for need in order.parts}
    assert order.freed == (("WS-20", 1),)


def test_extras_bring_their_parts_only_where_they_are_needed() -> None:
    extra = MethodPart(part="P-1003", quantity=Decimal(2), per="segment", when="end resistor")
    draft = _draft(replace(METHOD, parts=(*METHOD.parts, extra)))
    (plain,) = _make("L1", draft=draft)
    (ended,) = _make("L1", draft=draft, extras=("end resistor",))
    assert not [need for need in plain.parts if need.part == "P-1003"]
    assert PartNeed(part="P-1003", quantity=Decimal(2)) in ended.parts
    assert ended.extras == (("L1", "end resistor"),)


def test_parts_without_a_price_or_in_another_currency_are_named_and_not_added() -> None:
    parts = tuple(
        replace(part, price=None)
        if part.key == "P-1001"
        else replace(part, currency="CHF")
        if part.key == "P-1002"
        else part
        for part in PARTS
    )
    (order,) = _make("L1", draft=_draft(parts=parts))
    assert order.cost_parts == Decimal(690)
    assert order.unpriced == ("P-1001: no price is known", "P-1002: priced in CHF, not in EUR")


def test_benefit_is_importance_times_age_support_and_failures() -> None:
    # 20 years of a life of 20 (7305 days), support ended 0.5, two failures 0.5: risk 2.0 in a room of importance 4.
    # The other: 1.5 in a room of unknown importance, which counts as 3.
    first, second = _make("L1", "L3")
    assert (first.benefit, second.benefit) == (pytest.approx(8.0), pytest.approx(4.5))
    assert first.oldest == date(2006, 11, 2)


def test_what_the_failures_on_record_tell_ranks_and_the_rule_of_thumb_sets_the_size() -> None:
    # By the rule of thumb 8.0 and 4.5, in all 12.5. Told 30 and 10 weighted days: 12.5 x 3/4 and 12.5 x 1/4.
    draft = _draft()
    snapshot = draft.snapshot()
    risks = np.full(len(snapshot.nodes), np.nan)
    for station, days in (("L1-S", 30.0), ("L3-S", 10.0)):
        risks[snapshot.nodes.key.index(station)] = days
    first, second = _make("L1", "L3", draft=draft, risks=risks)
    assert (first.benefit, second.benefit) == (pytest.approx(9.375), pytest.approx(3.125))


def test_a_station_that_is_not_told_of_keeps_the_rule_of_thumb() -> None:
    draft = _draft()
    snapshot = draft.snapshot()
    risks = np.full(len(snapshot.nodes), np.nan)
    risks[snapshot.nodes.key.index("L1-S")] = 777.0
    first, second = _make("L1", "L3", draft=draft, risks=risks)
    assert (first.benefit, second.benefit) == (pytest.approx(8.0), pytest.approx(4.5))


def test_a_station_whose_room_is_not_known_keeps_its_order_from_being_dated() -> None:
    draft = _draft()
    draft.nodes = [replace(row, room=None) if row.key == "L1-S" else row for row in draft.nodes]
    (order,) = _make("L1", draft=draft, places=())
    assert order.unknown == ("the room of station L1-S is not known, so nobody can tell when it is free",)


def test_the_order_of_reports_changes_nothing() -> None:
    assert _make("L4", "L2", "L1", "L3") == _make("L1", "L2", "L3", "L4")


LIMITS = Limits(
    longest_dark_min=240,
    longest_onsite_min=600,
    setup_and_restore_min=30,
    outage_rate=Decimal(0),
    call_out=Decimal(100),
)


def _piece(room: str, dark_min: int, *links: str) -> Piece:
    return Piece(rooms=frozenset({("B1", room)}), links=frozenset(links), dark_min=dark_min, live_min=0)


def test_the_exact_grouping_finds_two_call_outs_where_joining_pair_by_pair_needs_three() -> None:
    # Minutes 120, 120, 80, 80, 80 in at most 240: only 120 + 120 and 80 + 80 + 80 make two groups.
    pieces = tuple(_piece(str(at), dark, "floor") for at, dark in enumerate((120, 80, 80, 120, 80)))
    assert group_pieces(pieces, LIMITS) == ((0, 3), (1, 2, 4))


def test_many_pieces_are_joined_pair_by_pair_within_the_longest_outage() -> None:
    pieces = tuple(_piece(str(at), 60, "floor") for at in range(EXACT_PIECES + 4))
    groups = group_pieces(pieces, LIMITS)
    assert sorted(at for group in groups for at in group) == list(range(len(pieces)))
    assert {len(group) for group in groups} == {4}


def test_pieces_that_nothing_links_are_never_joined() -> None:
    assert group_pieces((_piece("1", 60, "a"), _piece("2", 60, "b")), LIMITS) == ((0,), (1,))
