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

import numpy as np
from scipy.special import gammaln

from qc.monitor.evidence import Floats, Ints

EFFECT_SHAPE = (2.5, 2.5, 2.5, 0.5)
"""Prior shape of fabric, transfer, location and look-group effects (mean 1); small is weak."""

PAIRING_SHAPES = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0)
N_SWEEPS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UsualRates:
    """Expected faults per piece, and what they rest on; arrays are (kinds, cells).

    ``main``: rate from main effects alone, with ``main_variance`` (effects, kinds, cells) the
    squared coefficient of variation of each effect; ``y`` and ``n``: the faults and pieces fitted.
    ``pairing_shape``: how much pairings differ beyond their main effects (large: hardly).
    """

    main: Floats
    main_variance: Floats
    y: Floats
    n: Floats
    pairing_shape: float

    def at(
        self, kind: Ints | slice, cell: Ints, y_out: Floats | float = 0.0,
        n_out: Floats | float = 0.0, scale: Floats | float = 1.0,
        main_variance: Floats | None = None,
    ) -> CellRates:
        """Rates of cells, (len(cell), kinds), with what they are uncertain by.

        ``y_out`` and ``n_out`` are taken out of the cell's counts first: a level is not to be
        measured by a rate that it made itself. ``scale`` and ``main_variance`` (effects,
        len(cell), kinds; see `rescaled_main`) correct the main effects for the same.
        """
        shape = self.pairing_shape
        main = self.main[kind][:, cell].T * scale
        y = np.maximum(self.y[kind][:, cell].T - y_out, 0.0)
        exposure = np.maximum(self.n[kind][:, cell].T - n_out, 0.0) * main
        if main_variance is None:
            main_variance = self.main_variance[:, kind][:, :, cell].transpose(0, 2, 1)
        return CellRates(
            rate=main * (shape + y) / (shape + exposure), pairing_variance=1.0 / (shape + y),
            main_variance=(shape / (shape + exposure)) ** 2 * main_variance,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellRates:
    """Rates (cells, kinds). Squared coefficients of variation of the pairing, each cell's own,
    and of the main effects (effects, cells, kinds), shared by all cells of a fabric, transfer,
    place or look group."""

    rate: Floats
    pairing_variance: Floats
    main_variance: Floats


def usual_rates(y: Floats, n: Floats, cell_codes: Ints) -> UsualRates:
    """Usual rates from counts.

    Parameters
    ----------
    y : (kinds, cells) faults; n : (kinds, cells) pieces; cell_codes : (cells, 4) whole numbers of
        fabric, transfer, location (-1 is none) and look group.
    """
    main, variance = _main_effects(y, n, cell_codes)
    return UsualRates(
        main=main, main_variance=variance, y=y, n=n, pairing_shape=_pairing_shape(y, n * main)
    )


def _main_effects(y: Floats, n: Floats, cell_codes: Ints) -> tuple[Floats, Floats]:
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
        base = (y.sum(axis=1) + 0.5) / np.maximum((n * product).sum(axis=1), 1e-9)
    variance = [
        (1.0 / (shape + y @ member)) @ member.T
        for shape, member in zip(EFFECT_SHAPE, members, strict=True)
    ]
    return base[:, None] * product, np.stack(variance)


def rescaled_main(
    usual: UsualRates, y: Floats, n: Floats, cell_codes: Ints
) -> tuple[Floats, Floats]:
    """Main effects for each level, if the level's own counts had not been there.

    Parameters
    ----------
    y, n : (levels, kinds, cells) faults and pieces of the level among those fitted.
    cell_codes : as for `usual_rates`.

    Returns
    -------
    Factors on the main effects, (levels, kinds, cells), 1 where the level had no part in a
    fabric, transfer or place; and the squared coefficient of variation of each effect,
    (effects, levels, kinds, cells).
    """
    rest_y = np.maximum(usual.y - y, 0.0)
    rest = np.maximum(usual.n - n, 0.0) * usual.main
    scale = np.ones_like(rest)
    for _ in range(2):
        for shape, codes in zip(EFFECT_SHAPE, cell_codes.T, strict=True):
            member = _one_hot(codes)
            factor = (rest_y @ member + shape) / ((rest * scale) @ member + shape)
            scale = scale * (factor @ member.T)
    variance = [
        (1.0 / (shape + rest_y @ member)) @ member.T
        for shape, member in zip(EFFECT_SHAPE, map(_one_hot, cell_codes.T), strict=True)
    ]
    return scale, np.stack(variance)


def _one_hot(codes: Ints) -> Floats:
    width = int(codes.max(initial=-1)) + 2
    return (codes[:, None] + 1 == np.arange(width)[None, :]).astype(np.float64)


def _pairing_shape(y: Floats, expected: Floats) -> float:
    seen = expected > 0.5
    if seen.sum() < 6:
        return PAIRING_SHAPES[1]
    fits = [
        float(np.sum(gamma_poisson_log_likelihood(y[seen], expected[seen], shape)))
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
