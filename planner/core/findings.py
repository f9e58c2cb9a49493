"""What the rules and the verdict say about one segment: the words that every later stage, page and file uses."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Outcome(StrEnum):
    """Outcome of one rule on one segment."""

    PASS = "pass"  # noqa: S105 - the trade's word, not a secret
    CLOSE = "close"
    FAIL = "fail"
    UNKNOWN = "unknown"


class Verdict(StrEnum):
    """What must be done with a segment."""

    IN_PLACE = "in place"
    TOGETHER = "together"
    CLEAR_FIRST = "clear first"
    NEW_CABLE = "new cable"
    OTHER_METHOD = "other method"
    SURVEY_FIRST = "survey first"
    LEAVE = "leave"


CONVERTIBLE = (Verdict.IN_PLACE, Verdict.TOGETHER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The outcome of one rule on one segment.

    `measured`, `limit` and `margin` are in `unit`; margin is what is left to the limit, negative past it; each is
    None where the rule has no figure or none is known. `missing` names the facts to ask for. `cured_by` names the
    extra that turns a fail into a pass, where one is open to the segment.
    """

    rule: str
    outcome: Outcome
    why: str
    measured: float | None = None
    limit: float | None = None
    unit: str | None = None
    margin: float | None = None
    source: str | None = None
    missing: tuple[str, ...] = ()
    cured_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadVoltage:
    """Voltage [V] and current [A] predicted at one node after conversion; None where no operating point exists."""

    node: str
    voltage_v: float | None
    current_a: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change of a way out: `what` is done to what (`about`), in words, and its price, None where that is not known.

    `to` is the segment that a node moves to, or the cable that is pulled; `length_m` how much of it, in `places` runs;
    `rate_kbit_s` the bit rate that a bus is set to; `line` a new line's runs in order: from, to, length [m].
    """

    what: str
    about: str
    words: str
    price: Decimal | None
    to: str | None = None
    length_m: float | None = None
    places: int = 1
    rate_kbit_s: float | None = None
    line: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """The cheapest set of changes that makes a segment convertible, judged again by the same rules.

    passes : whether every rule passes with the changes; if not, no set of changes does, these are the most that can be
    done, and `still` says what stays open. price : the changes together in `currency`, None where one price is not
    known (`unpriced` says which); priced : those that are known. at_most : what they come to at most where only lengths are
    not known and `at_most_if` holds, else None. a_metre : where nothing says how long the wire may be, what each metre of it
    costs. parts : the conversion's own parts beside the changes,
    which count when ways are compared; None where one price is not known. methods : by which methods it converts. leaves_close :
    rules that pass with less than the reserve. along : segments of the same gateway that must take their own ways out in
    the same outage. questions_first : the survey's questions come first, and the changes
    are needed only if the answers are bad. moves_again : in words, what moves to a segment that is to be converted itself. limited : whether a limit cut the search, so that a cheaper set may exist.
    tried : sets that were judged. voltages : what arrives at each load with the changes, where every rule passes.
    """

    passes: bool
    price: Decimal | None
    currency: str
    changes: tuple[Change, ...] = ()
    priced: Decimal = Decimal(0)
    unpriced: tuple[str, ...] = ()
    at_most: Decimal | None = None
    a_metre: Decimal | None = None
    at_most_if: str = ""
    parts: Decimal | None = None
    methods: tuple[str, ...] = ()
    leaves_close: tuple[str, ...] = ()
    still: tuple[str, ...] = ()
    along: tuple[str, ...] = ()
    questions_first: bool = False
    moves_again: tuple[str, ...] = ()
    limited: bool = False
    tried: int = 0
    voltages: tuple[LoadVoltage, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentReport:
    """One segment, judged. Keys as in the workbook; tuples sorted.

    `segment` is the first of its bus names (or, where it has none, of its node names). `places` are (building, room)
    of its old stations. `gateway_neighbours` are the segments on the other sides of its gateways. `wire_m` is the
    recorded length of all its runs, None if one is not known. `not_asked` are facts that nobody recorded and that no
    answer about changes the verdict. `changes` are those of a way out that was taken: the rest
    of the report then says how the segment stands with them.
    """

    segment: str
    building: str | None
    buses: tuple[str, ...]
    verdict: Verdict
    why: str
    decided_by: str | None
    old_stations: tuple[str, ...]
    gateways: tuple[str, ...]
    others: tuple[str, ...]
    nodes: tuple[str, ...]
    runs: tuple[str, ...]
    extras: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    not_asked: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    methods: tuple[tuple[str, str], ...] = ()  # (old station, method) for each old station
    new_protocol: str | None = None
    bit_rate_kbit_s: float | None = None
    places: tuple[tuple[str, str], ...] = ()
    gateway_neighbours: tuple[str, ...] = ()
    cable_ends: int = 0
    wire_m: float | None = None
    voltages: tuple[LoadVoltage, ...] = ()
    way_out: WayOut | None = None  # of a segment with old stations that is not convertible
    changes: tuple[Change, ...] = ()
