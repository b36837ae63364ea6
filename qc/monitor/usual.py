"""Usual rates: what each piece would be expected to show, from its fabric, transfer and place.

Main effects (`qc.monitor.effects`), then each pairing pulled toward them: one never seen borrows
from its fabric and its transfer, and says so by its small shape. A level is judged by rates that
its own pieces have no part in.

Source
------
Clayton & Kaldor (1987), Biometrics 43, 671-681 (gamma-Poisson shrinkage of relative rates).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from qc.monitor.detection import gamma_poisson_log_likelihood
from qc.monitor.effects import Effects, fit_effects, one_hot, refit_effects
from qc.monitor.evidence import Bools, Floats, Ints

PAIRING_SHAPES = (2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 64.0)
USUAL_PAIRING_SHAPE, PAIRING_WIDTH = 16.0, 0.7
"""Before the data speak, pairings are taken to differ by a quarter, give or take half of that;
proposed starting values, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UsualRates:
    """Expected faults per piece, and what they rest on.

    ``effects`` of each kind; ``y`` and ``n`` (kinds, cells): the faults and pieces fitted;
    ``pairing_shape``: how much pairings differ beyond their main effects (large: hardly);
    ``cell_variance`` (kinds, cells): squared coefficients of variation of the rates.
    """

    effects: Effects
    y: Floats
    n: Floats
    pairing_shape: float
    cell_variance: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelRates:
    """Usual rates as some levels see them: without what each level itself put in.

    ``rate`` (levels, cells, kinds); ``rest_y`` and ``rest_n`` (levels, kinds, cells): the faults
    and pieces they rest on; ``effects`` of each level and kind.
    """

    rate: Floats
    rest_y: Floats
    rest_n: Floats
    effects: Effects

    def wider(self, usual: UsualRates, new_cells: Ints) -> LevelRates:
        """With further cells, never fitted: main effects alone, the same for all levels."""
        n, more = len(self.rate), usual.effects.main(new_cells).T[None]
        none = ((0, 0), (0, 0), (0, len(new_cells)))
        return LevelRates(
            rate=np.concatenate([self.rate, np.repeat(more, n, axis=0)], axis=1),
            rest_y=np.pad(self.rest_y, none), rest_n=np.pad(self.rest_n, none),
            effects=self.effects,
        )


def usual_rates(y: Floats, n: Floats, cell_codes: Ints) -> UsualRates:
    """Usual rates from counts.

    Parameters
    ----------
    y : (kinds, cells) faults; n : (kinds, cells) pieces; cell_codes : (cells, 4) whole numbers of
        fabric, transfer, location (-1 is none) and look group.
    """
    effects = fit_effects(y, n, cell_codes)
    mean = n * effects.main(cell_codes)
    # the fit takes counts as Poisson
    leverage = mean * _main_variance(mean, np.inf, cell_codes, effects)
    shape, of_main = USUAL_PAIRING_SHAPE, np.zeros_like(mean)
    for _ in range(2):
        of_main = _main_variance(mean, shape, cell_codes, effects)
        shape = _pairing_shape(y, mean, leverage, of_main)
    weight = shape / (shape + mean)
    return UsualRates(
        effects=effects, y=y, n=n, pairing_shape=shape,
        cell_variance=weight**2 * of_main + 1.0 / (shape + y),
    )


def _main_variance(
    mean: Floats, pairing_shape: float, cell_codes: Ints, effects: Effects
) -> Floats:
    """Squared coefficients of variation of rates from main effects alone, (kinds, cells)."""
    design = _design(cell_codes)[0]
    information = _information(mean, pairing_shape, cell_codes, effects)
    root = np.linalg.solve(information, np.broadcast_to(design.T, (len(mean), *design.T.shape)))
    return np.asarray(np.einsum("cp,kpc->kc", design, root))


def _information(
    mean: Floats, pairing_shape: float, cell_codes: Ints, effects: Effects
) -> Floats:
    """Information on the logarithms of the effects of some mixes, (mixes, effects, effects), from
    the faults expected of their cells, (mixes, cells), and from how each is drawn to none."""
    _, products, used = _design(cell_codes)
    known = mean / (1.0 + mean / pairing_shape)
    pull = effects.pull(cell_codes)[:, used]
    n = pull.shape[1]
    return np.asarray((known @ products).reshape(-1, n, n) + pull[:, :, None] * np.eye(n))


def _design(cell_codes: Ints) -> tuple[Floats, Floats, Bools]:
    """The log-linear model of the cells, (cells, effects), the products of all effects, (cells,
    effects x effects), and which effects any cell has. The cells seldom change."""
    return _design_of(cell_codes.tobytes(), cell_codes.shape[1])


@lru_cache(maxsize=4)
def _design_of(cells: bytes, n_parts: int) -> tuple[Floats, Floats, Bools]:
    cell_codes = np.frombuffer(cells, dtype=np.int64).reshape(-1, n_parts)
    design = np.concatenate(
        [np.ones((len(cell_codes), 1)), *(one_hot(codes) for codes in cell_codes.T)], axis=1
    )
    used: Bools = np.asarray(design.any(axis=0))
    design = design[:, used]
    products = (design[:, :, None] * design[:, None, :]).reshape(len(design), -1)
    return design, products, used


def left_out(y: Floats, mean: Floats, leverage: Floats) -> Floats:
    """Expectations as they would be had the counts themselves not been fitted to.

    ``leverage``: by how much an expectation follows its own count, 0..1.
    """
    share = np.minimum(leverage, 0.9)
    return np.maximum((mean - share * y) / (1.0 - share), 0.1 * mean)


def level_rates(usual: UsualRates, y: Floats, n: Floats, cell_codes: Ints) -> LevelRates:
    """Rates of every cell, for each level, if the level's own counts had not been there.

    Parameters
    ----------
    y, n : (levels, kinds, cells) faults and pieces of each level among those fitted; zeros for
        the rates as they are. Cells may go beyond those fitted.
    cell_codes : (cells, 4), as for `usual_rates`; the first ones those fitted.
    """
    n_more = len(cell_codes) - usual.y.shape[1]
    all_y, all_n = (np.pad(a, ((0, 0), (0, n_more))) for a in (usual.y, usual.n))
    rest_y = np.maximum(all_y - y, 0.0)
    rest_n = np.maximum(all_n - n, 0.0)
    effects = refit_effects(rest_y, rest_n, cell_codes, usual.effects)
    main = effects.main(cell_codes)
    shape = usual.pairing_shape
    rate = main * (shape + rest_y) / (shape + rest_n * main)
    return LevelRates(
        rate=np.ascontiguousarray(rate.transpose(0, 2, 1)), rest_y=rest_y, rest_n=rest_n,
        effects=effects,
    )


def plain_rates(usual: UsualRates, cell_codes: Ints) -> Floats:
    """Rates of the cells as they are, nothing left out, (cells, kinds)."""
    none = np.zeros((1, len(usual.y), len(cell_codes)))
    return level_rates(usual, none, none, cell_codes).rate[0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RateDoubt:
    """How uncertain some usual rates are: for each of some mixes of cells the covariance of the
    main effects, (mixes, effects, effects), how far a cell follows them, (mixes, cells), and the
    shape of the cell's own rate, (mixes, cells)."""

    design: Floats
    covariance: Floats
    follows: Floats
    own_shape: Floats

    def of_mix(self, share: Floats) -> Floats:
        """Squared coefficient of variation of the faults expected of each mix, (mixes,).

        ``share`` : (mixes, cells) part of the expected faults that each cell has; of a difference
        of two mixes the difference of their parts.
        """
        weight = (share * self.follows) @ self.design
        main = (weight[:, None, :] @ self.covariance @ weight[:, :, None])[:, 0, 0]
        return np.asarray(main + (share**2 / self.own_shape).sum(axis=1))


def rate_doubt(
    rest_y: Floats, rate: Floats, rest_n: Floats, pairing_shape: float, cell_codes: Ints,
    effects: Effects,
) -> RateDoubt:
    """How uncertain usual rates are, for mixes of cells.

    The usual rates are a log-linear model with gamma pairings: a pairing errs for itself, main
    effects err together, as the inverse of the information in the counts they rest on says.

    Parameters
    ----------
    rest_y, rest_n : (mixes, cells) faults and pieces that the rates of each mix rest on.
    rate : (mixes, cells) the rates; cell_codes : (cells, 4).
    effects : of each mix, as the rates rest on them.
    """
    mean = rest_n * rate
    information = _information(mean, pairing_shape, cell_codes, effects)
    return RateDoubt(
        design=_design(cell_codes)[0],
        covariance=np.asarray(np.linalg.inv(information), dtype=np.float64),
        follows=pairing_shape / (pairing_shape + mean), own_shape=pairing_shape + rest_y,
    )


def _pairing_shape(y: Floats, mean: Floats, leverage: Floats, main_variance: Floats) -> float:
    """How much pairings differ beyond their main effects, each cell judged by the others."""
    seen = mean > 0.5
    expected = left_out(y[seen], mean[seen], leverage[seen])
    doubt = main_variance[seen] / (1.0 - np.minimum(leverage[seen], 0.9))
    fits = [
        float(np.sum(gamma_poisson_log_likelihood(y[seen], expected, 1.0 / (1.0 / shape + doubt))))
        - 0.5 * (np.log(shape / USUAL_PAIRING_SHAPE) / PAIRING_WIDTH) ** 2
        for shape in PAIRING_SHAPES
    ]
    return PAIRING_SHAPES[int(np.argmax(fits))]
