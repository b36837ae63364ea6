"""Usual rates: what each piece would be expected to show, from its fabric, transfer and place.

A multiplicative model with gamma shrinkage: main effects of fabric, transfer, location and look
group, each pulled toward 1 where data are thin, then each pairing pulled toward its main effects.
A pairing never seen borrows from its fabric and its transfer, and says so by its small shape.

Source
------
Clayton & Kaldor (1987), Biometrics 43, 671-681 (gamma-Poisson shrinkage of relative rates);
multiplicative main effects by iterative scaling, Breslow & Day (1975), J. Chronic Diseases 28,
289-303. The strengths of shrinkage of the main effects are proposed starting values, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import gammaln

from qc.monitor.evidence import Floats, Ints

EFFECT_SHAPE = (2.5, 2.5, 2.5, 0.5)
"""Prior shape of fabric, transfer, location and look-group effects (mean 1); small is weak."""

PAIRING_SHAPES = (2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 64.0)
USUAL_PAIRING_SHAPE, PAIRING_WIDTH = 16.0, 0.7
"""Before the data speak, pairings are taken to differ by a quarter, give or take half of that;
proposed starting values, no source."""

N_SWEEPS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UsualRates:
    """Expected faults per piece, and what they rest on.

    ``base`` (kinds,); ``effects``: one array (kinds, levels + 1) for each of fabric, transfer,
    location and look group, the first column for code -1; ``y`` and ``n`` (kinds, cells): the
    faults and pieces fitted; ``pairing_shape``: how much pairings differ beyond their main
    effects (large: hardly).
    """

    base: Floats
    effects: tuple[Floats, ...]
    y: Floats
    n: Floats
    pairing_shape: float
    cell_variance: Floats

    def main(self, cell_codes: Ints) -> Floats:
        """Rates from main effects alone, (kinds, cells), also of cells never fitted."""
        out = np.repeat(self.base[:, None], len(cell_codes), axis=1)
        for effect, codes in zip(self.effects, cell_codes.T, strict=True):
            out *= _by_code(effect, codes, 1.0)
        return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelRates:
    """Usual rates as some levels see them: without what each level itself put in.

    ``rate`` (levels, cells, kinds); ``rest_y`` and ``rest_n`` (levels, kinds, cells): the faults
    and pieces they rest on.
    """

    rate: Floats
    rest_y: Floats
    rest_n: Floats

    def wider(self, usual: UsualRates, new_cells: Ints) -> LevelRates:
        """With further cells, never fitted: main effects alone, the same for all levels."""
        n, more = len(self.rate), usual.main(new_cells).T[None]
        none = ((0, 0), (0, 0), (0, len(new_cells)))
        return LevelRates(
            rate=np.concatenate([self.rate, np.repeat(more, n, axis=0)], axis=1),
            rest_y=np.pad(self.rest_y, none), rest_n=np.pad(self.rest_n, none),
        )


def usual_rates(y: Floats, n: Floats, cell_codes: Ints) -> UsualRates:
    """Usual rates from counts.

    Parameters
    ----------
    y : (kinds, cells) faults; n : (kinds, cells) pieces; cell_codes : (cells, 4) whole numbers of
        fabric, transfer, location (-1 is none) and look group.
    """
    base, effects, main = _main_effects(y, n, cell_codes)
    mean = n * main
    leverage = mean * _main_variance(mean, np.inf, cell_codes)  # the fit takes counts as Poisson
    shape, of_main = USUAL_PAIRING_SHAPE, np.zeros_like(mean)
    for _ in range(2):
        of_main = _main_variance(mean, shape, cell_codes)
        shape = _pairing_shape(y, mean, leverage, of_main)
    weight = shape / (shape + mean)
    return UsualRates(
        base=base, effects=effects, y=y, n=n, pairing_shape=shape,
        cell_variance=weight**2 * of_main + 1.0 / (shape + y),
    )


def _main_variance(mean: Floats, pairing_shape: float, cell_codes: Ints) -> Floats:
    """Squared coefficients of variation of rates from main effects alone, (kinds, cells)."""
    design, prior, products = _design(cell_codes)
    known = mean / (1.0 + mean / pairing_shape)
    information = (known @ products).reshape(-1, len(prior), len(prior)) + np.diag(prior)
    root = np.linalg.solve(information, np.broadcast_to(design.T, (len(mean), *design.T.shape)))
    return np.asarray(np.einsum("cp,kpc->kc", design, root))


def _design(cell_codes: Ints) -> tuple[Floats, Floats, Floats]:
    """The log-linear model of the cells, (cells, effects), how strongly each effect is drawn to
    none, and the products of all effects, (cells, effects x effects). The cells seldom change."""
    return _design_of(cell_codes.tobytes(), cell_codes.shape[1])


@lru_cache(maxsize=4)
def _design_of(cells: bytes, n_parts: int) -> tuple[Floats, Floats, Floats]:
    cell_codes = np.frombuffer(cells, dtype=np.int64).reshape(-1, n_parts)
    design = np.concatenate(
        [np.ones((len(cell_codes), 1)), *(_one_hot(codes) for codes in cell_codes.T)], axis=1
    )
    prior = np.concatenate([[1e-6], *(
        np.full(int(codes.max(initial=-1)) + 2, shape)
        for shape, codes in zip(EFFECT_SHAPE, cell_codes.T, strict=True)
    )])
    used = design.any(axis=0)
    design, prior = design[:, used], prior[used]
    products = (design[:, :, None] * design[:, None, :]).reshape(len(design), -1)
    return design, prior, products


def left_out(y: Floats, mean: Floats, leverage: Floats) -> Floats:
    """Expectations as they would be had the counts themselves not been fitted to.

    ``leverage``: by how much an expectation follows its own count, 0..1.
    """
    share = np.minimum(leverage, 0.9)
    return np.maximum((mean - share * y) / (1.0 - share), 0.1 * mean)


def _main_effects(
    y: Floats, n: Floats, cell_codes: Ints
) -> tuple[Floats, tuple[Floats, ...], Floats]:
    n_kinds, n_cells = y.shape
    members = [_one_hot(codes) for codes in cell_codes.T]
    effects = [np.ones((n_kinds, m.shape[1])) for m in members]
    base = (y.sum(axis=1) + 0.5) / np.maximum(n.sum(axis=1), 1.0)
    product = np.ones((n_kinds, n_cells))
    for _ in range(N_SWEEPS):
        for i, member in enumerate(members):
            without = product / (effects[i] @ member.T)
            observed = y @ member
            exposure = (n * base[:, None] * without) @ member
            effects[i] = (EFFECT_SHAPE[i] + observed) / (EFFECT_SHAPE[i] + exposure)
            product = without * (effects[i] @ member.T)
        base = (y.sum(axis=1) + 0.5) / np.maximum((n * product).sum(axis=1), 1.0)
    return base, tuple(effects), base[:, None] * product


def _by_code(values: Floats, codes: Ints, unknown: float) -> Floats:
    """Values (kinds, levels + 1) at codes from -1 on; levels never fitted get ``unknown``."""
    column = np.minimum(codes + 1, values.shape[1])
    return np.pad(values, ((0, 0), (0, 1)), constant_values=unknown)[:, column]


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
    main = usual.main(cell_codes)
    rest_y = np.maximum(all_y - y, 0.0)
    rest_n = np.maximum(all_n - n, 0.0)
    members = [_one_hot(codes) for codes in cell_codes.T]
    touched = (y.sum(axis=(1, 2)) + n.sum(axis=(1, 2))) > 0
    scale = np.ones_like(rest_n)
    if touched.any():
        scale[touched] = _scales(rest_y[touched], rest_n[touched] * main, members)
    main = main * scale
    shape = usual.pairing_shape
    rate = main * (shape + rest_y) / (shape + rest_n * main)
    return LevelRates(
        rate=np.ascontiguousarray(rate.transpose(0, 2, 1)), rest_y=rest_y, rest_n=rest_n
    )


def plain_rates(usual: UsualRates, cell_codes: Ints) -> Floats:
    """Rates of the cells as they are, nothing left out, (cells, kinds)."""
    none = np.zeros((1, len(usual.base), len(cell_codes)))
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
    rest_y: Floats, rate: Floats, rest_n: Floats, pairing_shape: float, cell_codes: Ints
) -> RateDoubt:
    """How uncertain usual rates are, for mixes of cells.

    The usual rates are a log-linear model with gamma pairings: a pairing errs for itself, main
    effects err together, as the inverse of the information in the counts they rest on says.

    Parameters
    ----------
    rest_y, rest_n : (mixes, cells) faults and pieces that the rates of each mix rest on.
    rate : (mixes, cells) the rates; cell_codes : (cells, 4).
    """
    mean = rest_n * rate
    design, prior, products = _design(cell_codes)
    known = mean / (1.0 + mean / pairing_shape)
    information = (known @ products).reshape(-1, len(prior), len(prior)) + np.diag(prior)
    return RateDoubt(
        design=design, covariance=np.asarray(np.linalg.inv(information), dtype=np.float64),
        follows=pairing_shape / (pairing_shape + mean), own_shape=pairing_shape + rest_y,
    )


def _scales(rest_y: Floats, rest: Floats, members: list[Floats]) -> Floats:
    """Factors on the main effects, (levels, kinds, cells), from what is left without a level."""
    scale = np.ones_like(rest)
    for _ in range(2):
        for shape, member in zip(EFFECT_SHAPE, members, strict=True):
            factor = (rest_y @ member + shape) / ((rest * scale) @ member + shape)
            scale = scale * (factor @ member.T)
    return scale


def _one_hot(codes: Ints) -> Floats:
    width = int(codes.max(initial=-1)) + 2
    return (codes[:, None] + 1 == np.arange(width)[None, :]).astype(np.float64)


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


def gamma_poisson_log_likelihood(count: Floats, mean: Floats, shape: Floats | float) -> Floats:
    """Log probability of counts whose Poisson mean varies as a gamma of this shape.

    Shapes broadcast; mean > 0, shape > 0. The result is the negative binomial log mass.
    """
    return (
        gammaln(count + shape) - gammaln(shape) - gammaln(count + 1.0)
        + shape * np.log(shape / (shape + mean)) + count * np.log(mean / (shape + mean))
    )
