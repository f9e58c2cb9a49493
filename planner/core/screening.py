"""A whole campus through all rules as arrays: from segments and options to the outcome of every rule on every trial."""

from dataclasses import dataclass, fields, replace

import numpy as np

from planner.core.beside import both
from planner.core.campus import Campus
from planner.core.rules.after import Trials, make_trials, some_of
from planner.core.rules.asking import FAIL, UNKNOWN
from planner.core.rules.columns import ModelColumns, model_columns
from planner.core.rules.cures import Outcomes, bare, judge_all, may_need_local, open_to, settle_all
from planner.core.rules.doubts import UNWIRED, lost_nearby, near_loose_runs
from planner.core.rules.fed import Fed, conduct_of, sum_up
from planner.core.rules.feeds import measure_feeds
from planner.core.rules.lengths import measure_lengths
from planner.core.rules.screen import Floats, Screen, State, make_limits
from planner.core.rules.table import LARGER
from planner.core.rules.tally import OfSegments, Tally, tally
from planner.core.segments import MEMBERSHIP
from planner.core.sides import Flags, Longs


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """Every option of every segment with the outcome of every rule; gateways apart from their other segments.

    gateway, gateway_after : int64[t], the one gateway of each trial and its model afterwards, -1 where there is no
    single one or the model is not known. gateway_w, usable_w : float64[t], what the trial draws from its gateway and
    what that can feed in all [W], infinite where nobody recorded it or a larger supply is put in; rating_w as recorded.
    """

    screen: Screen
    outcomes: Outcomes
    gateway: Longs
    gateway_after: Longs
    gateway_w: Floats
    usable_w: Floats
    rating_w: Floats

    @property
    def failing(self) -> Flags:
        """Tell which rules fail and nothing cures, bool[rules, t]."""
        return np.asarray((self.outcomes.code == FAIL) & ~self.outcomes.cured)

    @property
    def unknown(self) -> Flags:
        """Tell which rules lack a fact, bool[rules, t]."""
        return np.asarray(self.outcomes.code == UNKNOWN)


def screen_campus(campus: Campus) -> Screened:
    """Return the outcome of every rule on every option of every segment."""
    snapshot, segments, brief = campus.snapshot, campus.segments, campus.brief
    columns = model_columns(snapshot.catalogue)
    trials = make_trials(snapshot, segments, brief, campus.tries, campus.options)
    rows, fed = both(
        lambda: _tallied(campus, trials, columns),
        lambda: _fed(campus, trials, columns, local=False),
        len(trials.side),
    )
    screen = Screen(
        brief=brief,
        tally=rows,
        fed=fed,
        local=fed,
        limits=make_limits(snapshot.catalogue, campus.options, brief),
        like_for_like=np.array([one.like_for_like for one in campus.options])[trials.option],
    )
    open_ = open_to(screen, campus.options)
    code = judge_all(screen, bare(open_))
    some = may_need_local(code, open_)
    if len(some):
        part = some_of(trials, some)
        screen = replace(screen, local=_merged(fed, some, _fed(campus, part, columns, local=True)))
    single = rows.gateways == 1
    side = rows.gateway_side
    after = np.where(single, trials.after[side], -1)
    outcomes = settle_all(screen, open_, code)
    return Screened(
        screen=screen,
        outcomes=outcomes,
        gateway=np.where(single, segments.side_node[trials.side[side]], -1),
        gateway_after=after,
        gateway_w=_from_gateway_w(screen, outcomes.state, single & trials.source[side]),
        usable_w=_usable_w(screen, outcomes.state, columns.rating_w[after]),
        rating_w=columns.rating_w[after],
    )


def _from_gateway_w(screen: Screen, state: State, feeding: Flags) -> Floats:
    """Return what each trial draws from its gateway [W], 0 where that does not feed it alone."""
    volts, amps = (state.power(screen, name).astype(np.float64) for name in ("source_v", "source_a"))
    alone = feeding & (screen.fed.sources == 1) & screen.limits.fed[state.row]
    return np.where(alone, np.maximum(np.nan_to_num(volts * amps, nan=0.0), 0.0), 0.0)


def _usable_w(screen: Screen, state: State, rating_w: Floats) -> Floats:
    usable = rating_w * (1 - screen.brief.supply_reserve_pct / 100)
    return np.where(np.isnan(usable) | state.has(LARGER), np.inf, usable)


def _tallied(campus: Campus, trials: Trials, columns: ModelColumns) -> Tally:
    lengths = measure_lengths(trials, campus.segments.loops[trials.segment])
    return tally(
        campus.snapshot,
        campus.segments,
        campus.brief,
        campus.options,
        campus.protocols,
        trials,
        lengths,
        columns,
        open_flags(campus),
    )


def _fed(campus: Campus, trials: Trials, columns: ModelColumns, *, local: bool) -> Fed:
    load_w = trials.local_w if local else trials.load_w
    feeds = measure_feeds(trials, columns, load_w, trials.pieces == 1)
    conduct = conduct_of(campus.snapshot.catalogue, campus.snapshot.runs.cable[trials.run], campus.options)
    return sum_up(trials, feeds, load_w, columns, conduct, campus.brief)


def _merged(fed: Fed, some: Longs, other: Fed) -> Fed:
    """Return one with some of its trials as in another."""
    columns = {}
    for field in fields(Fed):
        column = getattr(fed, field.name).copy()
        column[some] = getattr(other, field.name)
        columns[field.name] = column
    return Fed(**columns)


def open_flags(campus: Campus) -> OfSegments:
    """Return what is open about each segment."""
    snapshot, segments, doubts = campus.snapshot, campus.segments, campus.segments.doubts
    unwired, doubtful = np.isin(doubts.kind, UNWIRED), np.isin(doubts.kind, MEMBERSHIP)
    protocols = {label: campus.protocols[label] for label in campus.tries[:, 0].tolist()} if len(segments.lost) else {}
    lost = lost_nearby(snapshot, segments, protocols, campus.brief.doubt_reach)
    near = [np.empty(0, dtype=np.int64), *(labels for _, labels in near_loose_runs(snapshot, segments))]
    silent_bus = campus.protocol_of_bus < 0
    silent_bus[-1] = False
    unsaid = segments.label[silent_bus[segments.side_bus]] if silent_bus.any() else np.empty(0, dtype=np.int64)
    return OfSegments(
        silent=_marked(campus, doubts.label[unwired]),
        doubtful=_marked(campus, doubts.label[doubtful]),
        open=_marked(campus, np.concatenate([doubts.label[~unwired], unsaid, *near])),
        lost=_marked(campus, np.array(sorted(lost), dtype=np.int64)),
    )


def _marked(campus: Campus, labels: Longs) -> Flags:
    found = np.zeros(len(campus.segments), dtype=bool)
    found[labels] = True
    return found
