"""Which of several causes the records speak for, with all that is uncertain fitted together.

A window of one level asks how far that level has risen; it takes everything else as known up to a
variance. Which level it is that has risen is another question: the rates of fabrics, transfers,
places and pairings, what presses, people and lots are honestly like, and the luck of jobs have to
fit all at once, and the cause that leaves them the least to explain is the likeliest.

Faults of a job are Poisson about what is expected of its pieces, times a gamma luck of the job,
which is integrated out; every effect, and the logarithm of the rise, is normal. The evidence of a
cause is Laplace's approximation to the integral over all of them.

Source
------
Tierney & Kadane (1986), J. Amer. Stat. Assoc. 81, 82-86 (Laplace's approximation); Kass & Raftery
(1995), J. Amer. Stat. Assoc. 90, 773-795 (one cause against another); Lee & Nelder (1996),
J. R. Stat. Soc. B 58, 619-678 (gamma luck of groups in a log-linear model).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from threadpoolctl import ThreadpoolController

from qc.monitor.attribution import Candidate
from qc.monitor.blocks import distinct
from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.factors import FACTORS
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import Spread

OF_LEVELS = ("press", "operator", "transfer_lot", "garment_lot")
"""Factors whose levels honestly differ, each in its own way, beside what the usual rates hold."""

IN_CELLS = ("fabric", "transfer", "location", "shop")
"""Factors whose levels the usual rates hold."""

USUAL_RISE, RISE_SD = float(np.log(2.5)), 0.6
"""Logarithm of the rise that a fault is thought to bring, give or take: twice is common, five times
is rare. Proposed values, no source."""

RATE_SD = 2.0
"""Standard deviation of the logarithm of the rate of all about the one seen: hardly known."""

LEAST_KNOWN = 0.05
"""What the faults expected of a level must add to what is known of its effect beforehand, for it to
have one: it would hardly move, and what it does not explain is luck of jobs."""

STEPS_OF_ALL, STEPS_OF_ONE, ENOUGH = 8, 3, 0.2
"""Newton steps for the fit without a cause, and from there with one; less gain than ``ENOUGH`` in
log likelihood is no further step worth."""

LEAST_STEP = 0.1
"""Part of a Newton step that is the shortest."""

LEAST_RISE, MOST_RISE = 0.2, 1.8
"""Logarithms of the rises that a fit begins with."""

NO_CHANCE = 8.0
"""What is behind by so much in score is not held against the best any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """That a row has had a rise of about ``ratio`` from the slot ``start`` on, to ``end`` if it is
    over."""

    row: int
    start: int
    ratio: float
    end: int | None = None


def claim_of(candidate: Candidate) -> Claim:
    return Claim(row=candidate.stream.row, start=candidate.start, ratio=candidate.ratio)


def settled(state: StreamCounts, found: Sequence[Candidate], spread: Spread) -> list[Candidate]:
    """The candidates with scores that the evidence of all records together gives them, best first.

    Those of a zone, and those far behind, keep their scores.
    """
    close = [c for c in found if c.score > found[0].score - NO_CHANCE and c.stream.zone is None]
    if len(close) < 2:
        return list(found)
    gains = joint_gains(state, close[0].stream.kind, [claim_of(c) for c in close], spread)
    score = gains + np.array([c.prior for c in close])
    score += max(c.score for c in close) - score.max()
    anew = {id(c): replace(c, score=float(s)) for c, s in zip(close, score, strict=True)}
    return sorted((anew.get(id(c), c) for c in found), key=lambda c: -c.score)


def joint_gains(
    state: StreamCounts, kind: int, claims: Sequence[Claim], spread: Spread
) -> Floats:
    """Log evidence of each claim over none, (claims,), beside the changes that are known, from the
    records at hand that say their lot."""
    model = _Model(_units(state, kind, claims, spread))
    # threads make small matrices slower, many times so on a busy machine, and round otherwise
    with _libraries().limit(limits=1):
        nothing = model.fit(np.zeros(model.n_effects), None, STEPS_OF_ALL)
        return np.array([
            model.fit(nothing.effects, inside, STEPS_OF_ONE, _first_rise(claim)).evidence
            - nothing.evidence
            for claim, inside in zip(claims, model.of.inside, strict=True)
        ])


@lru_cache
def _libraries() -> ThreadpoolController:
    """The libraries of linear algebra that are loaded: to be looked for once."""
    return ThreadpoolController()


def _first_rise(claim: Claim) -> float:
    return float(np.clip(np.log(claim.ratio), LEAST_RISE, MOST_RISE))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Units:
    """Blocks that are the same to every claim and every effect, (units,).

    ``seen`` faults and ``mean`` as the rate of all gives them; ``job`` by number, whose luck is a
    gamma of ``job_shape``; ``column`` (units, effects of a unit) into ``sd`` (effects,), those
    beyond it no effect; ``inside`` (claims, units).
    """

    seen: Floats
    mean: Floats
    job: Ints
    job_shape: float
    column: Ints
    sd: Floats
    inside: Bools


def _units(
    state: StreamCounts, kind: int, claims: Sequence[Claim], spread: Spread
) -> _Units:
    b = state.blocks
    at = np.flatnonzero(state.told())
    pressed, rows = b.pressed[at], b.row[at]
    inside = np.stack([
        (rows[:, state.row_factor[c.row]] == c.row) & (pressed >= c.start)
        & (pressed <= (state.n_slots if c.end is None else c.end)) for c in claims
    ])
    levels = [(name, rows[:, FACTORS.index(name)]) for name in OF_LEVELS]
    for claim in claims:  # what is claimed honestly differs, too
        name, f = state.factor(claim.row), state.row_factor[claim.row]
        if name not in (*OF_LEVELS, *IN_CELLS):
            levels.append((name, np.where(rows[:, f] == claim.row, claim.row, -1)))
    first, unit = distinct([
        b.job[at], b.cell[at], *(row for _, row in levels), *inside.astype(np.int64)])
    seen = sum_by(unit, b.y[at, kind], len(first))
    mean = sum_by(unit, b.n[at] * state.known_ratio(at, kind), len(first))
    mean *= max(float(seen.sum()), 0.5) / max(float(mean.sum()), 1e-9)
    column, sd = _effects(state, kind, b.cell[at][first], mean, [
        (row[first], spread.sd[name]) for name, row in levels])
    _, job = np.unique(b.job[at][first], return_inverse=True)
    return _Units(
        seen=seen, mean=mean, job=job, job_shape=1.0 / spread.sd["job"] ** 2, column=column,
        sd=sd, inside=inside[:, first],
    )


def _effects(
    state: StreamCounts, kind: int, cell: Ints, mean: Floats, levels: list[tuple[Ints, float]]
) -> tuple[Ints, Floats]:
    """Which effects units have, (units, effects of a unit), and the standard deviation of each:
    those of their cells, and of ``levels``, each with its own. A level of which next to nothing can
    be known has none."""
    usual = state.usual
    if usual is None:
        raise ValueError("usual is None; rates must be fitted before causes are compared")
    codes = state.cell_codes[cell]
    parts = [(code, 1.0 / np.sqrt(shape[kind]))
             for code, shape in zip(codes.T, usual.effects.shape, strict=True)]
    pairing = distinct([codes[:, 0], codes[:, 1]])[1]
    parts.append((pairing, 1.0 / np.sqrt(usual.pairing_shape)))
    columns, sds, n = [np.zeros(len(cell), dtype=np.int64)], [np.array([RATE_SD])], 1
    for code, sd in [*parts, *levels]:
        expected = sum_by(code + 1, mean)
        named = (code >= 0) & (expected[code + 1] * sd**2 >= LEAST_KNOWN)
        known, number = np.unique(code[named], return_inverse=True)
        column = np.full(len(cell), -1, dtype=np.int64)
        column[named] = number + n
        columns.append(column)
        sds.append(np.full(len(known), sd))
        n += len(known)
    return np.stack(columns, axis=1), np.concatenate(sds)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """A fit: the log of its ``evidence`` but for a constant, and its ``effects``."""

    evidence: float
    effects: Floats


class _Model:
    """Effects fitted to the units by Newton's method. Beside those of the units, there is the rise
    of a claim, and one that is none."""

    def __init__(self, units: _Units) -> None:
        self.of = units
        self.n_effects = len(units.sd)
        self.rise = self.n_effects
        self.size = self.n_effects + 2
        self.n_jobs = int(units.job.max(initial=-1)) + 1
        self.column = np.where(units.column < 0, self.size - 1, units.column)
        self.sd = np.append(units.sd, RISE_SD)
        self.centre = np.append(np.zeros(self.n_effects), USUAL_RISE)
        self.job_seen = sum_by(units.job, units.seen, self.n_jobs)
        one, other = np.triu_indices(self.column.shape[1])
        self.pair = (self.column[:, one] * self.size + self.column[:, other]).ravel()
        self.n_pairs = len(one)
        self.job_column = (units.job[:, None] * self.size + self.column).ravel()

    def fit(
        self, effects: Floats, inside: Bools | None, steps: int, first_rise: float = 0.0
    ) -> _Fit:
        """The fit without a claim, or with one that touches the units ``inside``."""
        at = np.zeros(0, dtype=np.int64) if inside is None else np.flatnonzero(inside)
        n = self.n_effects + (inside is not None)
        full = np.zeros(self.size)
        full[: self.n_effects] = effects
        full[self.rise] = first_rise
        value, mean, of_job = self._value(full, at, n)
        for step in range(steps + 1):
            slope, information = self._derivatives(full, at, n, mean, of_job)
            root = cho_factor(information, lower=True, check_finite=False)
            move = cho_solve(root, slope, check_finite=False)
            gain = float(slope @ move)
            if step == steps or gain < ENOUGH:
                break
            full, (value, mean, of_job) = self._moved(full, at, n, move, value)
        evidence = value + gain / 2 - float(np.log(np.diag(root[0]) * self.sd[:n]).sum())
        return _Fit(evidence=evidence, effects=full[: self.n_effects])

    def _moved(
        self, full: Floats, at: Ints, n: int, move: Floats, value: float
    ) -> tuple[Floats, tuple[float, Floats, Floats]]:
        """Effects after a step, shortened until it is one upwards; with what is had there."""
        length = 1.0
        while True:
            moved = full.copy()
            moved[:n] += length * move
            there = self._value(moved, at, n)
            if length < LEAST_STEP or there[0] > value:
                return moved, there
            length /= 2

    def _value(self, full: Floats, at: Ints, n: int) -> tuple[float, Floats, Floats]:
        """Log posterior but for a constant; faults expected of units and of jobs."""
        u = self.of
        log_mean = full[self.column].sum(axis=1)
        log_mean[at] += full[self.rise]
        mean = u.mean * np.exp(log_mean)
        of_job = sum_by(u.job, mean, self.n_jobs)
        value = float(u.seen @ log_mean)
        value -= float((u.job_shape + self.job_seen) @ np.log1p(of_job / u.job_shape))
        value -= 0.5 * float((((full[:n] - self.centre[:n]) / self.sd[:n]) ** 2).sum())
        return value, mean, of_job

    def _derivatives(
        self, full: Floats, at: Ints, n: int, mean: Floats, of_job: Floats
    ) -> tuple[Floats, Floats]:
        """Slope of the log posterior and the information, on the first ``n`` effects."""
        u, size, k = self.of, self.size, self.column.shape[1]
        luck = (u.job_shape + self.job_seen) / (u.job_shape + of_job)
        lucky = luck[u.job] * mean
        left = u.seen - lucky
        slope = sum_by(self.column.ravel(), np.repeat(left, k), size)
        information = sum_by(self.pair, np.repeat(lucky, self.n_pairs), size * size)
        by_job = sum_by(self.job_column, np.repeat(mean, k), self.n_jobs * size)
        if len(at):
            slope[self.rise] = left[at].sum()
            cross = (self.column[at] * size + self.rise).ravel()
            information += sum_by(cross, np.repeat(lucky[at], k), size * size)
            information[self.rise * size + self.rise] += lucky[at].sum()
            by_job += sum_by(u.job[at] * size + self.rise, mean[at], self.n_jobs * size)
        half = information.reshape(size, size)[:n, :n]
        weighted = by_job.reshape(-1, size)[:, :n]
        whole = half + half.T - np.diag(np.diag(half))
        whole -= weighted.T @ (weighted * (luck / (u.job_shape + of_job))[:, None])
        whole[np.arange(n), np.arange(n)] += 1.0 / self.sd[:n] ** 2
        return slope[:n] - (full[:n] - self.centre[:n]) / self.sd[:n] ** 2, whole
