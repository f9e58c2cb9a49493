"""Verdicts of all trials as codes, and what the change of a gateway does to its other segments, as arrays."""

import numpy as np
from numpy.typing import NDArray

from planner.core.campus import Campus
from planner.core.findings import Verdict
from planner.core.grouped import spread
from planner.core.rules.answers import SLACK
from planner.core.rules.asking import FAIL, PASS, UNKNOWN
from planner.core.rules.columns import feeds, may_feed, model_columns
from planner.core.rules.table import LARGER, RULES, About
from planner.core.screening import Screened
from planner.core.sides import Flags, Longs
from planner.core.staying import carries_power, drawn_w

Codes = NDArray[np.int8]
Floats = NDArray[np.float64]
VERDICTS: tuple[Verdict, ...] = tuple(Verdict)  # a verdict's code is its place here
NOTHING = -1  # where no rule decides
CODE = {verdict: place for place, verdict in enumerate(VERDICTS)}
RULE = {rule.code: place for place, rule in enumerate(RULES)}
_MEANING = (
    (About.SHARERS, Verdict.CLEAR_FIRST),
    (About.WIRES, Verdict.NEW_CABLE),
    (About.FIT, Verdict.OTHER_METHOD),
)


def verdicts_of_trials(screened: Screened, failing: Flags, unknown: Flags) -> tuple[Codes, Codes]:
    """Return the verdict of each trial and the rule that decides; `failing`, `unknown` : bool[rules, t]."""
    tally = screened.screen.tally
    verdict = np.where(tally.stations == 1, CODE[Verdict.IN_PLACE], CODE[Verdict.TOGETHER]).astype(np.int8)
    decided = np.full(len(verdict), NOTHING, dtype=np.int8)
    _decide(verdict, decided, unknown, range(len(RULES)), Verdict.SURVEY_FIRST)
    for about, meaning in reversed(_MEANING):
        rules = [place for place, rule in enumerate(RULES) if rule.about is about]
        _decide(verdict, decided, failing, rules, meaning)
    verdict[tally.doubtful], decided[tally.doubtful] = CODE[Verdict.SURVEY_FIRST], RULE["records"]
    return verdict, decided


def _decide(verdict: Codes, decided: Codes, flags: Flags, rules: "range | list[int]", meaning: Verdict) -> None:
    """Let the first of some rules that is marked decide, over what was decided before."""
    for place in reversed(rules):
        verdict[flags[place]], decided[flags[place]] = CODE[meaning], place


def gateway_codes(campus: Campus, screened: Screened, verdict: Codes) -> Codes:
    """Return the outcome of rule gateway with what the change does to the gateway's other segments.

    `verdict` : of each trial, apart from the other segments.
    """
    screen = screened.screen
    code: Codes = screened.outcomes.code[RULE["gateway"]].copy()
    at = np.flatnonzero((code == PASS) & ~screen.like_for_like & (screened.gateway >= 0))
    sides, which, _ = spread(campus.gateways.first_of_node, screened.gateway[at])
    trial, other = at[which], campus.gateways.label[sides]
    beside = other != screen.tally.segment[trial]
    trial, other = trial[beside], other[beside]
    cut, doubtful, watts, most = _fates(campus, screened, verdict, trial, other)
    code[at] = UNKNOWN  # unless another segment of the gateway is known
    code[trial] = PASS
    together = np.bincount(trial, weights=np.maximum(watts, 0.0), minlength=len(code)) + screened.gateway_w
    stays = most > 0
    if stays.any():
        with_staying = np.unique(trial[stays])
        more = np.bincount(trial[stays], weights=most[stays] - watts[stays], minlength=len(code))[with_staying]
        unrated = np.isnan(screened.rating_w[with_staying])
        over = unrated | (together[with_staying] + more > screened.usable_w[with_staying] + SLACK)
        code[with_staying[over & ~screened.outcomes.state.has(LARGER)[with_staying]]] = UNKNOWN
    with_others = trial[watts >= 0.0]
    code[with_others[together[with_others] > screened.usable_w[with_others] + SLACK]] = FAIL
    code[trial[doubtful]] = UNKNOWN
    code[trial[cut]] = FAIL
    return code


def _fates(
    campus: Campus, screened: Screened, verdict: Codes, trial: Longs, other: Longs
) -> tuple[Flags, Flags, Floats, Floats]:
    """Tell which pairs of trial and other segment cut that one off, and of which nobody can tell.

    With what the other draws from the gateway where it converts too, or at the least where it stays and may draw
    something [W], below zero elsewhere; and the most that it draws where it stays, 0 elsewhere.
    """
    protocol, names = campus.protocols_now
    models = campus.snapshot.catalogue.models
    speaks = np.array([[model.speaks(name) for name in (*names, "")] for model in models], dtype=bool)
    speaks = speaks.reshape(len(models), len(names) + 1)
    tally = screened.screen.tally
    set_over = np.array([option.new_gateway is None for option in campus.options])[tally.option[trial]]
    carried = protocol[other]
    stays = speaks[screened.gateway_after[trial], carried]
    stays |= set_over & (carried != protocol[tally.segment[trial]])
    open_ = np.flatnonzero(~stays & (carried >= 0))
    changed = ~set_over | (screened.gateway_w[trial] > 0)
    feeding = np.array([*(feeds(model) or may_feed(model) for model in models), False])[screened.gateway_after[trial]]
    staying = np.flatnonzero(stays & (carried >= 0) & changed & feeding & (carries_power(campus)[carried] > 0))
    converts, may, drawn = _may_convert(campus, screened, verdict, other[open_], trial[open_])
    watts = np.full(len(trial), -1.0)
    watts[open_[converts]] = drawn[converts]
    most = np.zeros(len(trial))
    if len(staying):
        volts = model_columns(campus.snapshot.catalogue).supply_v[screened.gateway_after[trial[staying]]]
        least, most[staying] = drawn_w(campus, other[staying], np.where(volts > 0, volts, np.nan))
        watts[staying] = np.where(most[staying] > 0, least, -1.0)
    cut, doubtful = np.zeros(len(trial), dtype=bool), carried < 0
    cut[open_[~converts & ~may]] = True
    doubtful[open_[may & ~converts]] = True
    return cut, doubtful, watts, most


def _may_convert(
    campus: Campus, screened: Screened, verdict: Codes, other: Longs, trial: Longs
) -> tuple[Flags, Flags, Floats]:
    """Tell which other segments convert to what a trial makes of the gateway, and which may after a survey.

    With the most that those which convert draw from it [W].
    """
    signature = signatures(campus)
    tally = screened.screen.tally
    width = int(signature.max(initial=0)) + 1
    own = tally.segment * width + signature[tally.option]
    wanted = other * width + signature[tally.option[trial]]
    convertible = (verdict == CODE[Verdict.IN_PLACE]) | (verdict == CODE[Verdict.TOGETHER])
    kinds, place = np.unique(own[convertible], return_inverse=True)
    most = np.zeros(len(kinds) + 1)  # the last stands for none
    np.maximum.at(most, place, screened.gateway_w[convertible])
    at = np.searchsorted(kinds, wanted)
    converts = np.isin(wanted, kinds)
    may = np.isin(wanted, own[verdict == CODE[Verdict.SURVEY_FIRST]])
    return converts, may, most[np.where(converts, at, len(kinds))]


def signatures(campus: Campus) -> Longs:
    """Return for each option a number that those share which make the same of a gateway."""
    number: dict[tuple[str, str], int] = {}
    return np.array([number.setdefault(one.signature, len(number)) for one in campus.options], dtype=np.int64)
