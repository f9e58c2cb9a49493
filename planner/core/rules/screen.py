"""Every rule on every trial at once: outcomes as codes, no words.

Answers about single things were asked of the worded rules (`asking`); what is left is figures against limits. Tests
hold every code here against the finding of the worded rule on the same trial.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.core.catalogue import Catalogue, ProtocolRow
from inventory.core.limits import (
    CLASS_2_V,
    CLASS_2_VA,
    DROP,
    DROP_MOST,
    LEAST_SUPPLY,
    MANY,
    MANY_NODES,
    MOST_SOURCE,
    MOST_SUPPLY,
    SHORTEST_RUN,
    SUPPLY_REACH,
    TAP,
    Limit,
)
from planner.core.brief import Brief
from planner.core.rules.answers import SLACK
from planner.core.rules.asking import (
    CLOSE,
    FAIL,
    PASS,
    UNKNOWN,
    ask_cables,
    ask_hungry,
    ask_layout,
    ask_screens,
    cables_with_leads,
)
from planner.core.rules.copper import most_copper, most_copper_by_nodes
from planner.core.rules.fed import Fed
from planner.core.rules.options import Option
from planner.core.rules.sorts import times_longer
from planner.core.rules.table import BOX, END, LARGER, LOCAL, RATE
from planner.core.rules.tally import Tally
from planner.core.rules.wiring import BOTH_ENDS, SHARED, is_at_an_end, is_at_far_end

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Flags = NDArray[np.bool_]
Codes = NDArray[np.int8]
NONE = -1
BIT = {BOX: 1, END: 2, LARGER: 4, LOCAL: 8, RATE: 16}  # of extras that are put in


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """All rows of protocols that occur, as columns with one more row for none; NaN where a row is silent.

    cable : int8[r, 2, c + 1], answers about cables where nothing and where something draws. layout : int8[r, 2, 2, 2].
    hungry : int8[r, o], what one source says of stations that draw, by option. leads : int8[r, 2, o], of patch leads. screens : int8[o, c + 1], of the screens of cables.
    """

    longest_bus_m: Floats
    farthest_pair_m: Floats
    total_wire_m: Floats
    longest_stub_m: Floats
    all_stubs_m: Floats
    less_per_node_m: Floats
    less_per_stub_m: Floats
    most_nodes: Floats
    most_unit_loads: Floats
    ends: Floats
    bounds: Mapping[
        str, Floats
    ]  # limits that are no column of a row, by name; infinite (0 for a least and for many, NaN for copper and times) where there is none
    fed: Flags
    cable: Codes
    leads: Codes
    screens: Codes
    layout: Codes
    hungry: Codes
    rows_of: Longs  # int64[o, m], rows of each option in the order they are tried, NONE behind the last
    rate: Floats  # infinite where a row names none


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """Trials as the rules are asked about them."""

    brief: Brief
    tally: Tally
    fed: Fed
    local: Fed  # with local supplies put in; of trials to which they are not open the same as without
    limits: Limits
    like_for_like: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Some trials, each at one row of its protocol (NONE where there is no row) and with the extras that are put in."""

    at: Longs
    row: Longs
    extras: Longs

    def has(self, extra: str) -> Flags:
        """Tell which have an extra."""
        return (self.extras & BIT[extra]) > 0

    def power(self, screen: Screen, name: str) -> NDArray[np.generic]:
        """Return a column of what arrives, with or without local supplies."""
        here, there = getattr(screen.fed, name)[self.at], getattr(screen.local, name)[self.at]
        return np.asarray(np.where(self.has(LOCAL), there, here))


def make_limits(catalogue: Catalogue, options: Sequence[Option], brief: Brief) -> Limits:
    """Return the limits of all options."""
    place: dict[ProtocolRow, int] = {}
    for option in options:
        for row in option.rows:
            place.setdefault(row, len(place))
    rows: list[ProtocolRow | None] = [*place, None]
    any_option = options[0] if options else None
    most = max((len(option.rows) for option in options), default=0)
    rows_of = np.full((len(options), max(most, 1)), NONE, dtype=np.int64)
    for number, option in enumerate(options):
        rows_of[number, : len(option.rows)] = [place[row] for row in option.rows]
    cables = [*catalogue.cables, None]
    leads = [cables_with_leads(catalogue, option) for option in options]
    by_row = [
        (ask_cables(brief, any_option, row, cables), ask_layout(brief, any_option, row)) for row in rows if any_option
    ]
    number_of = {cable.key if cable else None: number for number, cable in enumerate(cables)}

    def column(name: str) -> Floats:
        values = (getattr(row, name, None) for row in rows)
        return np.array([np.nan if value is None else float(value) for value in values])

    return Limits(
        **{name: column(name) for name in _COLUMNS},
        bounds=_bounds(rows),
        fed=np.array([row is None or row.power_on_bus is not False for row in rows]),
        cable=np.array([one for one, _ in by_row], dtype=np.int8),
        leads=np.array(
            [
                [
                    [
                        max((int(one[drawn, number_of[lead.key if lead else None]]) for lead in kinds), default=PASS)
                        for kinds in leads
                    ]
                    for drawn in (0, 1)
                ]
                for one, _ in by_row
            ],
            dtype=np.int8,
        ),
        screens=np.array([ask_screens(option, cables) for option in options], dtype=np.int8).reshape(-1, len(cables)),
        layout=np.array([one for _, one in by_row], dtype=np.int8),
        hungry=np.array([[ask_hungry(brief, option, row) for option in options] for row in rows], dtype=np.int8),
        rows_of=rows_of,
        rate=np.array([np.inf if row is None or row.bit_rate_kbit_s is None else row.bit_rate_kbit_s for row in rows]),
    )


def _bounds(rows: Sequence[ProtocolRow | None]) -> dict[str, Floats]:
    """Return the limits of each row that are no column of it."""

    def column(table: Mapping[str, Limit], none: float = np.inf) -> Floats:
        found = (None if row is None else table.get(row.protocol) for row in rows)
        return np.array([none if limit is None else limit.value for limit in found])

    copper = (None if row is None else most_copper(row) for row in rows)
    times = (None if row is None else times_longer(row) for row in rows)
    return {
        "reach_m": column(SUPPLY_REACH),
        "tap_m": column(TAP),
        "drop_am": column(DROP),
        "drop_a": column(DROP_MOST),
        "least_v": column(LEAST_SUPPLY, 0.0),
        "most_v": column(MOST_SUPPLY),
        "most_a": column(MOST_SOURCE),
        "an_end": np.array([float(is_at_an_end(row)) for row in rows]),
        "far_end": np.array([float(is_at_far_end(row)) for row in rows]),
        "shortest_m": column(SHORTEST_RUN, 0.0),
        "many": column(MANY, 0.0),
        "times_longer": np.array([np.nan if more is None else more for more in times]),
        "copper": np.array([np.nan if most is None else most for most in copper]),
    }


_COLUMNS = (
    "longest_bus_m",
    "farthest_pair_m",
    "total_wire_m",
    "longest_stub_m",
    "all_stubs_m",
    "less_per_node_m",
    "less_per_stub_m",
    "most_nodes",
    "most_unit_loads",
    "ends",
)


def at_most(measured: Floats, limit: Floats, missing: Flags, brief: Brief) -> Codes:
    """Return how figures stand to the most they may be; PASS where there is no limit (NaN)."""
    near = limit - measured < limit * brief.reserve_pct / 100 - SLACK
    code = np.where(missing, UNKNOWN, np.where(near, CLOSE, PASS))
    code = np.where(measured > limit + SLACK, FAIL, code)
    return np.where(np.isnan(limit), PASS, code).astype(np.int8)


def _coded(*ways: tuple[Flags, int | Codes], otherwise: int | Codes) -> Codes:
    """Return for each trial the code of the first way that holds."""
    conditions, codes = [way[0] for way in ways], [np.broadcast_to(way[1], ways[0][0].shape) for way in ways]
    return np.select(conditions, codes, otherwise).astype(np.int8)


def _alone(screen: Screen, state: State) -> Codes:
    tally, at = screen.tally, state.at
    near = np.where(tally.lost[at] & ~screen.like_for_like[at], UNKNOWN, PASS)
    return np.maximum(tally.alone[at], near).astype(np.int8)


def _gateway(screen: Screen, state: State) -> Codes:
    tally, at = screen.tally, state.at
    return _coded(
        (screen.like_for_like[at], PASS),
        (tally.gateways[at] == 0, UNKNOWN),
        (tally.gateways[at] > 1, FAIL),
        otherwise=tally.gateway[at],
    )


def _records(screen: Screen, state: State) -> Codes:
    tally, at = screen.tally, state.at
    return np.maximum(tally.records[at], np.where(tally.open[at] | tally.silent[at], UNKNOWN, PASS)).astype(np.int8)


def _layout(screen: Screen, state: State) -> Codes:
    tally, at = screen.tally, state.at
    branched = tally.lengths.branched[at]
    return np.asarray(
        screen.limits.layout[state.row, tally.loops[at] * 1, tally.silent[at] * 1, branched * 1], dtype=np.int8
    )


def _missing_lengths(screen: Screen, state: State) -> Flags:
    return np.asarray(~screen.tally.lengths.known[state.at] | screen.tally.silent[state.at])


def _length(screen: Screen, state: State) -> Codes:
    lengths, limits, at, row = screen.tally.lengths, screen.limits, state.at, state.row
    missing = _missing_lengths(screen, state)
    per_node = np.nan_to_num(limits.less_per_node_m[row], nan=0.0) * screen.tally.speaking[at]
    per_stub = np.nan_to_num(limits.less_per_stub_m[row], nan=0.0) * lengths.all_stubs_m[at]
    budget = np.maximum(limits.longest_bus_m[row] - per_node - per_stub, 0.0)
    bounds = (
        (lengths.trunk_m[at], budget),
        (lengths.trunk_m[at], limits.farthest_pair_m[row]),
        (lengths.total_m[at], limits.total_wire_m[row]),
    )
    silent = np.all([np.isnan(limit) for _, limit in bounds], axis=0)
    codes = [at_most(measured, limit, missing, screen.brief) for measured, limit in bounds]
    worst = np.max([*codes, _mixed(screen, state, missing)], axis=0)
    most = np.fmin(limits.bounds["copper"][row], _copper_by_nodes(screen, state))
    thin = ~np.isnan(most) & ~(screen.tally.copper[at] <= most)
    short = screen.tally.shortest_m[at] < limits.bounds["shortest_m"][row] - SLACK
    return _coded((silent | ((worst < UNKNOWN) & (thin | short)), UNKNOWN), otherwise=worst)


def _mixed(screen: Screen, state: State, missing: Flags) -> Codes:
    """Return how trunks of two sorts of cable stand to the length that the thicker one may have."""
    lengths, at = screen.tally.lengths, state.at
    thin_m, limit = screen.tally.thin_m[at], screen.limits.longest_bus_m[state.row]
    times = screen.limits.bounds["times_longer"][state.row]
    unknown = np.isnan(thin_m)
    longer = lengths.trunk_m[at] + (times - 1) * np.nan_to_num(thin_m, nan=0.0)
    code = at_most(longer, limit, missing | unknown, screen.brief)
    where = (code == FAIL) & lengths.branched[at] & (lengths.trunk_m[at] <= limit + SLACK)
    return _coded((np.isnan(times) | (thin_m == 0), PASS), (where, UNKNOWN), otherwise=code)


def _copper_by_nodes(screen: Screen, state: State) -> Floats:
    """Return the most copper that the count of nodes allows, NaN where it binds nothing."""
    bound = screen.limits.bounds["many"][state.row] > 0
    most = np.full(len(state.at), np.nan)
    nodes = screen.tally.speaking[state.at]
    for count in np.unique(nodes[bound & (nodes >= MANY_NODES)]).tolist():
        most[bound & (nodes == count)] = most_copper_by_nodes(count)
    return most


def _stubs(screen: Screen, state: State) -> Codes:
    lengths, limits, at, row = screen.tally.lengths, screen.limits, state.at, state.row
    missing = _missing_lengths(screen, state)
    plain = ~lengths.branched[at] & ~screen.tally.loops[at] & ~screen.tally.silent[at]
    worst = np.maximum(
        at_most(lengths.longest_stub_m[at], limits.longest_stub_m[row], missing, screen.brief),
        at_most(lengths.all_stubs_m[at], limits.all_stubs_m[row], missing, screen.brief),
    )
    shared = lengths.taps[at] >= SHARED
    shared &= lengths.longest_stub_m[at] * lengths.taps[at] > limits.bounds["tap_m"][row] + SLACK
    return _coded((row == NONE, UNKNOWN), (plain, PASS), (shared & (worst < UNKNOWN), UNKNOWN), otherwise=worst)


def _nodes(screen: Screen, state: State) -> Codes:
    tally, limits, at, row = screen.tally, screen.limits, state.at, state.row
    most, units = limits.most_nodes[row], limits.most_unit_loads[row]
    known = np.zeros(len(at), dtype=bool)
    worst = np.maximum(
        at_most(tally.speaking[at].astype(np.float64), most, known, screen.brief),
        at_most(tally.unit_loads[at], units, tally.unit_unsaid[at], screen.brief),
    )
    return _coded((np.isnan(most) & np.isnan(units), UNKNOWN), otherwise=worst)


def _ends(screen: Screen, state: State) -> Codes:
    tally, at = screen.tally, state.at
    ends, put_in = screen.limits.ends[state.row], state.has(END)
    open_ends = tally.silent[at] | (tally.lengths.branched[at] & ~tally.lengths.known[at])
    built_in, silent = tally.built_in[at], tally.silent_ends[at] > 0
    middle, bare = built_in > tally.at_ends[at], tally.bare[at] & ~put_in
    far, one = (screen.limits.bounds[name][state.row] > 0 for name in ("far_end", "an_end"))
    not_far = tally.inside[at] | (built_in > tally.at_far[at]) | (tally.far_bare[at] & ~put_in)
    return _coded(
        (np.isnan(ends), UNKNOWN),
        (built_in > ends, FAIL),
        ((ends == 1) & ~tally.able[at] & ~put_in, FAIL),
        (far & ~open_ends & not_far, FAIL),
        (one & ~far & ~open_ends & (middle | (tally.all_bare[at] & ~put_in)), FAIL),
        ((ends > 1) & ~open_ends & (middle | bare), FAIL),
        (silent | (((ends == BOTH_ENDS) | one) & open_ends), UNKNOWN),
        otherwise=PASS,
    )


def _cable(screen: Screen, state: State) -> Codes:
    tally, limits, at = screen.tally, screen.limits, state.at
    draws = state.power(screen, "draws") * 1
    worst = limits.leads[state.row, draws, tally.option[at]]
    for kind in range(tally.cables.shape[1]):
        said = np.maximum(limits.cable[state.row, draws, kind], limits.screens[tally.option[at], kind])
        worst = np.maximum(worst, np.where(tally.cables[at, kind], said, PASS))
    return _coded(
        (state.row == NONE, UNKNOWN),
        (worst == FAIL, FAIL),
        (tally.silent[at], UNKNOWN),
        otherwise=worst,
    )


def _one_source(screen: Screen, state: State) -> Codes:
    tally, at, sources = screen.tally, state.at, screen.fed.sources[state.at]
    hungry = np.where(state.power(screen, "hungry"), screen.limits.hungry[state.row, tally.option[at]], PASS)
    return _coded(
        (~screen.limits.fed[state.row], hungry.astype(np.int8)),
        (sources == 0, UNKNOWN),
        (sources > 1, FAIL),
        otherwise=tally.fed_too[at],
    )


def _after_feed(screen: Screen, state: State, code: Codes) -> Codes:
    """Return a code where it can be reckoned, else what stands before that."""
    source_v = state.power(screen, "source_v")
    return _coded(
        (~screen.limits.fed[state.row], PASS),
        (~state.power(screen, "draws").astype(bool), PASS),
        (screen.fed.sources[state.at] != 1, UNKNOWN),
        (np.isnan(source_v.astype(np.float64)), UNKNOWN),
        (~state.power(screen, "stands").astype(bool), FAIL),
        otherwise=code,
    )


def _voltage(screen: Screen, state: State) -> Codes:
    said, too_low, unreached, unsaid, known, near = (
        state.power(screen, name).astype(bool) for name in ("said", "too_low", "unreached", "unsaid", "known", "near")
    )
    far = state.power(screen, "far_m").astype(np.float64) > screen.limits.bounds["reach_m"][state.row] + SLACK
    code = _coded(
        (far | (said & too_low), FAIL), (~said | unreached | unsaid | ~known, UNKNOWN), (near, CLOSE), otherwise=PASS
    )
    return _after_feed(screen, state, code)


def _supply(screen: Screen, state: State) -> Codes:
    source_v, source_a, rating = (
        state.power(screen, name).astype(np.float64) for name in ("source_v", "source_a", "rating_w")
    )
    missing = ~state.power(screen, "known").astype(bool)
    drawn = source_v * source_a
    larger = state.has(LARGER)
    usable = rating * (1 - screen.brief.supply_reserve_pct / 100)
    code = np.where(larger, np.where(missing, UNKNOWN, PASS), at_most(drawn, usable, missing, screen.brief))
    code = np.where(~larger & np.isnan(rating), UNKNOWN, code)
    volt_amperes = np.where(larger, drawn, np.fmax(rating, drawn))
    over = (source_v > CLASS_2_V.value + SLACK) | (volt_amperes > CLASS_2_VA.value + SLACK)
    bounds, row = screen.limits.bounds, state.row
    strange = (source_v < bounds["least_v"][row] - SLACK) | (source_v > bounds["most_v"][row] + SLACK)
    bound = np.isfinite(bounds["most_a"][row])
    strange |= bound & (np.fmax(rating, drawn) > np.where(bound, bounds["most_a"][row], 0.0) * source_v + SLACK)
    asked = np.isfinite(bounds["most_v"][row]) & np.isnan(source_v) | bound & ~larger & np.isnan(rating)
    code = np.where(over & (code < UNKNOWN), CLOSE, code)
    code = _after_feed(screen, state, code.astype(np.int8))
    one = screen.limits.fed[row] & (screen.fed.sources[state.at] == 1)
    code = np.where(one & asked, np.maximum(code, UNKNOWN), code)
    return np.where(one & strange & (source_v > 0), FAIL, code).astype(np.int8)


def _current(screen: Screen, state: State) -> Codes:
    amps, limit = (state.power(screen, name).astype(np.float64) for name in ("amps", "limit_a"))
    missing = ~state.power(screen, "known").astype(bool)
    nothing = np.where(missing, UNKNOWN, PASS)
    code = np.where(np.isnan(amps), nothing, at_most(amps, limit, missing, screen.brief))
    drawn, lengths, bounds = (
        state.power(screen, "source_a").astype(np.float64),
        screen.tally.lengths,
        screen.limits.bounds,
    )
    too_much = drawn * lengths.longest_stub_m[state.at] > bounds["drop_am"][state.row] + SLACK
    too_much |= drawn > bounds["drop_a"][state.row] + SLACK
    in_drops = too_much & lengths.branched[state.at] & ~np.isnan(amps)
    code = np.where(in_drops & (code < UNKNOWN), UNKNOWN, code)
    return _after_feed(screen, state, code.astype(np.int8))


def _box(screen: Screen, state: State) -> Codes:
    return np.where(state.has(BOX), screen.tally.box_adapted[state.at], screen.tally.box[state.at])


def _functions(screen: Screen, state: State) -> Codes:
    return screen.tally.functions[state.at]


SCREENS: Mapping[str, Callable[[Screen, State], Codes]] = {
    "alone": _alone,
    "gateway": _gateway,
    "records": _records,
    "layout": _layout,
    "length": _length,
    "stubs": _stubs,
    "nodes": _nodes,
    "ends": _ends,
    "cable": _cable,
    "one source": _one_source,
    "voltage": _voltage,
    "supply": _supply,
    "current": _current,
    "box": _box,
    "functions": _functions,
}
