"""What the ranges of missing facts tell about many trials at once: which fail at the best, which must be asked in words.

A run's cable has a best end and no worst one: with the best cable on all runs whose cable nobody knows, a trial fails
for good or its question stays. A length that is not known is taken as good as can be already, and nothing passes at
its worst: no range tells anything about it. Every other fact that a range tells of is left to the words (`doubting`).
"""

from dataclasses import replace

import numpy as np

from inventory.core.catalogue import Catalogue, Model
from inventory.core.snapshot import UNKNOWN
from planner.core.campus import Campus
from planner.core.doubting.ranges import best_cable
from planner.core.doubting.resolve import MOST_FACTS, MOST_NODES
from planner.core.fates import RULE
from planner.core.rules.columns import PASSIVE, cable_ohm_per_m, feeds, known
from planner.core.rules.options import Option
from planner.core.screening import Screened, screen_campus
from planner.core.sides import Flags, Longs

WORDED = ("layout", "nodes", "one source", "box", "functions")  # rules that may lack facts with ranges of other kinds
FEW = MOST_FACTS // 2  # lengths, cables and ends that are not known; of the rest of what may be lacking there is little


def told_by_arrays(campus: Campus, screened: Screened, failing: Flags, asking: Flags) -> Flags:
    """Mark in `failing` what fails at the best; return the trials that lack facts and have to be judged in words.

    failing : bool[rules, t]. asking : bool[t], trials that lack facts and do not fail.
    """
    worded = asking & _may_lack_more(campus, screened)
    small = np.diff(campus.segments.first_side)[screened.screen.tally.segment] <= MOST_NODES
    at = np.flatnonzero(asking & ~worded & small & screened.screen.tally.cables[:, -1])
    if len(at):
        best = screen_campus(_with_best_cables(campus, at)).failing
        fails = best.any(axis=0)
        failing[:, at[fails]] = best[:, fails]
    return worded


def _with_best_cables(campus: Campus, trials: Longs) -> Campus:
    """Return a campus with some of its trials alone, and the best cable wherever one is not known."""
    catalogue, runs = campus.snapshot.catalogue, campus.snapshot.runs
    cables = (*catalogue.cables, best_cable(catalogue.cables))
    cable = np.where(runs.cable == UNKNOWN, len(catalogue.cables), runs.cable).astype(runs.cable.dtype)
    snapshot = replace(campus.snapshot, catalogue=replace(catalogue, cables=cables), runs=replace(runs, cable=cable))
    return campus.supposing(snapshot, campus.tries[trials])


def _may_lack_more(campus: Campus, screened: Screened) -> Flags:
    """Tell which trials may lack a fact that a range tells of, other than cables of runs; rather one too many."""
    segments, tally = campus.segments, screened.screen.tally
    unknown = screened.unknown
    found = np.any([unknown[RULE[rule]] for rule in WORDED], axis=0)
    found |= _blank_options(campus)[tally.option]
    found |= _any_side(
        campus, _blank_models(campus.snapshot.catalogue)[campus.snapshot.nodes.model[segments.side_node]]
    )[tally.segment]
    blank = np.isnan(cable_ohm_per_m(campus.snapshot.catalogue, campus.brief.conductor_c)[:-1])
    found |= tally.cables[:, :-1][:, blank].any(axis=1)
    found |= tally.silent | (tally.gateways != 1) | _on_several_buses(campus)[tally.segment]
    return np.asarray(found | (_unknown_runs(campus)[tally.segment] + tally.silent_ends > FEW))


def _any_side(campus: Campus, of_side: Flags) -> Flags:
    return np.asarray(np.bincount(campus.segments.label[of_side], minlength=len(campus.segments)) > 0)


def _on_several_buses(campus: Campus) -> Flags:
    """Tell which segments are not on exactly one bus."""
    segments = campus.segments
    begins, bus = segments.first_side[:-1], segments.side_bus
    if not len(bus):
        return np.zeros(len(segments), dtype=bool)
    least = np.minimum.reduceat(bus, begins)
    return np.asarray((least < 0) | (least != np.maximum.reduceat(bus, begins)))


def _unknown_runs(campus: Campus) -> Longs:
    """Return how many cells about its runs each segment lacks."""
    segments, runs = campus.segments, campus.snapshot.runs
    length = runs.length_m[segments.run]
    lacks = (runs.cable[segments.run] == UNKNOWN).astype(np.int64) + ~((length >= 0) & (length < np.inf))
    return np.bincount(segments.wire_label, weights=lacks, minlength=len(segments)).astype(np.int64)


def _blank_models(catalogue: Catalogue) -> Flags:
    """Tell for each model whether it may lack what power is reckoned from; the last row stands for no model."""
    return np.array([*(_is_blank(model) for model in catalogue.models), True], dtype=bool)


def _is_blank(model: Model) -> bool:
    draw_w = known(model.draw_w)
    hungry = draw_w is None or (draw_w > 0 and known(model.lowest_supply_v) is None)
    if feeds(model):
        return known(model.supply_v) is None or known(model.supply_rating_w) is None
    return hungry and model.kind not in PASSIVE


def _blank_options(campus: Campus) -> Flags:
    """Tell for each option whether its equipment or its leads may lack what power is reckoned from."""
    catalogue = campus.snapshot.catalogue
    models = {model.key: model for model in catalogue.models}
    ohms = dict(
        zip(
            (cable.key for cable in catalogue.cables),
            cable_ohm_per_m(catalogue, campus.brief.conductor_c).tolist(),
            strict=False,
        )
    )
    return np.array([_lacks(option, models, ohms) for option in campus.options], dtype=bool)


def _lacks(option: Option, models: dict[str, Model], ohms: dict[str, float]) -> bool:
    keys = [*(method.new_model for method in option.methods), *filter(None, [option.new_gateway])]
    leads = [ohms.get(method.patch_cable or "", np.nan) for method in option.methods]
    return bool(np.isnan(leads).any()) or any(key not in models or _is_blank(models[key]) for key in keys)
