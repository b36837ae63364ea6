"""Main effects: what fabric, transfer, place and look do to the rate of a kind of defect.

A rate for all times an effect of each part; every effect is drawn to none (1) as a gamma around
it says, whose shape the shop's own data tell: where fabrics hardly differ, one that showed nothing
yet is taken to be like the others.

Source
------
Clayton & Kaldor (1987), Biometrics 43, 671-681 (gamma-Poisson shrinkage of relative rates, and its
strength from the data); multiplicative effects by iterative scaling, Breslow & Day (1975),
J. Chronic Diseases 28, 289-303.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.monitor.detection import gamma_poisson_log_likelihood
from qc.monitor.evidence import Floats, Ints

EFFECT_SHAPE = (2.5, 2.5, 2.5, 0.5)
"""Shape of the gamma (mean 1) around fabric, transfer, location and look-group effects before the
data speak; small is weak. That of looks stays. Proposed starting values, no source."""

N_FITTED = 3
SHAPES, SHAPE_WIDTH = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0), 0.7
"""Shapes that are tried for the others, and the standard deviation of their logarithm around what
is thought of them. Proposed values, no source."""

LEAST_MEAN = 0.5
"""Levels expected to show fewer faults say nothing of how levels differ."""

SWEEPS, SHAPES_AT = 12, (3, 7)
"""Sweeps over the parts, and those at which the shapes are fitted."""

REST_SWEEPS = 4
"""The same for a fit that begins with effects that are nearly right."""

BASE_PULL = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Effects:
    """``base`` (...,): the rate without effects; ``of``: those of each part, (..., levels + 1), the
    first for code -1; ``shape``: of each part, how little its levels differ, (...,)."""

    base: Floats
    of: tuple[Floats, ...]
    shape: tuple[Floats, ...]

    def at(self, *which: Ints | int) -> Effects:
        """Those of some of the leading entries."""
        return Effects(base=self.base[which], of=tuple(e[which] for e in self.of),
                       shape=tuple(s[which] for s in self.shape))

    def main(self, cell_codes: Ints) -> Floats:
        """Rates from main effects alone, (..., cells), also of cells never fitted."""
        out = np.repeat(self.base[..., None], len(cell_codes), axis=-1)
        for effect, codes in zip(self.of, cell_codes.T, strict=True):
            out *= _by_code(effect, codes)
        return out

    def pull(self, cell_codes: Ints) -> Floats:
        """What the gamma around each effect adds to the information on its logarithm, its shape
        times the effect, (..., 1 + effects): of the rate for all, then each part's from -1 on."""
        own = [shape[..., None] * _by_code(effect, _levels(codes))
               for shape, effect, codes in zip(self.shape, self.of, cell_codes.T, strict=True)]
        return np.concatenate([np.full((*self.base.shape, 1), BASE_PULL), *own], axis=-1)


def fit_effects(y: Floats, n: Floats, cell_codes: Ints) -> Effects:
    """Effects from faults and pieces of cells, (kinds, cells)."""
    base = (y.sum(axis=-1) + 0.5) / np.maximum(n.sum(axis=-1), 1.0)
    none = tuple(np.ones((len(y), len(_levels(codes)))) for codes in cell_codes.T)
    unknown = tuple(np.full(len(y), shape) for shape in EFFECT_SHAPE)
    return _swept(y, n, cell_codes, Effects(base=base, of=none, shape=unknown), SWEEPS,
                  SHAPES_AT)


def refit_effects(y: Floats, n: Floats, cell_codes: Ints, known: Effects) -> Effects:
    """The same of several parts of the data, (levels, kinds, cells), from the effects in all."""
    every = Effects(
        base=np.repeat(known.base[None], len(y), axis=0),
        of=tuple(np.repeat(_by_code(effect, _levels(codes))[None], len(y), axis=0)
                 for effect, codes in zip(known.of, cell_codes.T, strict=True)),
        shape=tuple(np.repeat(shape[None], len(y), axis=0) for shape in known.shape),
    )
    return _swept(y, n, cell_codes, every, REST_SWEEPS) if len(y) else every


def _swept(
    y: Floats, n: Floats, cell_codes: Ints, known: Effects, sweeps: int,
    shapes_at: tuple[int, ...] = (),
) -> Effects:
    members = [one_hot(codes) for codes in cell_codes.T]
    base, effects, shapes = known.base, list(known.of), list(known.shape)
    product = np.ones_like(y)
    for effect, member in zip(effects, members, strict=True):
        product = product * (effect @ member.T)
    for sweep in range(sweeps):
        for i, member in enumerate(members):
            without = product / (effects[i] @ member.T)
            seen, mean = y @ member, (n * base[..., None] * without) @ member
            if sweep in shapes_at and i < N_FITTED:
                shapes[i] = _shape(seen, mean, EFFECT_SHAPE[i])
            effects[i] = (shapes[i][..., None] + seen) / (shapes[i][..., None] + mean)
            product = without * (effects[i] @ member.T)
        base = (y.sum(axis=-1) + 0.5) / np.maximum((n * product).sum(axis=-1), 1.0)
    return Effects(base=base, of=tuple(effects), shape=tuple(shapes))


def _shape(seen: Floats, mean: Floats, usual: float) -> Floats:
    """How little the levels of a part differ in each kind, (kinds,), from (kinds, levels): near
    what holds for all kinds together, as far as its own faults do not say otherwise."""
    shapes = np.array(SHAPES)
    fits = np.where(mean > LEAST_MEAN, gamma_poisson_log_likelihood(
        seen, np.maximum(mean, LEAST_MEAN), shapes[:, None, None]), 0.0).sum(axis=2)
    of_all = fits.sum(axis=1) + _near(usual, shapes)
    score = fits + _near(shapes[int(of_all.argmax())], shapes)[:, None]
    weight = np.exp(score - score.max(axis=0))
    return np.asarray(weight.sum(axis=0) / (weight / shapes[:, None]).sum(axis=0))


def _near(shape: float, shapes: Floats) -> Floats:
    return np.asarray(-0.5 * (np.log(shapes / shape) / SHAPE_WIDTH) ** 2)


def _by_code(effect: Floats, codes: Ints) -> Floats:
    """An effect (..., levels + 1) at codes from -1 on; 1 of levels never fitted."""
    one = np.ones((*effect.shape[:-1], 1))
    column = np.minimum(codes + 1, effect.shape[-1])
    return np.concatenate([effect, one], axis=-1)[..., column]


def _levels(codes: Ints) -> Ints:
    """All codes from -1 to the last."""
    return np.arange(-1, int(codes.max(initial=-1)) + 1)


def one_hot(codes: Ints) -> Floats:
    """Which column each code from -1 on has, (codes, levels + 1)."""
    return (codes[:, None] == _levels(codes)).astype(np.float64)
