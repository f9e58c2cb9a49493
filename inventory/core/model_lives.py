"""The life of each model: from its own failures where they suffice, else leaning on its kind, and saying so.

The rule. A model with at least LEAST_FAILURES failures whose ages settle a shape stands on its own. Any other takes the
shape of its kind (all equipment of the kind, itself included, fitted together), and its rate lies between its own and that of the kind:
with d failures of its own, where the kind would give E, the risk of the kind is multiplied by (d + w) / (E + w), w =
BORROWED_WEIGHT. That is the mean of a gamma distribution with those two numbers, which also gives the interval. Few own failures
leave the kind's rate nearly as it is; many leave it to the model. Where the kind itself has too few, all equipment takes
its place; where that has too few, the risk is taken as constant with age; where nothing failed, nothing is told.
The weight is a choice of this project (common practice in rate estimation: a prior worth a handful of failures).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.stats import gamma

from inventory.core.lives import Flags, Lives
from inventory.core.snapshot import Floats, Ints
from inventory.core.survival import BadLives
from inventory.core.weibull import Interval, NoShape, Weibull, WeibullFit, fit_weibull

LEAST_FAILURES = 5
BORROWED_WEIGHT = 5.0  # failures


class Basis(StrEnum):
    """What the life of a model stands on."""

    OWN = "its own failures"
    KIND = "its kind"
    ALL = "all equipment"
    CONSTANT = "a risk taken as constant"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelLife:
    """The life of one model, how sure it is, and what it stands on, in words."""

    model: str
    basis: Basis
    failures: int
    spells: int
    says: str
    curve: Weibull | None = None
    shape_interval: Interval | None = None
    scale_interval_years: Interval | None = None
    fit: WeibullFit | None = None  # of the model itself; None where it leans on others
    behind_rate: float | None = None  # failures, own and borrowed, that the rate stands on


def fit_models(lives: Lives, model: Ints, models: Sequence[tuple[str, str]]) -> tuple[ModelLife, ...]:
    """Return the life of each model, in the order given.

    Parameters
    ----------
    lives : Lives
        Spells under watch.
    model : int32[n]
        Position in `models` of each node's model, -1 not known: such a node tells only of all equipment.
    models : sequence of (str, str)
        Name and kind of each model.

    Returns
    -------
    tuple of ModelLife

    Raises
    ------
    BadLives
        If a spell cannot be, or a position lies outside `models`.

    """
    if model.size and not -1 <= int(model.min()) <= int(model.max()) < len(models):
        raise BadLives(f"a node's model lies outside the {len(models)} models given")
    mine = model[lives.node]
    kinds = sorted({kind for _, kind in models})
    kind_of = np.array([kinds.index(kind) for _, kind in models] + [-1])
    its_kind = kind_of[mine]
    rows = _rows_by(mine, len(models))
    kind_fits = [
        _fit_if_enough(lives, found, kind) for kind, found in zip(kinds, _rows_by(its_kind, len(kinds)), strict=True)
    ]
    everything = _fit_if_enough(lives, np.arange(len(lives)), "all equipment")
    found = []
    for at, (name, kind) in enumerate(models):
        own = _Spells(name, lives.entry_years[rows[at]], lives.exit_years[rows[at]], lives.failed[rows[at]])
        lender = kind_fits[kinds.index(kind)]
        found.append(_stand(own, kind, lender, everything, lives))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Spells:
    name: str
    begin: Floats
    end: Floats
    failed: Flags

    @property
    def failures(self) -> int:
        return int(self.failed.sum())


def _rows_by(group: Ints, count: int) -> list[np.ndarray[tuple[int, ...], np.dtype[np.intp]]]:
    order = np.argsort(group, kind="stable")
    bounds = np.searchsorted(group[order], np.arange(count + 1))
    return [order[bounds[at] : bounds[at + 1]] for at in range(count)]


def _fit_if_enough(lives: Lives, rows: np.ndarray[tuple[int, ...], np.dtype[np.intp]], of: str) -> WeibullFit | None:
    failed = lives.failed[rows]
    if failed.sum() < LEAST_FAILURES:
        return None
    return _shape_or_none(lives.entry_years[rows], lives.exit_years[rows], failed, of)


def _shape_or_none(begin: Floats, end: Floats, failed: Flags, of: str) -> WeibullFit | None:
    try:
        return fit_weibull(begin, end, failed, of=of)
    except NoShape:
        return None


def _stand(
    own: _Spells, kind: str, lender: WeibullFit | None, everything: WeibullFit | None, lives: Lives
) -> ModelLife:
    """Return the life by the first basis that there is."""
    if own.failures >= LEAST_FAILURES:
        fit = _shape_or_none(own.begin, own.end, own.failed, own.name)
        if fit is not None:
            return _on_its_own(own, fit)
    if lender is not None:
        return _leaning(own, lender, Basis.KIND, f"its kind ({kind}, {lender.failures} failures)")
    if everything is not None:
        return _leaning(own, everything, Basis.ALL, f"all equipment ({everything.failures} failures)")
    return _constant(own, lives)


def _on_its_own(own: _Spells, fit: WeibullFit) -> ModelLife:
    return ModelLife(
        model=own.name,
        basis=Basis.OWN,
        failures=fit.failures,
        spells=fit.spells,
        says=f"from its own {fit.failures} failures",
        curve=fit.curve,
        shape_interval=fit.shape_interval(),
        scale_interval_years=fit.scale_interval_years(),
        fit=fit,
        behind_rate=float(fit.failures),
    )


def _leaning(own: _Spells, lender: WeibullFit, basis: Basis, whom: str) -> ModelLife:
    curve = lender.curve
    given = float((curve.cumulative_hazard(own.end) - curve.cumulative_hazard(own.begin)).sum())
    weight, base = own.failures + BORROWED_WEIGHT, given + BORROWED_WEIGHT
    low, high = (float(gamma.ppf(share, weight, scale=1 / base)) for share in (0.025, 0.975))
    return ModelLife(
        model=own.name,
        basis=basis,
        failures=own.failures,
        spells=own.end.size,
        says=f"{_few(own)}: shape of {whom}, rate between its own and theirs",
        curve=_at_rate(curve, weight / base),
        shape_interval=lender.shape_interval(),
        scale_interval_years=(_at_rate(curve, high).scale_years, _at_rate(curve, low).scale_years),
        behind_rate=weight,
    )


def _few(own: _Spells) -> str:
    return f"{own.failures} failure{'' if own.failures == 1 else 's'} of its own, too few to settle a shape"


def _at_rate(curve: Weibull, times: float) -> Weibull:
    """Return the curve whose risk is so many times that of another."""
    return Weibull(shape=curve.shape, scale_years=curve.scale_years * float(times ** (-1 / curve.shape)))


def _constant(own: _Spells, lives: Lives) -> ModelLife:
    failures, years = int(lives.failed.sum()), float((lives.exit_years - lives.entry_years).sum())
    if not failures:
        says = "no failure is on record, so no risk can be told"
        return ModelLife(model=own.name, basis=Basis.NOTHING, failures=0, spells=own.end.size, says=says)
    low, high = (float(gamma.ppf(share, failures, scale=1 / years)) for share in (0.025, 0.975))
    return ModelLife(
        model=own.name,
        basis=Basis.CONSTANT,
        failures=own.failures,
        spells=own.end.size,
        says=f"only {failures} failure{'' if failures == 1 else 's'} on record in all: risk taken as the same at every age",
        curve=Weibull(shape=1.0, scale_years=years / failures),
        scale_interval_years=(1 / high, 1 / low),
        behind_rate=float(failures),
    )


def curve_columns(found: Sequence[ModelLife], model: Ints) -> tuple[Floats, Floats]:
    """Return shape and scale [a] by row; NaN where the model is not known (-1) or no life is told."""
    shape = np.array([np.nan if one.curve is None else one.curve.shape for one in found] + [np.nan])
    scale = np.array([np.nan if one.curve is None else one.curve.scale_years for one in found] + [np.nan])
    return shape[model], scale[model]


def expected_by_spell(lives: Lives, model: Ints, found: Sequence[ModelLife]) -> Floats:
    """Return for each spell the mean number of failures that its model's life gives; NaN where no life is told."""
    shape, scale = curve_columns(found, model[lives.node])
    return np.asarray((lives.exit_years / scale) ** shape - (lives.entry_years / scale) ** shape)


def expected_failures(age_years: Floats, model: Ints, found: Sequence[ModelLife], years: float) -> Floats:
    """Return for each node the mean number of failures within so many years [a]; NaN where age or life is not known."""
    shape, scale = curve_columns(found, model)
    return np.asarray(((age_years + years) / scale) ** shape - (age_years / scale) ** shape)
