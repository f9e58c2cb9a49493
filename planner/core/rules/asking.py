"""What the worded rules answer about one representative of each kind: of members, stations, cables, limits.

Rules that look at one thing after another (does this node have to move, has this cable a data pair, does this opening
take the new station) are asked once for each kind of thing that occurs; a whole campus then looks the answers up. So
there is one wording and one decision for each of them, however many segments there are.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Cable, Catalogue, Method, Model, NodeKind, ProtocolRow
from planner.core.brief import Brief
from planner.core.findings import Finding, Outcome
from planner.core.power import PowerState
from planner.core.rules.answers import weight
from planner.core.rules.cabling import judge_cable, screen_faults
from planner.core.rules.case import Case, Feed, Member, Wire
from planner.core.rules.cases import patch_cables
from planner.core.rules.columns import area_mm2, feeds
from planner.core.rules.feeding import judge_one_source
from planner.core.rules.fit import judge_box, judge_functions
from planner.core.rules.membership import judge_alone, judge_gateway, judge_records
from planner.core.rules.options import Option
from planner.core.rules.wiring import judge_layout

Longs = NDArray[np.int64]
Codes = NDArray[np.int8]
PASS, CLOSE, UNKNOWN, FAIL = (
    weight(one) for one in (Outcome.PASS, Outcome.CLOSE, Outcome.UNKNOWN, Outcome.FAIL)
)  # codes of outcomes: of several answers the greatest decides
_NO_FEED = Feed(source_v=None, source_a=0.0, loss_w=0.0, load_w=0.0, state=PowerState.NO_SOURCE, known=True)
_DRAWS = Model(key="", kind=NodeKind.STATION, draw_w=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """What the rules about the equipment look at: models now and afterwards, method, and what the node's row says."""

    now: Model | None
    after: Model | None
    method: Method | None
    box_gangs: int | None = None
    zones_used: int | None = None
    scenes_used: int | None = None
    zone_rows: int = 0
    scene_rows: int = 0


def code(finding: Finding) -> int:
    """Return the outcome of a finding as a code."""
    return weight(finding.outcome)


def _case(brief: Brief, option: Option) -> Case:
    """Return a segment on which there is nothing."""
    return Case(
        segment="",
        brief=brief,
        option=option,
        row=None,
        protocol=None,
        members=(),
        old=(),
        gateways=(),
        sources=(),
        wires=(),
        doubts=(),
        doubtful=False,
        silent=(),
        lost=(),
        loops=0,
        pieces=1,
        trunk_m=0.0,
        total_m=0.0,
        longest_stub_m=0.0,
        all_stubs_m=0.0,
        trunk_ends=(-1, -1),
        branched=False,
        lengths_known=True,
        feed=_NO_FEED,
        local=_NO_FEED,
        patch=(),
    )


def _member(one: Station) -> Member:
    return Member(
        key="one",
        now=one.now,
        model=one.after,
        method=one.method,
        ends=-1,
        feeds=one.after is not None and feeds(one.after),
        volts=None,
        volts_local=None,
        box_gangs=one.box_gangs,
        zones_used=one.zones_used,
        scenes_used=one.scenes_used,
        zone_rows=one.zone_rows,
        scene_rows=one.scene_rows,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Answers about one member: may it stay, can the gateway be changed, do the records fit, may it feed too."""

    alone: int
    gateway: int
    records: int
    one_source: int


def ask_member(brief: Brief, option: Option, protocol: str | None, one: Station) -> Asked:
    """Return what the rules say of a segment on which a member is alone, beside a gateway and a source."""
    case, member = _case(brief, option), _member(one)
    of_one = replace(case, members=(member,), protocol=protocol)
    is_gateway = member.kind is NodeKind.GATEWAY
    return Asked(
        alone=code(judge_alone(of_one)),
        gateway=code(judge_gateway(replace(case, gateways=(member,)))) if is_gateway else PASS,
        records=code(judge_records(of_one)),
        one_source=code(judge_one_source(replace(of_one, sources=(member,)))),
    )


def ask_box(brief: Brief, option: Option, one: Station) -> tuple[int, int]:
    """Return what rule box says of a segment whose only old station is this one, without and with the box adapter."""
    case = replace(_case(brief, option), old=(_member(one),))
    return code(judge_box(case)), code(judge_box(replace(case, extras=frozenset({"box adapter"}))))


def ask_functions(brief: Brief, option: Option, one: Station) -> int:
    """Return what rule functions says of a segment whose only old station is this one."""
    return code(judge_functions(replace(_case(brief, option), old=(_member(one),))))


def ask_hungry(brief: Brief, option: Option, row: ProtocolRow | None) -> int:
    """Return what rule one source says where old stations draw and the limits in question say the bus has no power."""
    station = Station(now=_DRAWS, after=_DRAWS, method=None)
    return code(judge_one_source(replace(_case(brief, option), row=row, old=(_member(station),))))


def ask_layout(brief: Brief, option: Option, row: ProtocolRow | None) -> Codes:
    """Return what rule layout says, int8[2, 2, 2]: with loops, with wiring that is not recorded, with branches."""
    case = replace(_case(brief, option), row=row)
    return np.array(
        [
            [
                [
                    code(judge_layout(replace(case, loops=loops, silent=silent, branched=branched)))
                    for branched in (False, True)
                ]
                for silent in ((), ("",))
            ]
            for loops in (0, 1)
        ],
        dtype=np.int8,
    )


def ask_screens(option: Option, cables: Iterable[Cable | None]) -> Codes:
    """Return what rule cable says of the screen of each cable, int8[c], where the methods of an option land signals on it."""
    found = [[fault for fault, _ in screen_faults(option, cable)] if cable is not None else [] for cable in cables]
    return np.array([PASS if not faults else FAIL if any(faults) else UNKNOWN for faults in found], dtype=np.int8)


def ask_cables(brief: Brief, option: Option, row: ProtocolRow | None, cables: Iterable[Cable | None]) -> Codes:
    """Return what rule cable says of each cable, int8[2, c]: where nothing draws, where something does."""
    bare = replace(option, methods=tuple(replace(method, pins=()) for method in option.methods))  # `ask_screens` asks
    case = replace(_case(brief, bare), row=row)
    draws = _member(Station(now=_DRAWS, after=_DRAWS, method=None))
    found = [
        [code(judge_cable(replace(case, members=members, wires=(_wire(cable),)))) for cable in cables]
        for members in ((), (draws,))
    ]
    return np.array(found, dtype=np.int8)


def _wire(cable: Cable | None) -> Wire:
    return Wire(
        key="",
        bus=None,
        cable=cable,
        area_mm2=None if cable is None else area_mm2(cable),
        power_pairs=None if cable is None else cable.power_pairs,
        length_m=0.0,
        leads=0,
        cable_ends=0,
        amps=0.0,
        amps_local=0.0,
    )


def cables_with_leads(catalogue: Catalogue, option: Option) -> tuple[Cable | None, ...]:
    """Return the cables of the patch leads of an option, None for one that is not in the catalogue."""
    return tuple(patch_cables(option, {cable.key: cable for cable in catalogue.cables}))
