"""Changed segments as cases, and the rules asked about them: the same rules, on the same figures, as of any segment."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from inventory.core.catalogue import Cable, ProtocolRow
from inventory.core.snapshot import Snapshot
from planner.core.brief import Brief
from planner.core.findings import Finding, Outcome
from planner.core.pieces import Piece, stacked
from planner.core.rules.answers import SLACK
from planner.core.rules.cabling import judge_cable
from planner.core.rules.case import Case, Wire
from planner.core.rules.columns import area_mm2
from planner.core.rules.membership import judge_alone, other_members
from planner.core.rules.settle import Settled
from planner.core.rules.table import BOX, BY_CODE, END, LARGER, LOCAL, RATE, RULES
from planner.core.segments import find_segments
from planner.core.verdicts import Campus, cases_of

Methods = tuple[str, ...]
FIXED = ("gateway", "records", "functions")  # rules that no change of a way out touches
SHAPE = ("alone", "layout", "length", "stubs", "nodes", "ends", "box")  # rules that no cable touches, thick or thin
POWER = ("length", "cable", "one source", "voltage", "supply", "current")  # length again, with what its copper allows
SHAPE_CURES = (("ends", END), ("box", BOX))
POWER_CURES = (frozenset[str](), frozenset({LOCAL}), frozenset({LARGER}), frozenset({LOCAL, LARGER}))
_GOOD = (Outcome.PASS, Outcome.CLOSE)


def is_wrong(finding: Finding) -> bool:
    """Tell whether a finding fails or lacks a fact."""
    return finding.outcome not in _GOOD


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One segment as it would be, under one option at one bit rate and with some extras."""

    case: Case
    fixed: tuple[Finding, ...]  # of the segment as it stands

    def answers(self, rules: Sequence[str]) -> Iterator[Finding]:
        """Yield the findings of some rules."""
        for rule in rules:
            yield BY_CODE[rule].judge(self.case)

    def pass_all(self, rules: Sequence[str]) -> bool:
        """Tell whether some rules pass, without a fact missing."""
        return not any(map(is_wrong, self.answers(rules)))

    @property
    def on_thick_data(self) -> "Trial":
        """Return the same with data conductors as thick as any length asks for."""
        return replace(self, case=replace(self.case, copper=0.0))

    @property
    def stands(self) -> bool:
        """Tell whether all passes that no other cable in its ways would change."""
        return self.on_thick_data.pass_all(SHAPE) and not any(map(is_wrong, self.fixed))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Return one finding a rule, in the order of the table."""
        fixed = {one.rule: one for one in self.fixed}
        return tuple(fixed[rule.code] if rule.code in FIXED else rule.judge(self.case) for rule in RULES)

    def having(self, extras: frozenset[str]) -> "Trial":
        """Return the same with these extras beside those it has."""
        return replace(self, case=replace(self.case, extras=self.case.extras | extras))


def key_of(case: Case) -> Methods:
    """Return the methods of a case's option, by which options are told apart."""
    return tuple(method.key for method in case.option.methods)


def fixed_of(settled: Settled) -> tuple[Finding, ...]:
    """Return the findings that no change touches."""
    return tuple(one for one in settled.findings if one.rule in FIXED)


def open_rows(case: Case) -> Iterator[tuple[ProtocolRow, frozenset[str]]]:
    """Yield the limits that a segment may be set to, with the extra that this is."""
    rows = case.option.rows
    for number, row in enumerate(rows):
        if number == 0:
            yield row, frozenset()
        elif not case.option.rate_named and _slower(rows[0], row):
            yield row, frozenset({RATE})


def _slower(first: ProtocolRow, row: ProtocolRow) -> bool:
    if row.bit_rate_kbit_s is None:
        return False
    return first.bit_rate_kbit_s is None or row.bit_rate_kbit_s < first.bit_rate_kbit_s - SLACK


def judged_pieces(snapshot: Snapshot, brief: Brief, pieces: Sequence[Piece], names: Sequence[str]) -> list[list[Case]]:
    """Return the cases of each piece, one an option, bare of extras; `names` are the segments that the pieces are of."""
    campus_now = stacked(snapshot, pieces)
    campus = Campus(campus_now, find_segments(campus_now), brief)
    found: list[list[Case]] = [[] for _ in pieces]
    for label, case in cases_of(campus):
        place = int(campus.segments.key[label])
        found[place].append(replace(case, segment=names[place], lost=(), extras=frozenset()))
    return found


def must_move(case: Case) -> tuple[str, ...]:
    """Return the nodes that cannot stay: each is judged as if it were the only other one."""
    return tuple(
        one.key for one in case.members if judge_alone(replace(case, members=(one,), lost=())).outcome not in _GOOD
    )


def may_move(case: Case) -> tuple[str, ...]:
    """Return the other nodes that could be moved although they may stay."""
    bound = set(must_move(case))
    return tuple(one.key for one in other_members(case) if one.key not in bound)


def data_fits(case: Case, cable: Cable | None) -> bool:
    """Tell whether a cable has the data pairs that the bus of a case needs; a run of another kind must be pulled anew."""
    wire = Wire(
        key="",
        bus=None,
        cable=cable,
        area_mm2=None if cable is None else area_mm2(cable),
        power_pairs=None if cable is None else cable.power_pairs,
        length_m=None,
        leads=0,
        cable_ends=0,
        amps=0.0,
        amps_local=0.0,
    )
    alone = replace(case, wires=(wire,), members=(), patch=(), silent=())
    return judge_cable(alone).outcome in _GOOD
