"""Multivariate EWMA the slow way: explicit sums, a coarse Markov chain, and simulated runs."""

from __future__ import annotations

import math

import numpy as np
from scipy import stats


def statistics(
    points: list[list[float]], sizes: list[int], weight: float, centre: list[float],
    covariance: list[list[float]],
) -> list[float]:
    """The statistic with exact covariance, each smoothed point from the sum of its weights."""
    inverse = np.linalg.inv(np.array(covariance))
    found = []
    for i in range(len(points)):
        off, variance = np.zeros(len(centre)), 0.0
        for j in range(i + 1):
            share = weight * (1 - weight) ** (i - j)
            off += share * (np.array(points[j]) - np.array(centre))
            variance += share * share / sizes[j]
        found.append(float(off @ inverse @ off) / variance)
    return found


def in_control_chain(n_variables: int, weight: float, decision: float, n_states: int) -> float:
    """Average run length by a chain of rings of equal width (Runger and Prabhu 1996)."""
    radius = math.sqrt(decision * weight / (2 - weight))
    ring = 2 * radius / (2 * n_states + 1)
    edges = (np.arange(n_states + 1) + 0.5) * ring / weight
    step = np.empty((n_states + 1, n_states + 1))
    for i in range(n_states + 1):
        centre = ((1 - weight) * i * ring / weight) ** 2
        law = stats.ncx2(n_variables, centre) if i else stats.chi2(n_variables)
        step[i] = np.diff(law.cdf(edges**2), prepend=0.0)
    return float(np.linalg.solve(np.eye(n_states + 1) - step, np.ones(n_states + 1))[0])


def shifted_chain(
    n_variables: int, weight: float, decision: float, shift: float, n_states: int
) -> float:
    """Average run length with a shift by a chain of cells: a line along it, rings away from it."""
    radius = math.sqrt(decision * weight / (2 - weight))
    cell = 2 * radius / (2 * n_states + 1)
    place = np.arange(-n_states, n_states + 1) * cell
    line_edges = (np.append(place, place[-1] + cell) - cell / 2)
    moved = (line_edges - (1 - weight) * place[:, None]) / weight - shift
    line = np.diff(stats.norm.cdf(moved), axis=1)
    edges = (np.arange(n_states + 1) + 0.5) * cell / weight
    rings = np.array([
        np.diff((stats.ncx2(n_variables - 1, ((1 - weight) * i * cell / weight) ** 2) if i
                 else stats.chi2(n_variables - 1)).cdf(edges**2), prepend=0.0)
        for i in range(n_states + 1)])
    inside = (place[:, None] ** 2 + (np.arange(n_states + 1) * cell) ** 2) <= radius**2
    along, away = np.nonzero(inside)
    step = line[np.ix_(along, along)] * rings[np.ix_(away, away)]
    run = np.linalg.solve(np.eye(len(along)) - step, np.ones(len(along)))
    return float(run[(along == n_states) & (away == 0)][0])


def simulated_runs(
    rng: np.random.Generator, n_runs: int, n_variables: int, weight: float, decision: float,
    shift: float, *, exact: bool,
) -> np.ndarray:
    """Run lengths of that many simulated charts."""
    z, length = np.zeros((n_runs, n_variables)), np.zeros(n_runs)
    alive, i = np.arange(n_runs), 0
    while len(alive):
        i += 1
        x = rng.normal(size=(len(alive), n_variables))
        x[:, 0] += shift
        z = weight * x + (1 - weight) * z
        variance = weight / (2 - weight) * (1 - (1 - weight) ** (2 * i) if exact else 1)
        beyond = (z**2).sum(axis=1) > decision * variance
        length[alive[beyond]] = i
        z, alive = z[~beyond], alive[~beyond]
    return length


def simulated_runs_in_use(
    rng: np.random.Generator, n_runs: int, n_variables: int, weight: float, decision: float,
    shift: float,
) -> np.ndarray:
    """Run lengths from a shift that comes after 60 points without a signal, steady covariance."""
    bound = decision * weight / (2 - weight)
    z = np.zeros((n_runs, n_variables))
    for _ in range(60):
        z = weight * rng.normal(size=z.shape) + (1 - weight) * z
        z = z[(z**2).sum(axis=1) <= bound]
    length, alive, i = np.zeros(len(z)), np.arange(len(z)), 0
    while len(alive):
        i += 1
        x = rng.normal(size=z.shape)
        x[:, 0] += shift
        z = weight * x + (1 - weight) * z
        beyond = (z**2).sum(axis=1) > bound
        length[alive[beyond]] = i
        z, alive = z[~beyond], alive[~beyond]
    return length
